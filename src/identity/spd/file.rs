//! What a file holds: the bytes, or a dump of them as text.

use std::borrow::Cow;

use super::error::SpdError;
use super::{Outcome, read, text};

/// Far above any dump of one module as text.
const LARGEST: usize = 1 << 20;

/// The bytes that a file holds: the file itself, or the dump in it.
///
/// A dump is hexadecimal text: pairs of digits, words (`0x92`, `9212`) or one long number, with or without addresses in
/// front, a column of characters behind, and `*` for lines like the one before. `#` and `//` begin comments.
///
/// # Errors
///
/// [`SpdError`] where a text is no such dump.
pub fn contents(file: &[u8]) -> Result<Cow<'_, [u8]>, SpdError> {
    if file.len() > LARGEST {
        return Err(SpdError::TooLarge { length: file.len() });
    }
    let Some(text) = as_text(file) else { return Ok(Cow::Borrowed(file)) };
    let words = text::words(&text)?;
    let written = words.concat();
    // Words of two or four bytes may be printed as a processor reads them, the last byte first. The right order is the one
    // in which they are contents, with a right check if need be.
    let size = words.first().map_or(0, Vec::len);
    if !matches!(size, 2 | 4) || words.iter().any(|word| word.len() != size) {
        return Ok(Cow::Owned(written));
    }
    let turned = words.iter().flat_map(|word| word.iter().rev().copied()).collect::<Vec<u8>>();
    let turned_is_better = merit(&turned) > merit(&written);
    Ok(Cow::Owned(if turned_is_better { turned } else { written }))
}

/// How well bytes are contents; a check that is right says most.
fn merit(bytes: &[u8]) -> u8 {
    match read(bytes) {
        Ok(spd) if spd.is_damaged() => 1,
        Ok(spd) if spd.checks.iter().any(|check| check.outcome() == Outcome::NotChecked) => 2,
        Ok(_) => 3,
        Err(_) => 0,
    }
}

/// The file as text, where it is one. Contents never are: byte 2 is a control character in every layout.
fn as_text(file: &[u8]) -> Option<Cow<'_, str>> {
    let utf16 = match file {
        [0xFF, 0xFE, ..] => Some(encoding_rs::UTF_16LE),
        [0xFE, 0xFF, ..] => Some(encoding_rs::UTF_16BE),
        _ => None,
    };
    let text = match utf16 {
        Some(encoding) => encoding.decode_without_bom_handling_and_without_replacement(file.get(2..)?)?,
        None => Cow::Borrowed(std::str::from_utf8(file).ok()?),
    };
    let is_text = text.chars().all(|c| !c.is_control() || matches!(c, '\t' | '\n' | '\r'));
    (is_text && !text.is_empty()).then_some(text)
}
