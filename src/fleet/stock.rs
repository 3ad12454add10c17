//! What is found about the modules of a stock.

use thiserror::Error;

use super::table::UnclosedQuote;
use crate::audit::Severity;

/// Why a stock cannot be taken.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum StockError {
    /// There is no column of serial numbers.
    #[error(
        "{file}: line 1: found the columns {found}, expected one called `serial`. Name the column so; `part`, `label` and `host` are read besides"
    )]
    NoSerial {
        /// The file.
        file: String,
        /// The columns it has.
        found: String,
    },
    /// A quote that is not closed.
    #[error(transparent)]
    OpenQuote(#[from] UnclosedQuote),
}

/// What became of a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum StockKind {
    /// One serial number in two places, or twice in the stock.
    DuplicateSerial,
    /// Allotted to one host, fitted in another.
    Elsewhere,
    /// In the stock and seen nowhere.
    Unaccounted,
    /// In the stock and not seen, but it may be one whose listing states no serial number.
    Unproven,
    /// Seen and not in the stock.
    NotInStock,
}

/// Kinds and their words.
pub const STOCK_KINDS: &[(StockKind, &str, &str)] = &[
    (StockKind::DuplicateSerial, "duplicate-serial", "fault"),
    (StockKind::Elsewhere, "elsewhere", "fault"),
    (StockKind::Unaccounted, "unaccounted", "fault"),
    (StockKind::Unproven, "unproven", "unproven"),
    (StockKind::NotInStock, "not-in-stock", "warning"),
];

impl StockKind {
    /// The kind's word in findings.
    pub fn word(self) -> &'static str {
        STOCK_KINDS.iter().find(|(kind, ..)| *kind == self).map_or("", |(_, word, _)| word)
    }

    /// How much it weighs: `fault`, `unproven` or `warning`.
    pub fn severity(self) -> &'static str {
        STOCK_KINDS.iter().find(|(kind, ..)| *kind == self).map_or("", |(.., severity)| severity)
    }
}

/// One finding about a module.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct StockFinding {
    /// What it is.
    pub kind: StockKind,
    /// The serial number, as it is compared.
    pub serial: String,
    /// Part number, by the listing or the stock.
    pub part: Option<String>,
    /// The host it is about.
    pub host: Option<String>,
    /// The slot, where it was seen.
    pub slot: Option<String>,
    /// The other place: where it was seen first, or where it is allotted to.
    pub other: Option<String>,
    /// Line of the stock's file.
    pub line: Option<u32>,
    /// One sentence.
    pub summary: String,
}

impl StockKind {
    /// All kinds, in the order in which they are reported.
    pub fn all() -> impl Iterator<Item = Self> {
        STOCK_KINDS.iter().map(|(kind, ..)| *kind)
    }

    /// How much it weighs.
    pub fn weight(self) -> Severity {
        match self.severity() {
            "fault" => Severity::Fault,
            "unproven" => Severity::Unproven,
            _ => Severity::Warning,
        }
    }
}
