//! What a module is by what its maker wrote on it, whatever a listing states of it.
//!
//! Beside the records: knows part numbers and nothing of listings. The data are tables in `data/`, so that a maker is
//! added without code.

mod kind;
mod part_bytes;
mod part_number;

pub use kind::ModuleKind;
pub(crate) use part_bytes::text_of_bytes;
pub use part_number::{Certainty, CodeField, Coded, Document, Known, PartNumber, documents, part_number};
