//! First stage: the bytes of a file or stream become text, and the text becomes blocks.
//!
//! Nothing here fails on what a listing says. A raw table is decoded; only input that is
//! neither (an unreadable archive, a file of absurd size) is refused, with the reason and the way out.

mod blocks;
mod table;
mod text;

pub use blocks::{Block, Marker, MarkerKind, Scan, scan};
pub(crate) use text::line_at;
pub use text::{EvidenceError, Text};

/// Where something stands in the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// 1-based line number.
    pub line: u32,
    /// Byte offset of the line's first character. Input is capped far below 4 GiB.
    pub offset: u32,
}
