//! First stage: the bytes of a file or stream become text, and the text becomes blocks.
//!
//! Nothing here fails on what a listing states. A raw table is decoded, a capture taken apart; only input that is
//! neither (an unreadable archive, a file of absurd size) is refused, with the reason and the way out.

mod blocks;
mod capture;
mod source;
mod table;
mod text;

pub use blocks::{Block, Marker, MarkerKind, Scan, scan};
pub use capture::{Capture, END as CAPTURE_END, HEAD as CAPTURE_HEAD, Section, VERSION as CAPTURE_VERSION};
pub use source::{Evidence, Place, SectionInfo, SectionKind, Source};
pub use table::to_text as table_text;
pub(crate) use text::line_at;
pub use text::{EvidenceError, Text};
