//! So many of these: `12 x 32GB 4Rx4 PC3L-10600R`, in the ways in which people write it.

use thiserror::Error;

use super::demand::ModuleSpec;
use super::sticker::{StickerError, parse_size, parse_sticker};
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
const PIECES: &[&str] = &["pcs", "pc", "pieces", "piece", "modules", "sticks", "dimms", "off", "ea", "each"];

/// Words before a count.
const QUANTITY: &[&str] = &["qty", "quantity"];

/// Reads `12 x LABEL`, `12*LABEL`, `LABEL x 12`, `12 pcs LABEL`, `LABEL (12 pcs)`, `qty 12 LABEL`, `384GB as 12 x LABEL`
/// and `384GB (12 x LABEL)`.
///
/// # Errors
/// [`OrderError`] says what is missing or not understood.
pub fn parse_order(text: &str) -> Result<(u32, ModuleSpec), OrderError> {
    let Parts { total, rest } = parts(text.trim());
    let rest = rest.trim();
    let (count, label) =
        quantity(rest).or_else(|| leading(rest)).or_else(|| trailing(rest)).ok_or(OrderError::NoCount)?;
    let number = count.parse().ok().filter(|count| (1..=4096).contains(count));
    let count: u32 = number.ok_or_else(|| OrderError::Count { count: count.to_owned() })?;
    // `384GB as 12 x 32`: the total says the unit.
    let label = label.trim().trim_end_matches([',', ';', ':']);
    let (first, more) = label.split_once(char::is_whitespace).unwrap_or((label, ""));
    let unit = more.split_whitespace().next().filter(|word| parse_size(&format!("1{word}")).is_some());
    let label = if total.is_some() && is_number(first) && unit.is_none() {
        format!("{first}GB {more}").trim().to_owned()
    } else {
        label.to_owned()
    };
    let wanted = parse_sticker(&label)?;
    if let (Some(total), Some(size)) = (total, wanted.size)
        && size.0.checked_mul(u64::from(count)) != Some(total.0)
    {
        return Err(OrderError::Total { count, size, total });
    }
    Ok((count, wanted))
}

/// A line without the total that stands beside the count.
struct Parts {
    total: Option<Bytes>,
    rest: String,
}

/// Takes the total out: `384GB as 12 x 32`, `384GB = 12 x 32GB`, `384GB (12 x 32GB) ECC`, `12 x 32GB (384GB)`.
fn parts(text: &str) -> Parts {
    for word in [" as ", "="] {
        let Some((one, other)) = split_word(text, word) else { continue };
        for (total, rest) in [(one, other), (other, one)] {
            if let Some(total) = parse_size(total) {
                return Parts { total: Some(total), rest: rest.to_owned() };
            }
        }
    }
    let bracket = text.split_once('(').and_then(|(before, rest)| {
        let (inside, after) = rest.split_once(')')?;
        Some((before.trim(), inside.trim(), after.trim()))
    });
    let Some((before, inside, after)) = bracket else {
        return Parts { total: None, rest: text.to_owned() };
    };
    let is_kit = |word: &&str| word.eq_ignore_ascii_case("kit");
    let sum: Vec<&str> = before.split_whitespace().filter(|word| !is_kit(word)).collect();
    if let (Some(total), Some((_, label))) = (parse_size(&sum.join(" ")), leading(inside))
        && !label.trim().is_empty()
    {
        return Parts { total: Some(total), rest: format!("{inside} {after}") };
    }
    if let Some(total) = parse_size(inside) {
        return Parts { total: Some(total), rest: format!("{before} {after}") };
    }
    // `LABEL (12 pcs)`, `LABEL (x12)`
    let count = inside.trim_matches(TIMES).trim();
    let digits = count.bytes().take_while(u8::is_ascii_digit).count();
    match count.split_at_checked(digits) {
        Some((number, word)) if digits > 0 && (word.is_empty() || is_pieces(word.trim())) => {
            Parts { total: None, rest: format!("{number} x {before} {after}") }
        }
        _ => Parts { total: None, rest: text.to_owned() },
    }
}
/// The parts on either side of a word, in any case of letters.
fn split_word<'t>(text: &'t str, word: &str) -> Option<(&'t str, &'t str)> {
    let at = text.to_ascii_lowercase().find(word)?;
    Some((text.get(..at)?, text.get(at + word.len()..)?))
}

/// `qty 12 LABEL`, `qty: 12 x LABEL`, `LABEL, qty 12`: the count and the label.
fn quantity(text: &str) -> Option<(&str, &str)> {
    let is_word = |word: &str| {
        let word = word.trim_end_matches([':', '.', '=']);
        QUANTITY.iter().any(|known| known.eq_ignore_ascii_case(word))
    };
    let (word, rest) = text.split_once(char::is_whitespace)?;
    if is_word(word) {
        let rest = rest.trim_start();
        return leading(rest).or_else(|| {
            let (count, label) = rest.split_once(char::is_whitespace)?;
            is_number(count).then_some((count, label))
        });
    }
    let (before, count) = text.rsplit_once(char::is_whitespace)?;
    let (label, word) = before.trim_end().rsplit_once([' ', '\t', ','])?;
    (is_word(word) && is_number(count)).then_some((count, label))
}

/// `12 x LABEL`, `12*LABEL`, `12 pcs LABEL`, `12 pieces of LABEL`, `12 32GB LABEL`: the count and the label.
fn leading(text: &str) -> Option<(&str, &str)> {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    let (count, rest) = text.split_at_checked(digits).filter(|(count, _)| !count.is_empty())?;
    let rest = rest.trim_start();
    if let Some(label) = rest.strip_prefix(TIMES) {
        return Some((count, label));
    }
    let (word, label) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
    if is_pieces(word) {
        let label = label.trim_start();
        let of = label.get(..3).filter(|of| of.eq_ignore_ascii_case("of "));
        return Some((count, of.map_or(label, |of| &label[of.len()..])));
    }
    // Two numbers in a row, of which only the second has a unit.
    let is_size = word.starts_with(|c: char| c.is_ascii_digit()) && parse_size(word).is_some();
    (is_size && !text.starts_with(word)).then_some((count, rest))
}

/// `LABEL x 12`, `LABEL x12`, `32GB*12`, `LABEL, 12 pcs`: the count and the label. A mark without a blank before it
/// belongs to the label, as in `4Rx4`, unless it follows the size.
fn trailing(text: &str) -> Option<(&str, &str)> {
    if let Some((before, count)) = text.rsplit_once(TIMES)
        && is_number(count.trim())
    {
        let last = before.split_whitespace().next_back().unwrap_or_default();
        if before.ends_with(char::is_whitespace) || parse_size(last).is_some() {
            return Some((count.trim(), before));
        }
    }
    let (before, last) = text.rsplit_once(char::is_whitespace)?;
    let before = before.trim_end();
    let digits = last.bytes().take_while(u8::is_ascii_digit).count();
    if let Some((count, word)) = last.split_at_checked(digits).filter(|(count, _)| !count.is_empty()) {
        return is_pieces(word).then_some((count, before));
    }
    let (label, count) = before.rsplit_once([' ', '\t', ','])?;
    (is_pieces(last) && is_number(count)).then_some((count, label))
}

fn is_number(word: &str) -> bool {
    !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_digit())
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
            "384GB (12x32GB) 4Rx4 PC3L-10600R",
            "384 GB = 12 x 32 GB 4Rx4 PC3L-10600R",
            "12 x 32GB 4Rx4 PC3L-10600R (384GB)",
            "12 x 32GB 4Rx4 PC3L-10600R = 384GB",
            "32GB 4Rx4 PC3L-10600R (12 pcs)",
            "32GB 4Rx4 PC3L-10600R (x12)",
            "12 pieces of 32GB 4Rx4 PC3L-10600R",
            "qty 12 32GB 4Rx4 PC3L-10600R",
            "Qty: 12 x 32GB 4Rx4 PC3L-10600R",
            "32GB 4Rx4 PC3L-10600R, qty 12",
            "12 32GB 4Rx4 PC3L-10600R",
            "4Rx4 PC3L-10600R 32GB*12",
            "4Rx4 PC3L-10600R 32GBx12",
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
        for text in [
            "32GB (12 pcs)",
            "384GB kit (12x32GB)",
            "384GB as 12 x 32",
            "384GB (12x32)",
            "32GB*12",
            "32GBx12",
            "1.5TB as 48 x 32",
        ] {
            assert_eq!(parse_order(text).unwrap().1.size, Some(Bytes::gib(32)), "{text}");
        }
        // Ranks and width are no count.
        assert_eq!(parse_order("32GB 4Rx4"), Err(OrderError::NoCount));
    }

    #[test]
    fn what_is_missing_is_named() {
        for (text, part) in [
            ("32GB 4Rx4", "no count"),
            ("0 x 32GB", "count of 0"),
            ("5000 x 32GB", "count of 5000"),
            ("12 x 32", "`32`, a number without its unit; write `32GB`"),
            ("12 x M393A4K40CB2-CTD 32GB", "a part number or a maker is a field of its own"),
            ("12 x banana", "`banana`"),
            ("512GB as 12 x 32GB", "12 modules of 32 GiB, which are not 512 GiB"),
            ("", "no count"),
        ] {
            let error = parse_order(text).unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
        }
    }
}
