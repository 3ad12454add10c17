//! What every record has.

use crate::evidence::Place;

/// What every record has: its handle, its length and the place of its handle line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Head {
    /// The structure's handle; `None` in the quiet format. Handles need not be unique.
    pub handle: Option<u16>,
    /// The structure's length in bytes; decides which fields exist. `None` in the quiet format.
    pub length: Option<u16>,
    /// The handle line, or the title in the quiet format.
    pub place: Place,
    /// Number of the record in the listing, counting all blocks.
    pub order: u32,
}
