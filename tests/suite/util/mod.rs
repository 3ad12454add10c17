//! What the tests share.

pub mod archive;
pub mod command;
pub mod corpus;
pub mod edit;
pub mod faults;
pub mod html;
pub mod others;
pub mod pallet;
pub mod random;

use std::path::PathBuf;

/// A path in the repository.
pub fn path(relative: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(relative)
}
