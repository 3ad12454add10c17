//! How people write what a label says: on invoices, in offers and by hand.

use crate::population::ModuleKind;
use crate::units::{Bytes, Millivolts, SPEED_GRADES, TransferRate};

/// The words of a label, those that belong together as one: `32 GB`, `1333 MT/s`, `1.35 V`, `PC4 2400T`, `dual rank`.
pub(super) fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let parts = text.split([' ', '\t', '\n', '\r', ',', ';', '(', ')', '/', '+', '|']).filter_map(rate_units);
    // `reg.`, and a dash between two words.
    for word in parts.map(|word| word.trim_end_matches('.')).filter(|word| !matches!(*word, "" | "-" | "–"))
    {
        match words.last_mut() {
            Some(last) if belongs_to(last, word) => last.push_str(word),
            Some(last) if is_head_of_name(last) && word.starts_with(|c: char| c.is_ascii_digit()) => {
                last.push('-');
                last.push_str(word);
            }
            Some(last) if is_first_of_two(last, word) => {
                last.push('-');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// Kinds and ranks that are written as two words as well as with a dash.
const TWO_WORDS: &[(&str, &str)] = &[
    ("LOAD", "REDUCED"),
    ("FULLY", "BUFFERED"),
    ("SINGLE", "RANK"),
    ("DUAL", "RANK"),
    ("QUAD", "RANK"),
    ("OCTAL", "RANK"),
    ("LOW", "PROFILE"),
    ("LOW", "VOLTAGE"),
];

fn is_first_of_two(first: &str, second: &str) -> bool {
    TWO_WORDS.iter().any(|(one, two)| first.eq_ignore_ascii_case(one) && second.eq_ignore_ascii_case(two))
}

/// `MT/s` was cut at its stroke, which stands between other words as well.
fn rate_units(word: &str) -> Option<&str> {
    (word != "s").then_some(word)
}

/// Whether `word` is the unit of the number before it.
fn belongs_to(number: &str, word: &str) -> bool {
    let is_number = number.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let units = ["GB", "GIB", "MB", "MIB", "TB", "TIB", "V", "MV", "MHZ", "MT"];
    is_number && units.iter().any(|unit| word.eq_ignore_ascii_case(unit))
}

/// `PC4`, `PC3L`: a module name whose dash was written as a space.
fn is_head_of_name(word: &str) -> bool {
    let upper = word.to_ascii_uppercase();
    let rest = upper.strip_prefix("PC").map(str::as_bytes);
    matches!(rest, Some([digit] | [digit, b'L' | b'U']) if digit.is_ascii_digit())
}

/// A rate with its unit, `1333MHz` or `2400MT`: what is printed as a clock is the rate (see [`TransferRate`]).
pub(super) fn rate(upper: &str) -> Option<TransferRate> {
    let digits = upper.strip_suffix("MHZ").or_else(|| upper.strip_suffix("MT"))?;
    let number = digits.parse().ok().map(TransferRate)?;
    number.is_plausible().then_some(number)
}

/// A rate without a unit: `3200`, and `2666V` with its latency grade. Only what is a grade by its number, from those
/// whose module names use the rate, and the usual ones of DDR3.
pub(super) fn bare_rate(upper: &str) -> Option<TransferRate> {
    let digits = upper.bytes().take_while(u8::is_ascii_digit).count();
    let (number, letters) = upper.split_at_checked(4).filter(|_| digits == 4)?;
    let rate = number.parse().ok().map(TransferRate)?;
    let is_grade = SPEED_GRADES.iter().any(|(_, nominal)| TransferRate(*nominal).same_grade(rate));
    let is_latency = letters.len() <= 2 && letters.bytes().all(|byte| byte.is_ascii_alphabetic());
    (is_grade && is_latency).then_some(rate)
}

/// A bandwidth whose `PC` was left out: `10600R`, `21300V`. With four digits it could be a rate.
pub(super) fn bare_bandwidth(upper: &str) -> Option<(TransferRate, &str)> {
    let digits = upper.bytes().take_while(u8::is_ascii_digit).count();
    let (number, letters) = upper.split_at_checked(digits).filter(|_| digits == 5)?;
    let is_letters = letters.len() <= 2 && letters.bytes().all(|byte| byte.is_ascii_alphabetic());
    let rate = TransferRate::from_bandwidth(number.parse().ok()?).filter(|_| is_letters)?;
    Some((rate, letters))
}

/// Ranks alone: `2R`, `dual rank`.
pub(super) fn ranks(upper: &str) -> Option<u8> {
    let words = [("SINGLE-RANK", 1), ("DUAL-RANK", 2), ("QUAD-RANK", 4), ("OCTAL-RANK", 8)];
    if let Some((_, ranks)) = words.iter().find(|(word, _)| *word == upper) {
        return Some(*ranks);
    }
    let ranks = upper.strip_suffix('R').filter(|digit| digit.len() == 1)?.parse().ok()?;
    matches!(ranks, 1 | 2 | 4 | 8).then_some(ranks)
}

/// The width of the chips alone: `x4`.
pub(super) fn width(upper: &str) -> Option<u8> {
    let width = upper.strip_prefix('X').or_else(|| upper.strip_prefix('×'))?.parse().ok()?;
    matches!(width, 4 | 8 | 16 | 32).then_some(width)
}

/// Kinds by the words of the trade.
const KINDS: &[(&str, ModuleKind)] = &[
    ("REG", ModuleKind::Rdimm),
    ("REGISTERED", ModuleKind::Rdimm),
    ("R-DIMM", ModuleKind::Rdimm),
    ("L-DIMM", ModuleKind::Lrdimm),
    ("LR-DIMM", ModuleKind::Lrdimm),
    ("LOAD-REDUCED", ModuleKind::Lrdimm),
    ("U-DIMM", ModuleKind::Udimm),
    ("UNBUFFERED", ModuleKind::Udimm),
    ("FULLY-BUFFERED", ModuleKind::FbDimm),
    // Unbuffered with a clock driver of its own, which nothing in a record tells apart.
    ("CUDIMM", ModuleKind::Udimm),
    ("CSODIMM", ModuleKind::SoDimm),
    ("NVDIMM-N", ModuleKind::Nvdimm),
];

/// The kind that a word names.
pub(super) fn kind(upper: &str) -> Option<ModuleKind> {
    let known = KINDS.iter().find(|(word, _)| *word == upper).map(|(_, kind)| *kind);
    known.or_else(|| ModuleKind::parse(upper))
}

/// Words by which a label says that there are check bits: those of the trade, the width of the bus, and the check bits
/// for each half of a DDR5 module (`EC4` and `EC8`: from memory, unverified).
const CHECKED: &[&str] = &["ECC", "X72", "X80", "EC4", "EC8"];

/// The width of the chips in `10x4` and `9x4`, chips for each half of a DDR5 module; with check bits.
const HALVES: &[(&str, u8)] = &[("10X4", 4), ("9X4", 4)];

/// What a word says that tells of check bits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Checked {
    /// The width of the chips, if it says that too.
    pub(super) width: Option<u8>,
}

/// Whether the word says that there are check bits.
pub(super) fn checked(upper: &str) -> Option<Checked> {
    if CHECKED.contains(&upper) {
        return Some(Checked { width: None });
    }
    HALVES.iter().find(|(word, _)| *word == upper).map(|(_, width)| Checked { width: Some(*width) })
}

/// Words that say what everybody knows, and what no listing states: pins, the latency, the height.
pub(super) fn says_nothing(upper: &str) -> bool {
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let pins = upper.strip_suffix("PIN").map(|text| text.trim_end_matches('-'));
    let latency = upper.strip_prefix("CL");
    pins.into_iter().chain(latency).any(is_number)
        || [
            "DIMM",
            "MODULE",
            "MODULES",
            "MEMORY",
            "RAM",
            "SERVER",
            "KIT",
            "PIN",
            "LP",
            "VLP",
            "LOW-PROFILE",
            "LOW-VOLTAGE",
        ]
        .contains(&upper)
}

/// A size as people write it, also with a fraction: `32GB`, `1.5 TB`.
pub fn size(text: &str) -> Option<Bytes> {
    Bytes::parse(text).or_else(|| fraction(text.trim()))
}

/// `1.5TB`: only where it comes to whole MiB.
fn fraction(text: &str) -> Option<Bytes> {
    let digits = text.bytes().take_while(|byte| byte.is_ascii_digit() || *byte == b'.').count();
    let (number, unit) = text.split_at_checked(digits)?;
    let (whole, part) = number.split_once('.')?;
    let scale =
        10u64.checked_pow(u32::try_from(part.len()).ok().filter(|length| (1..=4).contains(length))?)?;
    let tenths: u64 = format!("{whole}{part}").parse().ok()?;
    let bytes = Bytes::parse(&format!("1{unit}"))?.0.checked_mul(tenths)?;
    let size = bytes.is_multiple_of(scale).then(|| Bytes(bytes / scale))?;
    size.0.is_multiple_of(Bytes::MIB).then_some(size)
}

/// A supply voltage with its unit.
pub(super) fn voltage(word: &str) -> Option<Millivolts> {
    Millivolts::parse(word)
}
