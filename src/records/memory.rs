//! The memory records: Physical Memory Array (16), Memory Device (17), mapped addresses (19, 20).

use std::fmt;

use super::body::{Line, lines};
use super::enums::{
    ArrayLocation, ArrayUse, ErrorCorrection, FormFactor, MemoryTechnology, MemoryType, TypeDetail,
};
use super::note::{NoteKind, Notes};
use super::{Field, Head};
use crate::evidence::{Block, Place};
use crate::units::{Bytes, Millivolts, TransferRate};

/// Physical Memory Array, type 16, clause 7.17: a group of slots.
#[derive(Debug, Clone, Default)]
pub struct MemoryArray {
    /// Handle, length, place.
    pub head: Head,
    /// Where the array is; nearly always the system board, so it never tells sockets apart.
    pub location: Field<ArrayLocation>,
    /// What the array holds. Look here before counting slots.
    pub usage: Field<ArrayUse>,
    /// The array's error correction.
    pub error_correction: Field<ErrorCorrection>,
    /// A table entry of the firmware, not a limit: real machines exceed it.
    pub maximum_capacity: Field<Bytes>,
    /// Handle of the last error record.
    pub error_handle: Field<u16>,
    /// How many devices the array claims to have.
    pub device_count: Field<u32>,
}

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

/// Memory Device, type 17, clause 7.18: one slot, filled or not.
#[derive(Debug, Clone, Default)]
pub struct MemoryDevice<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// Handle of the array the slot belongs to.
    pub array_handle: Field<u16>,
    /// Handle of the slot's last error record.
    pub error_handle: Field<u16>,
    /// Width in bits with check bits.
    pub total_width: Field<u16>,
    /// Width in bits without check bits.
    pub data_width: Field<u16>,
    /// Whether a module is there, and its size.
    pub size: Field<DeviceSize>,
    /// Form factor.
    pub form_factor: Field<FormFactor>,
    /// Group of slots that must hold equal modules; `Stated(0)` is none.
    pub set: Field<u8>,
    /// Label of the slot on the board.
    pub locator: Field<&'a str>,
    /// Label of the bank.
    pub bank_locator: Field<&'a str>,
    /// Memory generation.
    pub memory_type: Field<MemoryType>,
    /// Registered, unbuffered, non-volatile and so on.
    pub type_detail: Field<TypeDetail>,
    /// The highest speed the module can do, in MT/s.
    pub speed: Field<TransferRate>,
    /// Maker as printed.
    pub manufacturer: Field<&'a str>,
    /// Serial number.
    pub serial: Field<&'a str>,
    /// Asset tag.
    pub asset_tag: Field<&'a str>,
    /// Part number.
    pub part_number: Field<&'a str>,
    /// Number of ranks, 1 to 15.
    pub rank: Field<u8>,
    /// The speed the board runs the module at, in MT/s. Since SMBIOS 2.7.
    pub configured_speed: Field<TransferRate>,
    /// Lowest supply voltage. Since SMBIOS 2.8, as the next two.
    pub minimum_voltage: Field<Millivolts>,
    /// Highest supply voltage.
    pub maximum_voltage: Field<Millivolts>,
    /// Voltage the module is driven at.
    pub configured_voltage: Field<Millivolts>,
    /// Memory technology. Since SMBIOS 3.2, as the fields up to `logical_size`.
    pub technology: Field<MemoryTechnology>,
    /// Operating modes as printed.
    pub operating_modes: Field<&'a str>,
    /// Firmware version of the module.
    pub firmware_version: Field<&'a str>,
    /// JEP106 code of the module's maker.
    pub module_maker: Field<MakerCode>,
    /// The maker's product number.
    pub module_product: Field<u16>,
    /// JEP106 code of the controller's maker.
    pub controller_maker: Field<MakerCode>,
    /// The controller's product number.
    pub controller_product: Field<u16>,
    /// Persistent part of the module.
    pub non_volatile_size: Field<Bytes>,
    /// Volatile part of the module.
    pub volatile_size: Field<Bytes>,
    /// Part used as cache.
    pub cache_size: Field<Bytes>,
    /// Size of a logical device.
    pub logical_size: Field<Bytes>,
    /// JEP106 code of the power controller's maker. Since SMBIOS 3.7, as the next three.
    pub pmic_maker: Field<MakerCode>,
    /// Revision of the power controller as printed.
    pub pmic_revision: Field<&'a str>,
    /// JEP106 code of the register's maker.
    pub rcd_maker: Field<MakerCode>,
    /// Revision of the register as printed.
    pub rcd_revision: Field<&'a str>,
}

/// Memory Array Mapped Address, type 19, clause 7.20.
#[derive(Debug, Clone, Default)]
pub struct ArrayRange {
    /// Handle, length, place.
    pub head: Head,
    /// First byte address.
    pub start: Field<u64>,
    /// Last byte address.
    pub end: Field<u64>,
    /// Handle of the array that answers.
    pub array_handle: Field<u16>,
}

/// Memory Device Mapped Address, type 20, clause 7.21.
#[derive(Debug, Clone, Default)]
pub struct DeviceRange {
    /// Handle, length, place.
    pub head: Head,
    /// First byte address.
    pub start: Field<u64>,
    /// Last byte address.
    pub end: Field<u64>,
    /// Handle of the device that answers.
    pub device_handle: Field<u16>,
    /// Handle of the array range it is part of.
    pub array_range_handle: Field<u16>,
}

/// A string field. `Not Specified` and `<BAD INDEX>` are the utility's words for "no string".
pub(super) fn text(value: &str, place: Place) -> Field<&str> {
    match value {
        "" | "Not Specified" | "<BAD INDEX>" => Field::Unknown(place),
        _ => Field::Stated(value, place),
    }
}

/// `0x0011`; `Not Provided` and `No Error` are no handle.
fn handle(value: &str) -> Option<u16> {
    u16::from_str_radix(value.strip_prefix("0x")?, 16).ok()
}

/// `72 bits`; zero is unknown.
fn width(value: &str) -> Option<u16> {
    let bits = value.strip_suffix("bits")?.trim_end().parse().ok()?;
    if bits == 0 { None } else { Some(bits) }
}

fn rate(value: &str) -> Option<TransferRate> {
    TransferRate::parse(value).filter(|rate| rate.0 != 0 && rate.0 != 0xFFFF)
}

/// A byte address. Extended addresses carry a `k` that is wrong: they are bytes too (7.20, offset 0Fh).
fn address(value: &str) -> Option<u64> {
    let digits = value.strip_prefix("0x")?;
    u64::from_str_radix(digits.strip_suffix('k').unwrap_or(digits), 16).ok()
}

/// `Bank 1, Hex 0xCE`.
fn maker_code(value: &str) -> Option<MakerCode> {
    let (bank, code) = value.strip_prefix("Bank ")?.split_once(", Hex 0x")?;
    Some(MakerCode { bank: bank.parse().ok()?, code: u8::from_str_radix(code, 16).ok()? })
}

/// `None` or a size.
fn part_size(value: &str) -> Option<Bytes> {
    if value == "None" { Some(Bytes(0)) } else { Bytes::parse(value) }
}

fn device_size(value: &str) -> Option<DeviceSize> {
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

fn set_number(value: &str) -> Option<u8> {
    match value {
        "None" => Some(0),
        _ => match value.strip_prefix("0x") {
            Some(hex) => u8::from_str_radix(hex, 16).ok(),
            None => value.parse().ok(),
        },
    }
}

/// The words with which the utility says that a field has no value.
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
fn put<'a, T: PartialEq>(
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
fn put_text<'a>(field: &mut Field<&'a str>, value: &'a str, place: Place, notes: &mut Notes) {
    if matches!(field, Field::Absent) {
        *field = text(value, place);
    } else {
        notes.add(NoteKind::RepeatedKey, Some(place));
        if field.get() != text(value, place).get() {
            *field = Field::Unknown(place);
        }
    }
}

pub(super) fn device<'a>(head: Head, block: &Block<'a>, notes: &mut Notes) -> MemoryDevice<'a> {
    let mut r = MemoryDevice { head, ..MemoryDevice::default() };
    for line in lines(block) {
        let (key, value, place) = match line {
            Line::Field { key, value, place } => (key, value, place),
            Line::Bare { text, place } => {
                // The title of the two-line handle form and the cut mark are no scrubbed fields.
                if text != block.title && text != "<TRUNCATED>" {
                    notes.add(NoteKind::ScrubbedLines, Some(place));
                }
                continue;
            }
        };
        match key {
            "Array Handle" => put(&mut r.array_handle, value, place, notes, handle),
            "Error Information Handle" => put(&mut r.error_handle, value, place, notes, handle),
            "Total Width" => put(&mut r.total_width, value, place, notes, width),
            "Data Width" => put(&mut r.data_width, value, place, notes, width),
            "Size" => put(&mut r.size, value, place, notes, device_size),
            "Form Factor" => put(&mut r.form_factor, value, place, notes, FormFactor::parse),
            "Set" => put(&mut r.set, value, place, notes, set_number),
            "Locator" => put_text(&mut r.locator, value, place, notes),
            "Bank Locator" => put_text(&mut r.bank_locator, value, place, notes),
            "Type" => put(&mut r.memory_type, value, place, notes, MemoryType::parse),
            "Type Detail" => put(&mut r.type_detail, value, place, notes, TypeDetail::parse),
            "Speed" => put(&mut r.speed, value, place, notes, rate),
            "Manufacturer" => put_text(&mut r.manufacturer, value, place, notes),
            "Serial Number" => put_text(&mut r.serial, value, place, notes),
            "Asset Tag" => put_text(&mut r.asset_tag, value, place, notes),
            "Part Number" => put_text(&mut r.part_number, value, place, notes),
            "Rank" => {
                put(&mut r.rank, value, place, notes, |v| v.parse().ok().filter(|n| (1..=15).contains(n)));
            }
            "Configured Memory Speed" | "Configured Clock Speed" => {
                put(&mut r.configured_speed, value, place, notes, rate);
            }
            "Minimum Voltage" | "Minimum voltage" => {
                put(&mut r.minimum_voltage, value, place, notes, Millivolts::parse);
            }
            "Maximum Voltage" | "Maximum voltage" => {
                put(&mut r.maximum_voltage, value, place, notes, Millivolts::parse);
            }
            "Configured Voltage" | "Configured voltage" => {
                put(&mut r.configured_voltage, value, place, notes, Millivolts::parse);
            }
            "Memory Technology" => put(&mut r.technology, value, place, notes, MemoryTechnology::parse),
            "Memory Operating Mode Capability" => put_text(&mut r.operating_modes, value, place, notes),
            "Firmware Version" => put_text(&mut r.firmware_version, value, place, notes),
            "Module Manufacturer ID" => put(&mut r.module_maker, value, place, notes, maker_code),
            "Module Product ID" => put(&mut r.module_product, value, place, notes, handle),
            "Memory Subsystem Controller Manufacturer ID" => {
                put(&mut r.controller_maker, value, place, notes, maker_code);
            }
            "Memory Subsystem Controller Product ID" => {
                put(&mut r.controller_product, value, place, notes, handle);
            }
            "Non-Volatile Size" => put(&mut r.non_volatile_size, value, place, notes, part_size),
            "Volatile Size" => put(&mut r.volatile_size, value, place, notes, part_size),
            "Cache Size" => put(&mut r.cache_size, value, place, notes, part_size),
            "Logical Size" => put(&mut r.logical_size, value, place, notes, part_size),
            "PMIC0 Manufacturer ID" => put(&mut r.pmic_maker, value, place, notes, maker_code),
            "PMIC0 Revision Number" => put_text(&mut r.pmic_revision, value, place, notes),
            "RCD Manufacturer ID" => put(&mut r.rcd_maker, value, place, notes, maker_code),
            "RCD Revision Number" => put_text(&mut r.rcd_revision, value, place, notes),
            _ => {}
        }
    }
    r
}

pub(super) fn array(head: Head, block: &Block<'_>, notes: &mut Notes) -> MemoryArray {
    let mut r = MemoryArray { head, ..MemoryArray::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        match key {
            "Location" => put(&mut r.location, value, place, notes, ArrayLocation::parse),
            "Use" => put(&mut r.usage, value, place, notes, ArrayUse::parse),
            "Error Correction Type" => {
                put(&mut r.error_correction, value, place, notes, ErrorCorrection::parse);
            }
            "Maximum Capacity" => put(&mut r.maximum_capacity, value, place, notes, Bytes::parse),
            "Error Information Handle" => put(&mut r.error_handle, value, place, notes, handle),
            "Number Of Devices" => put(&mut r.device_count, value, place, notes, |v| v.parse().ok()),
            _ => {}
        }
    }
    r
}

pub(super) fn array_range(head: Head, block: &Block<'_>, notes: &mut Notes) -> ArrayRange {
    let mut r = ArrayRange { head, ..ArrayRange::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        match key {
            "Starting Address" => put(&mut r.start, value, place, notes, address),
            "Ending Address" => put(&mut r.end, value, place, notes, address),
            "Physical Array Handle" => put(&mut r.array_handle, value, place, notes, handle),
            _ => {}
        }
    }
    r
}

pub(super) fn device_range(head: Head, block: &Block<'_>, notes: &mut Notes) -> DeviceRange {
    let mut r = DeviceRange { head, ..DeviceRange::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        match key {
            "Starting Address" => put(&mut r.start, value, place, notes, address),
            "Ending Address" => put(&mut r.end, value, place, notes, address),
            "Physical Device Handle" => put(&mut r.device_handle, value, place, notes, handle),
            "Memory Array Mapped Address Handle" => {
                put(&mut r.array_range_handle, value, place, notes, handle);
            }
            _ => {}
        }
    }
    r
}

impl fmt::Display for MakerCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bank {}, code {:#04x}", self.bank, self.code)
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
