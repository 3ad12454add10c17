//! Second stage: blocks become typed records, exactly as stated. Nothing is interpreted here.
//!
//! Clause and table numbers are those of DMTF DSP0134 (SMBIOS Reference Specification) 3.9.0.

mod body;
mod choose;
mod cut;
mod field;
mod listing;
mod memory;
mod note;
mod system;

pub use crate::enums;
pub use choose::{ChoiceError, read_nth, read_one};
pub use field::Field;
pub use listing::{Listing, read};
pub use memory::{ArrayRange, DeviceRange, DeviceSize, MakerCode, MemoryArray, MemoryDevice};
pub use note::{Note, NoteKind};
pub use system::{Board, Processor, System};

/// What every record has: its handle, its length and the place of its handle line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Head {
    /// The structure's handle; `None` in the quiet form. Handles need not be unique.
    pub handle: Option<u16>,
    /// The structure's length in bytes; decides which fields exist. `None` in the quiet form.
    pub length: Option<u16>,
    /// The handle line, or the title in the quiet form.
    pub place: crate::evidence::Place,
    /// Number of the record in the listing, counting all blocks.
    pub order: u32,
}
