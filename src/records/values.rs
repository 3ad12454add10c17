//! The values of fields, as dmidecode prints them.

use std::fmt;

use super::field::Field;
use super::note::{NoteKind, Notes};
use crate::evidence::Place;
use crate::units::{Bytes, TransferRate};

/// The Size field of a memory device: the only one that says whether a slot is empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeviceSize {
    /// `No Module Installed`, or `0 Mbyte` of the oldest releases.
    Empty,
    /// A module of this size.
    Fitted(Bytes),
    /// `32767 MB`, the marker for an extended size that the record is too short to hold: a module of
    /// 32 GiB or more, exact size unknown (7.18, offset 0Ch).
    OverMarker,
}

/// A maker's code as SMBIOS 3.2 and later state it: JEP106 bank and code, clause 7.18.8.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MakerCode {
    /// JEP106 bank, counted from 1.
    pub bank: u8,
    /// Code with its parity bit as printed.
    pub code: u8,
}

impl fmt::Display for MakerCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bank {}, code {:#04x}", self.bank, self.code)
    }
}

/// A string field. `Not Specified` and `<BAD INDEX>` are dmidecode's words for "no string".
pub(super) fn text(value: &str, place: Place) -> Field<&str> {
    match value {
        "" | "Not Specified" | "<BAD INDEX>" => Field::Unknown(place),
        _ => Field::Stated(value, place),
    }
}

/// `0x0011`; `Not Provided` and `No Error` are not handles.
pub(super) fn handle(value: &str) -> Option<u16> {
    u16::from_str_radix(value.strip_prefix("0x")?, 16).ok()
}

/// `72 bits`; zero is unknown.
pub(super) fn width(value: &str) -> Option<u16> {
    let bits = value.strip_suffix("bits")?.trim_end().parse().ok()?;
    if bits == 0 { None } else { Some(bits) }
}

pub(super) fn rate(value: &str) -> Option<TransferRate> {
    TransferRate::parse(value).filter(|rate| rate.0 != 0 && rate.0 != 0xFFFF)
}

/// A byte address. Extended addresses carry a `k` that is wrong: they are bytes too (7.20, offset 0Fh).
pub(super) fn address(value: &str) -> Option<u64> {
    let digits = value.strip_prefix("0x")?;
    u64::from_str_radix(digits.strip_suffix('k').unwrap_or(digits), 16).ok()
}

/// `Bank 1, Hex 0xCE`.
pub(super) fn maker_code(value: &str) -> Option<MakerCode> {
    let (bank, code) = value.strip_prefix("Bank ")?.split_once(", Hex 0x")?;
    Some(MakerCode { bank: bank.parse().ok()?, code: u8::from_str_radix(code, 16).ok()? })
}

/// `None` or a size.
pub(super) fn part_size(value: &str) -> Option<Bytes> {
    if value == "None" { Some(Bytes(0)) } else { Bytes::parse(value) }
}

pub(super) fn device_size(value: &str) -> Option<DeviceSize> {
    if value == "No Module Installed" || value == "Not Installed" {
        return Some(DeviceSize::Empty);
    }
    let size = Bytes::parse(value)?;
    Some(match size {
        Bytes(0) => DeviceSize::Empty,
        _ if size == Bytes::mib(32767) => DeviceSize::OverMarker,
        _ => DeviceSize::Fitted(size),
    })
}

pub(super) fn set_number(value: &str) -> Option<u8> {
    match value {
        "None" => Some(0),
        _ => match value.strip_prefix("0x") {
            Some(hex) => u8::from_str_radix(hex, 16).ok(),
            None => value.parse().ok(),
        },
    }
}

/// The words with which dmidecode says that a field has no value.
fn says_unknown(value: &str) -> bool {
    value.is_empty()
        || matches!(
            value,
            "Unknown"
                | "<OUT OF SPEC>"
                | "Not Specified"
                | "<BAD INDEX>"
                | "Not Provided"
                | "No Error"
                | "Invalid"
                | "Other"
        )
}

/// Puts what `read` makes of a value into `field`, and notes what cannot be read.
pub(super) fn put<'a, T: PartialEq>(
    field: &mut Field<T>,
    value: &'a str,
    place: Place,
    notes: &mut Notes,
    read: impl FnOnce(&'a str) -> Option<T>,
) {
    let read = read(value);
    if !matches!(field, Field::Absent) {
        notes.add(NoteKind::RepeatedKey, Some(place));
        if field.stated() != read.as_ref() {
            *field = Field::Unknown(place);
        }
        return;
    }
    if read.is_none() && !says_unknown(value) {
        notes.add(NoteKind::UnreadableValue, Some(place));
    }
    *field = Field::read(read, place);
}

/// Puts a string value into `field`.
pub(super) fn put_text<'a>(field: &mut Field<&'a str>, value: &'a str, place: Place, notes: &mut Notes) {
    if matches!(field, Field::Absent) {
        *field = text(value, place);
    } else {
        notes.add(NoteKind::RepeatedKey, Some(place));
        if field.get() != text(value, place).get() {
            *field = Field::Unknown(place);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DSP0134 3.9.0, 7.18, offset 0Ch: zero empty, `7FFFh` extended, `FFFFh` unknown.
    #[test]
    fn special_sizes() {
        for (text, want) in [
            ("No Module Installed", Some(DeviceSize::Empty)),
            ("0 Mbyte", Some(DeviceSize::Empty)),
            ("512 Mbyte", Some(DeviceSize::Fitted(Bytes::mib(512)))),
            ("32767 MB", Some(DeviceSize::OverMarker)),
            ("256 kB", Some(DeviceSize::Fitted(Bytes(256 * 1024)))),
            ("Unknown", None),
            ("<OUT OF SPEC>", None),
        ] {
            assert_eq!(device_size(text), want, "{text}");
        }
    }

    /// DSP0134 3.9.0, 7.18: widths `FFFFh` and 0 unknown; speeds 0 unknown, `FFFFh` extended.
    #[test]
    fn special_widths_and_speeds() {
        assert_eq!((width("72 bits"), width("0 bits"), width("Unknown")), (Some(72), None, None));
        assert_eq!((rate("1333 MT/s"), rate("65535 MT/s")), (Some(TransferRate(1333)), None));
    }

    /// DSP0134 3.9.0, 7.20: extended addresses are in bytes whatever letter follows.
    #[test]
    fn extended_addresses_are_bytes() {
        assert_eq!(address("0x0007FFFFFFF"), Some(0x7FFF_FFFF));
        assert_eq!(address("0x0000001FFFFFFFFFk"), Some(0x1F_FFFF_FFFF));
        assert_eq!(address("Invalid"), None);
    }

    #[test]
    fn maker_codes() {
        assert_eq!(maker_code("Bank 1, Hex 0xCE"), Some(MakerCode { bank: 1, code: 0xCE }));
        assert_eq!(maker_code("Unknown"), None);
    }
}
