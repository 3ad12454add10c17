//! Memory Device (type 17).

use super::body::{Line, lines};
use super::field::Field;
use super::head::Head;
use super::note::{NoteKind, Notes};
use super::values::{
    DeviceSize, MakerCode, device_size, handle, maker_code, part_size, put, put_text, rate, set_number, width,
};
use crate::enums::{FormFactor, MemoryTechnology, MemoryType, TypeDetail};
use crate::evidence::Block;
use crate::units::{Bytes, Millivolts, TransferRate};

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

/// A revision as printed; `Unknown` is none.
fn revision(value: &str) -> Option<&str> {
    (value != "Unknown").then_some(value)
}

pub(super) fn device<'a>(head: Head, block: &Block<'a>, notes: &mut Notes) -> MemoryDevice<'a> {
    let mut r = MemoryDevice { head, ..MemoryDevice::default() };
    for line in lines(block) {
        let (key, value, place) = match line {
            Line::Field { key, value, place } => (key, value, place),
            Line::Bare { text, place } => {
                // The title of the two-line handle format and the truncation marker are not scrubbed fields.
                if text != block.title && text != "<TRUNCATED>" {
                    notes.add(NoteKind::ScrubbedLines, Some(place));
                }
                continue;
            }
        };
        // Longer than other functions since the record has so many keys; it is a table and reads line by line.
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
            // The second keys are those of releases that read the number of DDR5 modules; the type number is left out.
            "PMIC0 Revision Number" | "PMIC0 Device Revision" => {
                put(&mut r.pmic_revision, value, place, notes, revision);
            }
            "RCD Manufacturer ID" => put(&mut r.rcd_maker, value, place, notes, maker_code),
            "RCD Revision Number" | "RCD Device Revision" => {
                put(&mut r.rcd_revision, value, place, notes, revision);
            }
            _ => {}
        }
    }
    r
}
