//! The field lines of one block.

use memchr::{memchr, memchr2};

use crate::evidence::{Block, Place};

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
            let colon = memchr2(b':', b'\n', bytes).filter(|n| bytes[*n] == b':');
            let end = colon.unwrap_or(0)
                + memchr(b'\n', &bytes[colon.unwrap_or(0)..]).unwrap_or(bytes.len() - colon.unwrap_or(0));
            #[expect(clippy::cast_possible_truncation, reason = "input is capped at 256 MiB")]
            let place = Place { line, offset: first.offset + at as u32 };
            at += end + 1;
            line += 1;
            let text = &rest[..end];
            match colon {
                Some(colon) => {
                    let key = text[..colon].trim_ascii();
                    let value = text[colon + 1..].trim_ascii();
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
