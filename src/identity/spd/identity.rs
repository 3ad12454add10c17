//! Who made the module, when, and which one it is.

use super::{Certainty, Field, Known};

/// What tells one module from another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// The maker of the module.
    pub maker: Maker,
    /// Where it was made, by the maker's own code.
    pub place: u8,
    /// When it was made.
    pub date: Field<ManufactureDate>,
    /// The serial number as stored.
    pub serial_raw: [u8; 4],
    /// Where the serial number begins.
    pub(super) serial_at: usize,
    /// The part number; `None` where the contents end before it.
    pub part_number: Option<SpdText>,
    /// The module's revision, by the maker's own code; empty where the contents end before it.
    pub revision: Vec<u8>,
    /// The maker of the chips; `None` where the layout has no such field or the contents end before it.
    pub dram_maker: Option<Maker>,
}

impl Identity {
    /// The serial number as 8 digits in the order of the bytes; `None` where it was not programmed.
    pub fn serial(&self) -> Option<String> {
        let programmed = self.serial_raw != [0; 4] && self.serial_raw != [0xFF; 4];
        programmed.then(|| self.serial_raw.iter().map(|byte| format!("{byte:02X}")).collect())
    }
}

/// A maker's code in JEP106: the bank, and the code in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Maker {
    /// The bytes as stored.
    pub raw: Vec<u8>,
    /// Bank from 1, and the code without its parity; `None` where it was not programmed.
    pub code: Option<(u8, u8)>,
    /// Whether the parity of the bytes is right. It is often wrong, and rejects nothing.
    pub parity_is_right: bool,
}

impl Maker {
    /// A pair of bytes: the number of continuation codes, and the code, each with odd parity in bit 7.
    pub(super) fn pair(first: u8, second: u8) -> Self {
        let programmed = !matches!((first, second), (0, 0) | (0xFF, 0xFF));
        let odd = |byte: u8| byte.count_ones() % 2 == 1;
        Self {
            raw: vec![first, second],
            code: programmed.then_some(((first & 0x7F) + 1, second & 0x7F)),
            parity_is_right: odd(first) && odd(second),
        }
    }

    /// The older way: one 7Fh for each bank before the maker's, then the code.
    pub(super) fn run(bytes: &[u8]) -> Self {
        let banks = bytes.iter().take_while(|byte| **byte == 0x7F).count();
        let code = bytes.get(banks).copied().filter(|code| !matches!(code, 0 | 0xFF));
        let bank = u8::try_from(banks + 1).ok();
        Self {
            raw: bytes.to_vec(),
            code: bank.zip(code.map(|code| code & 0x7F)),
            parity_is_right: code.is_some_and(|code| code.count_ones() % 2 == 1),
        }
    }

    /// The name that is registered for the code.
    pub fn name(&self) -> Option<&'static str> {
        let (bank, code) = self.code?;
        jep106::JEP106Code::new(bank.checked_sub(1)?, code).get().filter(|name| !name.is_empty())
    }
}

/// A week of a year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ManufactureDate {
    /// The year.
    pub year: u16,
    /// The week, 1 to 53.
    pub week: u8,
}

/// Year and week as two decimal digits each. Some makers write plain numbers; where only those give a date, it is one,
/// but not a sure one (i2c-tools `decode-dimms` does the same).
pub(super) fn date(year: u8, week: u8) -> Field<ManufactureDate> {
    let raw = u32::from(u16::from_be_bytes([year, week]));
    let made = |year: u8, week: u8| {
        (year <= 99 && (1..=53).contains(&week) && (year, week) != (0, 0))
            .then(|| ManufactureDate { year: 2000 + u16::from(year), week })
    };
    let decimal = decimal(year).zip(decimal(week)).and_then(|(year, week)| made(year, week));
    match decimal {
        Some(date) => Field { raw, value: Some(Known { value: date, certainty: Certainty::Secondary }) },
        None => Field::new(raw, made(year, week), Certainty::Inferred),
    }
}

fn decimal(byte: u8) -> Option<u8> {
    let (tens, ones) = (byte >> 4, byte & 0xF);
    (tens <= 9 && ones <= 9).then_some(tens * 10 + ones)
}

/// A text of fixed width.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpdText {
    /// The bytes as stored.
    pub raw: Vec<u8>,
    /// What they spell up to the first byte that is no printable character, without blanks at the end; `None` where
    /// that is nothing.
    pub text: Option<String>,
    /// Whether something other than filler follows what is read: such a text is not to be trusted.
    pub has_odd_bytes: bool,
}

impl SpdText {
    pub(super) fn new(bytes: &[u8]) -> Self {
        let end = bytes.iter().position(|byte| !(b' '..=b'~').contains(byte)).unwrap_or(bytes.len());
        let (printable, rest) = bytes.split_at_checked(end).unwrap_or((bytes, &[]));
        let text: String = printable.iter().map(|byte| char::from(*byte)).collect();
        let text = text.trim_end();
        Self {
            raw: bytes.to_vec(),
            text: (!text.trim().is_empty()).then(|| text.to_owned()),
            has_odd_bytes: rest.iter().any(|byte| !matches!(byte, 0 | b' ' | 0xFF)),
        }
    }
}
