//! What the tests share.

pub mod archive;
pub mod command;
pub mod corpus;
pub mod edit;
pub mod html;
pub mod pallet;

use std::path::PathBuf;

/// A path in the repository.
pub fn path(relative: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(relative)
}
