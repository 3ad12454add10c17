//! One listing: the records of one machine and what was noticed while reading.

use super::device::MemoryDevice;
use super::field::Field;
use super::memory::{ArrayRange, DeviceRange, MemoryArray, MemoryError};
use super::note::Note;
use super::system::{Board, Firmware, Processor, System};
use crate::evidence::{Place, line_at};

/// The records of one machine as stated. Borrows from the input.
#[derive(Debug, Clone, Default)]
pub struct Listing<'a> {
    /// The text the records come from; every [`Place`] points into it.
    pub(super) text: &'a str,
    /// Release of dmidecode, for example `3.3`; may carry a suffix.
    pub dmidecode: Field<&'a str>,
    /// SMBIOS version that the firmware announces, for example `3.2.1`.
    pub smbios: Field<&'a str>,
    /// Type 0; more than one is unusual.
    pub firmware: Vec<Firmware<'a>>,
    /// Type 1; more than one is unusual.
    pub systems: Vec<System<'a>>,
    /// Type 2.
    pub boards: Vec<Board<'a>>,
    /// Type 4, one per socket.
    pub processors: Vec<Processor<'a>>,
    /// Type 16.
    pub arrays: Vec<MemoryArray>,
    /// Type 17, one per slot.
    pub devices: Vec<MemoryDevice<'a>>,
    /// Types 18 and 33.
    pub errors: Vec<MemoryError<'a>>,
    /// Type 19.
    pub array_ranges: Vec<ArrayRange>,
    /// Type 20.
    pub device_ranges: Vec<DeviceRange>,
    /// What was noticed.
    pub notes: Vec<Note>,
    /// Whether the handle lines are printed; the quiet format has none.
    pub has_handles: bool,
    /// Whether the end record is there; partial listings and the quiet format have none.
    pub has_end: bool,
}

impl<'a> Listing<'a> {
    /// The line at `place`, trimmed: the text of a piece of evidence.
    pub fn line(&self, place: Place) -> &'a str {
        line_at(self.text, place).trim_ascii()
    }

    /// The value printed at `place`, trimmed: what comes after the first colon.
    pub fn value(&self, place: Place) -> &'a str {
        let line = self.line(place);
        line.split_once(':').map_or(line, |(_, value)| value.trim_ascii())
    }

    /// Whether the listing holds no record of any type that is read.
    pub fn is_empty(&self) -> bool {
        self.firmware.is_empty()
            && self.systems.is_empty()
            && self.boards.is_empty()
            && self.processors.is_empty()
            && self.arrays.is_empty()
            && self.devices.is_empty()
            && self.errors.is_empty()
            && self.array_ranges.is_empty()
            && self.device_ranges.is_empty()
    }

    /// The error record that a device or an array points to.
    pub fn error(&self, handle: Field<u16>) -> Option<&MemoryError<'a>> {
        let handle = handle.get()?;
        self.errors.iter().find(|error| error.head.handle == Some(handle))
    }

    /// Whether damage may hide records.
    pub fn may_miss_records(&self) -> bool {
        self.notes.iter().any(|note| note.kind.hides_records())
    }

    /// Where the listing starts: its header, or its first record of a type that is read.
    pub(crate) fn start(&self) -> Option<Place> {
        let heads = [
            self.firmware.first().map(|r| r.head),
            self.systems.first().map(|r| r.head),
            self.boards.first().map(|r| r.head),
            self.processors.first().map(|r| r.head),
            self.arrays.first().map(|r| r.head),
            self.devices.first().map(|r| r.head),
        ];
        let first = heads.into_iter().flatten().map(|head| head.place).min();
        self.dmidecode.place().or(self.smbios.place()).or(first)
    }

    /// The record types that are present, as bits of their numbers.
    pub(super) fn types(&self) -> u32 {
        // What is said of the firmware alone makes no second machine.
        u32::from(!self.systems.is_empty()) << 1
            | u32::from(!self.boards.is_empty()) << 2
            | u32::from(!self.processors.is_empty()) << 4
            | u32::from(!self.arrays.is_empty()) << 16
            | u32::from(!self.devices.is_empty()) << 17
            // Type 33 says the same in more bits.
            | u32::from(!self.errors.is_empty()) << 18
            | u32::from(!self.array_ranges.is_empty()) << 19
            | u32::from(!self.device_ranges.is_empty()) << 20
    }

    /// Whether two listings hold the same records, word for word. Anything that differs, a speed as well as a
    /// size, makes the second one another state of the machine.
    pub(super) fn same_records(&self, other: &Self) -> bool {
        let blocks = |listing: &Self| -> Vec<Vec<&'a str>> {
            let heads = [
                listing.firmware.iter().map(|r| r.head).collect::<Vec<_>>(),
                listing.systems.iter().map(|r| r.head).collect(),
                listing.boards.iter().map(|r| r.head).collect(),
                listing.processors.iter().map(|r| r.head).collect(),
                listing.arrays.iter().map(|r| r.head).collect(),
                listing.devices.iter().map(|r| r.head).collect(),
                listing.errors.iter().map(|r| r.head).collect(),
                listing.array_ranges.iter().map(|r| r.head).collect(),
                listing.device_ranges.iter().map(|r| r.head).collect(),
            ];
            heads.concat().into_iter().map(|head| listing.block(head.place)).collect()
        };
        blocks(self) == blocks(other)
    }

    /// The lines of the record at `place`: up to the next empty line, record or header.
    fn block(&self, place: Place) -> Vec<&'a str> {
        let ends = |line: &&str| {
            let starts = ["Handle ", "# ", "SMBIOS ", "Legacy DMI "];
            line.trim().is_empty() || starts.iter().any(|start| line.starts_with(start))
        };
        let mut lines = self.text.get(place.offset as usize..).unwrap_or("").lines();
        lines.next().into_iter().chain(lines.take_while(|line| !ends(line))).collect()
    }

    /// Takes over the records of `other`, which has none of the types this listing has.
    pub(super) fn join(&mut self, other: Self) {
        self.firmware.extend(other.firmware);
        self.systems.extend(other.systems);
        self.boards.extend(other.boards);
        self.processors.extend(other.processors);
        self.arrays.extend(other.arrays);
        self.devices.extend(other.devices);
        self.errors.extend(other.errors);
        self.array_ranges.extend(other.array_ranges);
        self.device_ranges.extend(other.device_ranges);
        self.has_end |= other.has_end;
        for note in other.notes {
            if !self.notes.iter().any(|n| n.kind == note.kind) {
                self.notes.push(note);
            }
        }
        if self.dmidecode.stated().is_none() {
            self.dmidecode = other.dmidecode;
        }
        if self.smbios.stated().is_none() {
            self.smbios = other.smbios;
        }
    }
}
