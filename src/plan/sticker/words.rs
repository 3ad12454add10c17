//! How people write what a label says: on invoices, in offers and by hand.

use crate::population::ModuleKind;
use crate::units::{Bytes, Millivolts, TransferRate};

/// The words of a label, those that belong together as one: `32 GB`, `1333 MT/s`, `1.35 V`, `PC4 2400T`.
pub(super) fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split([' ', '\t', '\n', '\r', ',', ';', '(', ')', '/']).filter_map(rate_units) {
        if word.is_empty() {
            continue;
        }
        match words.last_mut() {
            Some(last) if belongs_to(last, word) => last.push_str(word),
            Some(last) if is_head_of_name(last) && word.starts_with(|c: char| c.is_ascii_digit()) => {
                last.push('-');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
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

/// Words that say what everybody knows.
pub(super) fn says_nothing(upper: &str) -> bool {
    ["DIMM", "MODULE", "MODULES", "MEMORY", "RAM", "SERVER"].contains(&upper)
}

/// A size with its unit.
pub(super) fn size(word: &str) -> Option<Bytes> {
    Bytes::parse(word)
}

/// A supply voltage with its unit.
pub(super) fn voltage(word: &str) -> Option<Millivolts> {
    Millivolts::parse(word)
}
