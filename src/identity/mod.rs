//! What a module is by what its maker wrote on it, whatever a listing states of it: its part number, and the contents of
//! its EEPROM.
//!
//! Beside the records: knows nothing of listings. The data of part numbers are tables in `data/`, so that a maker is added
//! without code; those of contents are the standards' codes in `spd/tables.rs`.

mod kind;
mod part_bytes;
mod part_number;
pub mod spd;

pub use kind::ModuleKind;
pub(crate) use part_bytes::text_of_bytes;
pub use part_number::{Certainty, CodeField, Coded, Document, Known, PartNumber, documents, part_number};
