//! Second stage: blocks become typed records, exactly as stated. Nothing is interpreted here.
//!
//! Clause and table numbers are those of DMTF DSP0134 (SMBIOS Reference Specification) 3.9.0.

mod body;
mod choose;
mod cut;
mod device;
mod field;
mod head;
mod listing;
mod memory;
mod note;
mod read;
mod system;
mod values;

pub use crate::enums;
pub(crate) use choose::without_memory;
pub use choose::{ChoiceError, read_nth, read_one};
pub use device::MemoryDevice;
pub use field::Field;
pub use head::Head;
pub use listing::Listing;
pub use memory::{ArrayRange, DeviceRange, MemoryArray, MemoryError};
pub use note::{Note, NoteKind};
pub use read::read;
pub use system::{Board, Firmware, Processor, System};
pub use values::{DeviceSize, MakerCode};
