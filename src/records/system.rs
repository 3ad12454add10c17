//! BIOS Information (type 0), System Information (type 1), Base Board Information (type 2), Processor Information (type 4).

use super::body::{Line, lines};
use super::field::Field;
use super::head::Head;
use super::values::text;
use crate::enums::ProcessorStatus;
use crate::evidence::Block;

/// BIOS Information, type 0, clause 7.1: the machine's firmware.
#[derive(Debug, Clone, Default)]
pub struct Firmware<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// Who made it.
    pub vendor: Field<&'a str>,
    /// Its version.
    pub version: Field<&'a str>,
    /// Its date, as printed: month, day and year.
    pub date: Field<&'a str>,
    /// Its release by numbers, where it states one.
    pub revision: Field<&'a str>,
}

/// System Information, type 1, clause 7.2.
#[derive(Debug, Clone, Default)]
pub struct System<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// Maker of the machine.
    pub manufacturer: Field<&'a str>,
    /// Product name.
    pub product: Field<&'a str>,
    /// Version.
    pub version: Field<&'a str>,
    /// Serial number.
    pub serial: Field<&'a str>,
    /// UUID as printed.
    pub uuid: Field<&'a str>,
    /// Stock-keeping number.
    pub sku: Field<&'a str>,
    /// Family.
    pub family: Field<&'a str>,
}

/// Base Board Information, type 2, clause 7.3. Optional; may repeat.
#[derive(Debug, Clone, Default)]
pub struct Board<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// Maker of the board.
    pub manufacturer: Field<&'a str>,
    /// Board name.
    pub product: Field<&'a str>,
    /// Board revision.
    pub version: Field<&'a str>,
    /// Serial number.
    pub serial: Field<&'a str>,
    /// Asset tag.
    pub asset_tag: Field<&'a str>,
    /// Kind of board as printed, for example `Motherboard`.
    pub kind: Field<&'a str>,
}

/// Processor Information, type 4, clause 7.5. One record per socket, also for an empty one.
#[derive(Debug, Clone, Default)]
pub struct Processor<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// Label of the socket.
    pub socket: Field<&'a str>,
    /// Maker.
    pub manufacturer: Field<&'a str>,
    /// Model text.
    pub version: Field<&'a str>,
    /// Whether a processor is there and runs.
    pub status: Field<ProcessorStatus>,
}

pub(super) fn firmware<'a>(head: Head, block: &Block<'a>) -> Firmware<'a> {
    let mut record = Firmware { head, ..Firmware::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        let field = match key {
            "Vendor" => &mut record.vendor,
            "Version" => &mut record.version,
            "Release Date" => &mut record.date,
            "BIOS Revision" => &mut record.revision,
            _ => continue,
        };
        *field = text(value, place);
    }
    record
}

pub(super) fn system<'a>(head: Head, block: &Block<'a>) -> System<'a> {
    let mut record = System { head, ..System::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        let field = match key {
            "Manufacturer" => &mut record.manufacturer,
            "Product Name" => &mut record.product,
            "Version" => &mut record.version,
            "Serial Number" => &mut record.serial,
            "UUID" => &mut record.uuid,
            "SKU Number" => &mut record.sku,
            "Family" => &mut record.family,
            _ => continue,
        };
        *field = text(value, place);
    }
    record
}

pub(super) fn board<'a>(head: Head, block: &Block<'a>) -> Board<'a> {
    let mut record = Board { head, ..Board::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        let field = match key {
            "Manufacturer" => &mut record.manufacturer,
            "Product Name" => &mut record.product,
            "Version" => &mut record.version,
            "Serial Number" => &mut record.serial,
            "Asset Tag" => &mut record.asset_tag,
            "Type" => &mut record.kind,
            _ => continue,
        };
        *field = text(value, place);
    }
    record
}

pub(super) fn processor<'a>(head: Head, block: &Block<'a>) -> Processor<'a> {
    let mut record = Processor { head, ..Processor::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        match key {
            "Socket Designation" => record.socket = text(value, place),
            "Manufacturer" => record.manufacturer = text(value, place),
            "Version" => record.version = text(value, place),
            "Status" => record.status = Field::read(ProcessorStatus::parse(value), place),
            _ => {}
        }
    }
    record
}
