//! One listing of a text that may hold several.

use thiserror::Error;

use super::{Listing, read};
use crate::evidence::Text;

/// Why no listing of a text is the one that is meant.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ChoiceError {
    /// Nothing in the text is a record.
    #[error(
        "{name}: line 1: found no SMBIOS record in {lines} lines, expected the text of a memory listing. \
         Print one as root: `dmidecode > FILE`"
    )]
    NoRecords {
        /// The input's name.
        name: String,
        /// Its lines.
        lines: usize,
    },
    /// A capture that was taken without the right to read the table.
    #[error(
        "{name}: found a capture without the SMBIOS table ({reason}), expected one with it. Take it again as root: `asfitted capture`"
    )]
    CaptureWithoutTable {
        /// The input's name.
        name: String,
        /// Why the table is not in it, as the capture says.
        reason: String,
    },
    /// Several listings and no choice.
    #[error(
        "{name}: {place}found {count} listings of different machines or times, expected one. \
         Choose with `--nth 1` to `--nth {count}`, or split the file"
    )]
    Several {
        /// The input's name.
        name: String,
        /// Where the second one starts, with a colon; empty where that is not known.
        place: String,
        /// How many there are.
        count: usize,
    },
    /// Fewer listings than the chosen number.
    #[error(
        "{name}: found {found}, expected at least {wanted} for `--nth {wanted}`, counted from 1. {advice}"
    )]
    TooFew {
        /// The input's name.
        name: String,
        /// How many there are, in words.
        found: String,
        /// The chosen one.
        wanted: usize,
        /// What to do.
        advice: &'static str,
    },
}

/// The only listing of `text`.
///
/// # Errors
/// [`ChoiceError`] where there is none, or more than one.
pub fn read_one(text: &Text) -> Result<Listing<'_>, ChoiceError> {
    read_nth(text, None)
}

/// The listing of `text` with that number, counted from 1; without a number the only one.
///
/// # Errors
/// [`ChoiceError`] where there is no such listing, or more than one and no number.
pub fn read_nth(text: &Text, nth: Option<usize>) -> Result<Listing<'_>, ChoiceError> {
    let name = || text.name().to_owned();
    let mut listings = read(text);
    let count = listings.len();
    let index = match nth {
        Some(wanted) if wanted == 0 || wanted > count => {
            let found = if count == 1 { "1 listing".to_owned() } else { format!("{count} listings") };
            let advice = if count == 1 { "Leave `--nth` out" } else { "Count them from 1" };
            return Err(ChoiceError::TooFew { name: name(), found, wanted, advice });
        }
        Some(wanted) => wanted - 1,
        None if count > 1 => {
            let second = listings.get(1).and_then(Listing::start);
            let place = second.map_or_else(String::new, |place| format!("line {}: ", place.line));
            return Err(ChoiceError::Several { name: name(), place, count });
        }
        None => 0,
    };
    let listing = listings.swap_remove(index);
    // What is said of the firmware alone is no machine.
    if listing.types() != 0 {
        return Ok(listing);
    }
    Err(match &text.capture {
        Some(capture) => {
            let reason = capture.not_read.first().cloned().unwrap_or_else(|| "no reason given".to_owned());
            ChoiceError::CaptureWithoutTable { name: name(), reason }
        }
        None => ChoiceError::NoRecords { name: name(), lines: text.as_str().lines().count() },
    })
}
