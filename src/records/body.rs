//! The field lines of one block.

use crate::evidence::{Block, Place};

/// The place of the first byte that is `a` or `b`. Eight bytes at a time: keys and values are so short that setting
/// up a search for longer texts costs more than it saves.
fn find(bytes: &[u8], a: u8, b: u8) -> Option<usize> {
    const ONES: u64 = u64::from_ne_bytes([1; 8]);
    const TOPS: u64 = u64::from_ne_bytes([0x80; 8]);
    // The top bit of the lowest zero byte is set; bits above it may be wrong, those below it are not.
    let zeros = |word: u64| word.wrapping_sub(ONES) & !word & TOPS;
    let (all_a, all_b) = (ONES * u64::from(a), ONES * u64::from(b));
    let mut at = 0;
    while let Some(chunk) = bytes[at..].first_chunk::<8>() {
        let word = u64::from_le_bytes(*chunk);
        let found = zeros(word ^ all_a) | zeros(word ^ all_b);
        if found != 0 {
            return Some(at + found.trailing_zeros() as usize / 8);
        }
        at += 8;
    }
    bytes[at..].iter().position(|byte| *byte == a || *byte == b).map(|place| at + place)
}

/// The text without white space at its ends. Nearly every key and value has one space at its start or none: that case
/// comes first.
#[inline]
fn trim(text: &str) -> &str {
    let rest = text.strip_prefix([' ', '\t']).unwrap_or(text);
    match rest.as_bytes() {
        [first, .., last] if *first > b' ' && *last > b' ' => rest,
        _ => rest.trim_ascii(),
    }
}

/// One line of a block's body.
pub(super) enum Line<'a> {
    /// `Key: value`, both trimmed; the value can be empty.
    Field { key: &'a str, value: &'a str, place: Place },
    /// A line without a colon.
    Bare { text: &'a str, place: Place },
}

/// The lines of `block`'s body that hold something.
pub(super) fn lines<'a>(block: &Block<'a>) -> impl Iterator<Item = Line<'a>> {
    let body = block.body;
    let first = block.body_place;
    let mut at = 0usize;
    let mut line = first.line;
    std::iter::from_fn(move || {
        while at < body.len() {
            let rest = &body[at..];
            let bytes = rest.as_bytes();
            // The colon and the line break are looked for in one go: most lines are `\tKey: value`.
            let stop = find(bytes, b':', b'\n').unwrap_or(bytes.len());
            let colon = Some(stop).filter(|at| bytes.get(*at) == Some(&b':'));
            let end = match colon {
                Some(colon) => find(&bytes[colon..], b'\n', b'\n').map_or(bytes.len(), |at| colon + at),
                None => stop,
            };
            #[expect(clippy::cast_possible_truncation, reason = "input is capped at 256 MiB")]
            let place = Place { line, offset: first.offset + at as u32 };
            at += end + 1;
            line += 1;
            let text = &rest[..end];
            match colon {
                Some(colon) => {
                    let key = trim(&text[..colon]);
                    let value = trim(&text[colon + 1..]);
                    return Some(Line::Field { key, value, place });
                }
                None => {
                    let text = text.trim_ascii();
                    if !text.is_empty() {
                        return Some(Line::Bare { text, place });
                    }
                }
            }
        }
        None
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{find, trim};

    proptest! {
        #[test]
        fn white_space_at_the_ends(text in "[ \t\r\n\x0b\x0ca-c\u{a0}\u{e9}]{0,9}") {
            prop_assert_eq!(trim(&text), text.trim_ascii());
        }

        #[test]
        fn the_first_of_two_bytes(bytes in proptest::collection::vec(prop::sample::select(vec![b':', b'\n', b'9', b';', 0, 0x80, 0xBA, 0xFF]), 0..40)) {
            let want = bytes.iter().position(|b| matches!(b, b':' | b'\n'));
            prop_assert_eq!(find(&bytes, b':', b'\n'), want);
            prop_assert_eq!(find(&bytes, b'\n', b'\n'), bytes.iter().position(|b| *b == b'\n'));
        }
    }
}
