//! First stage: the bytes of a file or stream become text, and the text becomes blocks.
//!
//! Nothing here fails on what a listing says. A raw table is decoded, a capture taken apart; only input that is
//! neither (an unreadable archive, a file of absurd size) is refused, with the reason and the way out.

mod blocks;
mod capture;
mod table;
mod text;

pub use blocks::{Block, Marker, MarkerKind, Scan, scan};
pub use capture::{
    Capture, END as CAPTURE_END, HEAD as CAPTURE_HEAD, SECTIONS, Section, SectionKind,
    VERSION as CAPTURE_VERSION,
};
pub use table::to_text as table_text;
pub(crate) use text::line_at;
pub use text::{EvidenceError, Text};

/// Which witness says something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Source {
    /// The SMBIOS listing.
    Listing,
    /// `/proc/meminfo`.
    Meminfo,
    /// The kernel's command line.
    CommandLine,
    /// The kernel's memory error counters.
    Edac,
    /// The event log of the management controller.
    Events,
    /// What the management controller says over Redfish.
    Redfish,
}

/// Sources and their words.
pub const SOURCES: &[(Source, &str)] = &[
    (Source::Listing, "listing"),
    (Source::Meminfo, "meminfo"),
    (Source::CommandLine, "command-line"),
    (Source::Edac, "edac"),
    (Source::Events, "event-log"),
    (Source::Redfish, "redfish"),
];

impl Source {
    /// The source's word in JSON and reports.
    pub fn word(self) -> &'static str {
        SOURCES.iter().find(|(source, _)| *source == self).map_or("", |(_, word)| word)
    }
}

/// Where something stands in the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// 1-based line number.
    pub line: u32,
    /// Byte offset of the line's first character. Input is capped far below 4 GiB.
    pub offset: u32,
}

/// One line of an input that shows something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Evidence {
    /// Which witness says it.
    pub source: Source,
    /// 1-based line in that witness's input.
    pub line: u32,
    /// The line's text, trimmed.
    pub text: String,
}
