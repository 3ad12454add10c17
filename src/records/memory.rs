//! Memory arrays, their errors and mapped addresses: Physical Memory Array (type 16), Memory Error Information (types 18
//! and 33), mapped addresses (types 19 and 20).

use super::body::{Line, lines};
use super::field::Field;
use super::head::Head;
use super::note::Notes;
use super::values::{address, handle, put, put_text};
use crate::enums::{ArrayLocation, ArrayUse, ErrorCorrection, ErrorType};
use crate::evidence::Block;
use crate::units::Bytes;

/// Physical Memory Array, type 16, clause 7.17: a group of slots.
#[derive(Debug, Clone, Default)]
pub struct MemoryArray {
    /// Handle, length, place.
    pub head: Head,
    /// Where the array is; nearly always the system board, so it never distinguishes sockets.
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

/// Memory Error Information, types 18 (32 bits, clause 7.19) and 33 (64 bits, clause 7.34): the last error that firmware
/// knows of a device or an array, which points here.
#[derive(Debug, Clone, Default)]
pub struct MemoryError<'a> {
    /// Handle, length, place.
    pub head: Head,
    /// What kind of error.
    pub kind: Field<ErrorType>,
    /// How much of the memory it concerns, as printed.
    pub granularity: Field<&'a str>,
    /// What was done when it came up, as printed.
    pub operation: Field<&'a str>,
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

pub(super) fn error<'a>(head: Head, block: &Block<'a>, notes: &mut Notes) -> MemoryError<'a> {
    let mut r = MemoryError { head, ..MemoryError::default() };
    for line in lines(block) {
        let Line::Field { key, value, place } = line else { continue };
        match key {
            "Type" => put(&mut r.kind, value, place, notes, ErrorType::parse),
            "Granularity" => put_text(&mut r.granularity, value, place, notes),
            "Operation" => put_text(&mut r.operation, value, place, notes),
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
