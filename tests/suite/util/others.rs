//! Real listings of desktops, notebooks and other machines, of the same data set, unpacked once per run.

use std::sync::OnceLock;

use asfitted::evidence::Text;

use super::corpus;

/// All of them by id.
pub fn listings() -> &'static [Text] {
    static LISTINGS: OnceLock<Vec<Text>> = OnceLock::new();
    LISTINGS.get_or_init(|| corpus::unpacked("fixtures/listings/other-listings.tar.xz"))
}
