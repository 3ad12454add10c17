//! So many of these: `12 x 32GB 4Rx4 PC3L-10600R`, in the ways in which people write it.

use thiserror::Error;

use super::demand::ModuleSpec;
use super::sticker::{StickerError, parse_sticker};
use crate::units::Bytes;

/// Why a line of an order cannot be read.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum OrderError {
    /// Nothing says how many.
    #[error("no count")]
    NoCount,
    /// More or fewer than a server can hold.
    #[error("a count of {count}, which is not from 1 to 4096")]
    Count {
        /// As written.
        count: String,
    },
    /// The module cannot be read.
    #[error(transparent)]
    Module(#[from] StickerError),
    /// The total stated beside the count is another one.
    #[error("{count} modules of {size}, which are not {total}")]
    Total {
        /// How many.
        count: u32,
        /// Their size.
        size: Bytes,
        /// What was stated.
        total: Bytes,
    },
}

/// How to write it, for errors.
pub const ORDER_FORM: &str = "a count and a label such as `12 x 32GB 4Rx4 PC3L-10600R`";

/// Marks between a count and a label.
const TIMES: &[char] = &['x', 'X', '×', '*'];

/// Words after a count.
const PIECES: &[&str] = &["pcs", "pc", "pieces", "piece", "modules", "sticks", "dimms", "off", "of", "ea"];

/// Reads `12 x LABEL`, `12*LABEL`, `LABEL x 12`, `12 pcs LABEL`, `LABEL, 12 pcs` and `384GB as 12 x LABEL`.
///
/// # Errors
/// [`OrderError`] says what is missing or not understood.
pub fn parse_order(text: &str) -> Result<(u32, ModuleSpec), OrderError> {
    let text = text.trim();
    let (total, rest) =
        match split_word(text, " as ").and_then(|(total, rest)| Some((Bytes::parse(total)?, rest))) {
            Some((total, rest)) => (Some(total), rest),
            None => (None, text),
        };
    let (count, label) = leading(rest).or_else(|| trailing(rest)).ok_or(OrderError::NoCount)?;
    let number = count.parse().ok().filter(|count| (1..=4096).contains(count));
    let count: u32 = number.ok_or_else(|| OrderError::Count { count: count.to_owned() })?;
    // `384GB as 12 x 32`: the total says the unit.
    let label = label.trim();
    let bare = label.split_whitespace().next().filter(|word| word.bytes().all(|byte| byte.is_ascii_digit()));
    let label = match (total, bare) {
        (Some(_), Some(number)) if label == number => format!("{number}GB"),
        _ => label.to_owned(),
    };
    let wanted = parse_sticker(&label)?;
    if let (Some(total), Some(size)) = (total, wanted.size)
        && size.0.checked_mul(u64::from(count)) != Some(total.0)
    {
        return Err(OrderError::Total { count, size, total });
    }
    Ok((count, wanted))
}

/// The parts on either side of a word, in any case of letters.
fn split_word<'t>(text: &'t str, word: &str) -> Option<(&'t str, &'t str)> {
    let at = text.to_ascii_lowercase().find(word)?;
    Some((text.get(..at)?, text.get(at + word.len()..)?))
}

/// `12 x LABEL`, `12*LABEL`, `12 pcs LABEL`: the count and the label.
fn leading(text: &str) -> Option<(&str, &str)> {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    let (count, rest) = text.split_at_checked(digits).filter(|(count, _)| !count.is_empty())?;
    let rest = rest.trim_start();
    if let Some(label) = rest.strip_prefix(TIMES) {
        return Some((count, label));
    }
    let (word, label) = rest.split_once(char::is_whitespace)?;
    is_pieces(word).then_some((count, label))
}

/// `LABEL x 12`, `LABEL x12`, `LABEL, 12 pcs`: the count and the label. A mark without a blank before it belongs to
/// the label, as in `4Rx4`.
fn trailing(text: &str) -> Option<(&str, &str)> {
    let (before, last) = text.rsplit_once(char::is_whitespace)?;
    let before = before.trim_end();
    let is_number = |word: &str| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_digit());
    if let Some(count) = last.strip_prefix(TIMES).filter(|count| is_number(count)) {
        return Some((count, before));
    }
    if is_number(last) {
        let label = before.strip_suffix(TIMES).filter(|label| label.ends_with(char::is_whitespace))?;
        return Some((last, label));
    }
    let digits = last.bytes().take_while(u8::is_ascii_digit).count();
    if let Some((count, word)) = last.split_at_checked(digits).filter(|(count, _)| !count.is_empty()) {
        return is_pieces(word).then_some((count, before));
    }
    let (label, count) = before.rsplit_once([' ', '\t', ','])?;
    (is_pieces(last) && is_number(count)).then_some((count, label))
}

fn is_pieces(word: &str) -> bool {
    let word = word.trim_end_matches(['.', ',', ':']);
    PIECES.iter().any(|known| known.eq_ignore_ascii_case(word))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::population::ModuleKind;
    use crate::units::{Millivolts, TransferRate};

    #[test]
    fn a_count_is_read_wherever_people_write_it() {
        for text in [
            "12 x 32GB 4Rx4 PC3L-10600R",
            "12x32GB 4Rx4 PC3L-10600R",
            "12 × 32 GB 4Rx4 PC3L-10600R",
            "12*32GB 4Rx4 PC3L 10600R",
            "32GB 4Rx4 PC3L-10600R x 12",
            "32GB 4Rx4 PC3L-10600R x12",
            "32GB 4Rx4 PC3L-10600R * 12",
            "12 pcs 32GB 4Rx4 PC3L-10600R",
            "12 pcs. 32GB 4Rx4 PC3L-10600R",
            "32GB 4Rx4 PC3L-10600R, 12 pcs",
            "32GB 4Rx4 PC3L-10600R 12pcs",
            "384GB as 12 x 32GB 4Rx4 PC3L-10600R",
        ] {
            let (count, wanted) = parse_order(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!((count, wanted.size, wanted.ranks), (12, Some(Bytes::gib(32)), Some(4)), "{text}");
            assert_eq!((wanted.width, wanted.rated), (Some(4), Some(TransferRate(1333))), "{text}");
            assert_eq!(
                (wanted.kind, wanted.voltage),
                (Some(ModuleKind::Rdimm), Some(Millivolts(1350))),
                "{text}"
            );
        }
        assert_eq!(parse_order("384GB as 12 x 32").unwrap().1.size, Some(Bytes::gib(32)));
    }

    #[test]
    fn what_is_missing_is_named() {
        for (text, part) in [
            ("32GB 4Rx4", "no count"),
            ("0 x 32GB", "count of 0"),
            ("5000 x 32GB", "count of 5000"),
            ("12 x 32", "`32`"),
            ("12 x banana", "`banana`"),
            ("512GB as 12 x 32GB", "12 modules of 32 GiB, which are not 512 GiB"),
            ("", "no count"),
        ] {
            let error = parse_order(text).unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
        }
    }
}
