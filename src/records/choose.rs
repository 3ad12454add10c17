//! One listing of a text that may hold several.

use thiserror::Error;

use super::{Listing, NoteKind, read};
use crate::evidence::{MarkerKind, Text, scan};

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
    /// Records, and none of a type that is read: what damage hides the others, if any.
    #[error("{name}: line {line}: found {found}, expected records of memory (types 16 and 17). {advice}")]
    NoneOfMemory {
        /// The input's name.
        name: String,
        /// 1-based line of the damage, or of the first record.
        line: u32,
        /// What is there, and what is damaged.
        found: String,
        /// What to do.
        advice: &'static str,
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
        None => without_memory(text, &listing),
    })
}

/// Why a text without a record that is read is no listing: what it has instead, and what is damaged in it.
pub(crate) fn without_memory(text: &Text, listing: &Listing<'_>) -> ChoiceError {
    const AGAIN: &str =
        "Take it again as root with a newer dmidecode, and update the firmware if it breaks at the same line";
    const ALL: &str = "Print all types as root: `dmidecode > FILE`";
    let name = text.name().to_owned();
    let scan = scan(text.as_str());
    let heads = scan.markers.iter().filter(|marker| marker.kind != MarkerKind::Stray);
    let first = scan.blocks.iter().map(|block| block.place).chain(heads.map(|marker| marker.place)).min();
    let Some(first) = first else {
        return ChoiceError::NoRecords { name, lines: text.as_str().lines().count() };
    };
    let records = match scan.blocks.len() {
        0 => "the head of a listing and no record".to_owned(),
        1 => "1 SMBIOS record, which is not of memory".to_owned(),
        count => format!("{count} SMBIOS records, none of memory"),
    };
    let damage = DAMAGE.iter().find_map(|(kind, words)| {
        listing.notes.iter().find(|note| note.kind == *kind).map(|note| (note, *words))
    });
    let (place, found, advice) = match damage {
        Some((note, words)) => {
            let place = note.place.unwrap_or(first);
            let line =
                note.place.map_or_else(String::new, |place| format!(" (`{}`)", text.line(place).trim()));
            (place, format!("{records}: {words}{line}"), AGAIN)
        }
        None if scan.blocks.is_empty() => {
            // The last line says why, as in `# No SMBIOS nor DMI entry point found, sorry.`
            let last =
                text.as_str().lines().map(str::trim).rfind(|line| !line.is_empty()).unwrap_or_default();
            let last: String = last.chars().take(QUOTED).collect();
            (first, format!("{records} (`{last}`)"), ALL)
        }
        None => (first, records, ALL),
    };
    ChoiceError::NoneOfMemory { name, line: place.line, found, advice }
}

/// The kinds of damage by how much they explain, with words for it; a missing end record explains nothing beyond them.
const DAMAGE: &[(NoteKind, &str)] = &[
    (NoteKind::Broken, "the table breaks off here"),
    (NoteKind::Truncated, "the last record is cut off"),
    (NoteKind::WrongStructures, "the table is shorter than its header says"),
    (NoteKind::CutShort, "the compressed file ends early"),
];

/// So many letters of a line are quoted.
const QUOTED: usize = 80;

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(body: &str) -> String {
        read_one(&Text::from_bytes("file", body.as_bytes().to_vec()).unwrap()).unwrap_err().to_string()
    }

    /// A damaged listing that holds other records is not called an empty file.
    #[test]
    fn what_is_damaged_is_said() {
        let head = "# dmidecode 3.3\nSMBIOS 2.6 present.\n79 structures occupying 3291 bytes.\n\n";
        let port =
            "Handle 0x0008, DMI type 8, 9 bytes\nPort Connector Information\n\tPort Type: Mouse Port\n\n";
        let broken = "Invalid entry length (0). DMI table is broken! Stop.\n";
        let short = "Wrong DMI structures length: 3291 bytes announced, only 3219 bytes available.\n";
        for (body, wanted) in [
            (
                format!("{head}{port}{port}{broken}"),
                "line 13: found 2 SMBIOS records, none of memory: the table breaks off here",
            ),
            (
                format!("{head}{short}{port}"),
                "line 5: found 1 SMBIOS record, which is not of memory: the table is shorter",
            ),
            (
                format!("{head}{port}"),
                "line 1: found 1 SMBIOS record, which is not of memory, expected records of memory",
            ),
            (
                format!("{head}{broken}"),
                "line 5: found the head of a listing and no record: the table breaks off here",
            ),
            (
                "# dmidecode 3.3\n# No SMBIOS nor DMI entry point found, sorry.\n".to_owned(),
                "line 1: found the head of a listing and no record (`# No SMBIOS nor DMI entry point found, sorry.`)",
            ),
            ("a letter\n".to_owned(), "found no SMBIOS record in 1 lines"),
        ] {
            let refusal = refusal(&body);
            assert!(refusal.contains(wanted), "{wanted}\n{refusal}");
        }
        assert!(refusal(&format!("{head}{port}{broken}")).contains(&format!("`{}`", broken.trim())));
    }
}
