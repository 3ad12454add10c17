//! A text that ends in the middle of a record: how far its last lines can be trusted.
//!
//! dmidecode ends every record with an empty line. A text without it was cut, or only lost white space at its
//! end, as copying does. The other records show which of the two it is: half a record or half a value must
//! not become a fact.

use super::body::{Line, lines};
use crate::evidence::{Block, Place};

/// Types that are read.
const READ: &[u8] = &[0, 1, 2, 4, 16, 17, 18, 19, 20, 33];

/// Ends of values that cannot be the beginning of a longer one.
const WHOLE_ENDS: &[&str] = &[" MT/s", " MHz", " GB", " MB", " kB", " bits", " V"];

/// Values that are whole as they are.
const WHOLE: &[&str] = &["None", "Unknown", "Not Specified", "No Module Installed", "<OUT OF SPEC>"];

/// Takes out of the last block what may be half a line or half a record. The result is the place of the
/// record that is cut, if one is.
pub(super) fn trim<'a>(text: &'a str, blocks: &mut Vec<Block<'a>>) -> Option<Place> {
    let (last, earlier) = blocks.split_last_mut()?;
    let place = last.place;
    if last.title.is_empty() {
        // Nothing follows the handle line; an empty line after it would mean a record without a title.
        let rest = text.get(place.offset as usize..).unwrap_or("");
        if ["\n\n", "\n\r\n"].iter().any(|end| rest.contains(end)) {
            return None;
        }
        blocks.pop();
        return Some(place);
    }
    let body_end = last.body_place.offset as usize + last.body.len();
    // An empty line after it, or anything else, closes a record.
    if body_end < text.len() {
        return None;
    }
    if last.kind == Some(127) {
        return None;
    }
    let quiet = last.handle.is_none();
    let mut doubtful = false;
    if !text.ends_with('\n') {
        let line_start = text.rfind('\n').map_or(0, |at| at + 1);
        if line_start < last.body_place.offset as usize {
            // The title may be cut: nothing is known of this record.
            blocks.pop();
            return Some(place);
        }
        if !is_whole(text.get(line_start..).unwrap_or(""), last.kind, earlier) {
            let kept = line_start - last.body_place.offset as usize;
            last.body = last.body.get(..kept).unwrap_or("");
            doubtful = true;
        }
    }
    if last.kind == Some(17) {
        let short = misses_labels(last, earlier);
        let cut = short || doubtful || misses_fields(last, earlier);
        // Without its labels a slot's name would be made up; without a size, the fields that are lost would
        // say whether a module is there.
        if cut && (short || !keys(last).contains(&"Locator") || misses_size(last)) {
            blocks.pop();
            return Some(place);
        }
        return cut.then_some(place);
    }
    // Other records lose a field at most; in the quiet format nothing else marks the end of the listing.
    let known = last.kind.is_some_and(|kind| READ.contains(&kind));
    (quiet || (doubtful && known)).then_some(place)
}

/// Whether the last line is sure to be complete: by its value, or since another record of its type ends so.
fn is_whole(line: &str, kind: Option<u8>, earlier: &[Block<'_>]) -> bool {
    let line = line.trim_ascii();
    let Some((_, value)) = line.split_once(':') else { return false };
    let value = value.trim_ascii();
    WHOLE.contains(&value)
        || WHOLE_ENDS.iter().any(|end| value.ends_with(end))
        || earlier
            .iter()
            .filter(|block| block.kind == kind)
            .any(|block| block.body.lines().next_back().is_some_and(|last| last.trim_ascii() == line))
}

fn keys<'a>(block: &Block<'a>) -> Vec<&'a str> {
    lines(block)
        .filter_map(|line| match line {
            Line::Field { key, .. } => Some(key),
            Line::Bare { .. } => None,
        })
        .collect()
}

fn is_empty_slot(block: &Block<'_>) -> bool {
    lines(block)
        .any(|line| matches!(line, Line::Field { key: "Size", value, .. } if value == "No Module Installed"))
}

/// The fields that every release prints first, in this order; the quiet format leaves out the first two.
const FIRST_KEYS: &[&str] = &[
    "Array Handle",
    "Error Information Handle",
    "Total Width",
    "Data Width",
    "Size",
    "Form Factor",
    "Set",
    "Locator",
    "Bank Locator",
];

/// Whether the record of a slot ends before its labels: by the order of printing, or by the other records.
fn misses_labels(last: &Block<'_>, earlier: &[Block<'_>]) -> bool {
    let own = keys(last);
    let begins = |all: &[&str]| own.len() < all.len() && all.starts_with(&own);
    let missing = |label| {
        !own.contains(&label)
            && earlier.iter().any(|block| block.kind == Some(17) && keys(block).contains(&label))
    };
    let first = if last.handle.is_some() { FIRST_KEYS } else { &FIRST_KEYS[2..] };
    begins(first) || missing("Locator") || missing("Bank Locator")
}

fn misses_size(last: &Block<'_>) -> bool {
    !lines(last).any(|line| {
        matches!(line, Line::Field { key: "Size", value, .. }
            if value == "No Module Installed" || value.starts_with(|c: char| c.is_ascii_digit()))
    })
}

/// Whether a record of the same length, for a slot as empty or filled, has more fields after those of the last one.
fn misses_fields(last: &Block<'_>, earlier: &[Block<'_>]) -> bool {
    let own = keys(last);
    let empty = is_empty_slot(last);
    earlier
        .iter()
        .filter(|block| {
            block.kind == Some(17) && block.length == last.length && is_empty_slot(block) == empty
        })
        .map(keys)
        .any(|other| other.len() > own.len() && other.starts_with(&own))
}

#[cfg(test)]
mod tests {
    use crate::evidence::Text;
    use crate::records::{Listing, NoteKind, read};

    fn first(n: u8) -> String {
        format!(
            "Handle 0x000{n}, DMI type 17, 40 bytes\nMemory Device\n\tSize: 16384 MB\n\tLocator: A{n}\n\tBank Locator: B\n\tType: DDR4\n\tRank: 2\n\n"
        )
    }

    fn cut_at(end: &str, check: impl Fn(&Listing<'_>, bool)) {
        let body = first(1) + &first(2);
        let at = body.rfind(end).unwrap() + end.len();
        let text = Text::from_bytes("t", body.as_bytes()[..at].to_vec()).unwrap();
        let listings = read(&text);
        let noted = listings[0].notes.iter().any(|note| note.kind == NoteKind::Truncated);
        check(&listings[0], noted);
    }

    #[test]
    fn half_a_record_is_no_slot() {
        for end in ["Handle 0x0002", "DMI type 1", "Memory Dev", "Size: 1", "MB\n", "Locator: A", "A2\n"] {
            cut_at(end, |listing, noted| {
                assert!(noted, "{end}");
                assert_eq!(listing.devices.len(), 1, "{end}");
            });
        }
    }

    #[test]
    fn half_a_value_is_no_value() {
        cut_at("Type: DDR", |listing, noted| {
            assert!(noted && listing.devices[1].memory_type.place().is_none());
        });
        cut_at("Type: DDR4\n", |listing, noted| {
            assert!(noted && listing.devices[1].memory_type.get().is_some());
        });
    }

    #[test]
    fn white_space_lost_at_the_end_is_no_damage() {
        for end in ["Rank: 2", "Rank: 2\n", "Rank: 2\n\n"] {
            cut_at(end, |listing, noted| {
                assert!(!noted, "{end}");
                assert_eq!((listing.devices.len(), listing.devices[1].rank.get()), (2, Some(2)), "{end}");
            });
        }
        let whole = "Handle 0x0001, DMI type 0, 24 bytes\nBIOS Information\n\tVendor: X\n\nHandle 0x0002, DMI type 127, 4 bytes\nEnd Of Table";
        let text = Text::from_bytes("t", whole.as_bytes().to_vec()).unwrap();
        assert!(read(&text)[0].notes.is_empty());
    }
}
