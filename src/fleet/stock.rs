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
        "{file}: line 1: found the columns {found}, expected one called `serial`. Name the column so; `part`, `label` and `host` are read too"
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

/// What a kind of finding about a module is called and weighs.
#[derive(Debug, Clone, Copy)]
pub struct StockInfo {
    /// Its word in findings.
    pub word: &'static str,
    /// How much it weighs.
    pub severity: Severity,
}

table! {
    /// What became of a module, in the order in which it is reported.
    pub enum StockKind: StockInfo {
        /// One serial number in two places, or twice in the stock.
        DuplicateSerial { word: "duplicate-serial", severity: Severity::Fault },
        /// Allotted to one host, fitted in another.
        Elsewhere { word: "elsewhere", severity: Severity::Fault },
        /// In the stock and seen nowhere.
        Unaccounted { word: "unaccounted", severity: Severity::Fault },
        /// Seen with another part number than the stock says.
        OtherPart { word: "other-part", severity: Severity::Fault },
        /// In the stock and not seen, but it may be one whose listing states no serial number.
        Unproven { word: "unproven", severity: Severity::Unproven },
        /// Seen and not in the stock.
        NotInStock { word: "not-in-stock", severity: Severity::Warning },
    }
}

impl StockKind {
    /// The kind's word in findings.
    pub const fn word(self) -> &'static str {
        self.info().word
    }

    /// How much it weighs.
    pub const fn severity(self) -> Severity {
        self.info().severity
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
