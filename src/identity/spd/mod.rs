//! What a memory module says of itself: the contents of its EEPROM, SPD for short (serial presence detect).
//!
//! Contents are read as they are laid out for each generation, DDR2 to DDR5. What a code means is in `tables.rs`; where
//! it can be odd, the stored value stays beside what it means. The layouts are known from open code that cites them; the
//! standards themselves were not read, so nothing here is `published`.

mod check;
mod coded;
mod ddr2;
mod ddr3;
mod ddr4;
mod ddr5;
mod error;
mod file;
mod identity;
mod length;
mod organisation;
mod tables;
mod text;

use crate::enums::MemoryType;
use crate::units::{Millivolts, TransferRate};

use super::{Certainty, Known, ModuleKind};

pub use check::{Check, Method, Outcome};
pub use error::SpdError;
pub use file::contents;
pub use identity::{Identity, Maker, ManufactureDate, SpdText};
pub use organisation::{Organisation, Stack};

/// A field as stored, and what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field<T> {
    /// The value as stored.
    pub raw: u32,
    /// What it means; `None` where the code is not known.
    pub value: Option<Known<T>>,
}

impl<T> Default for Field<T> {
    fn default() -> Self {
        Self { raw: 0, value: None }
    }
}

impl<T> Field<T> {
    fn new(raw: u32, value: Option<T>, certainty: Certainty) -> Self {
        Self { raw, value: value.map(|value| Known { value, certainty }) }
    }

    /// As several independent readers of open code have it.
    fn agreed(raw: u32, value: Option<T>) -> Self {
        Self::new(raw, value, Certainty::Secondary)
    }
}

/// The kind of module that contents state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// Its name.
    pub name: &'static str,
    /// How its lines are driven, where it is one of the kinds that servers take.
    pub kind: Option<ModuleKind>,
}

/// A supply of the module.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Supply {
    /// Its name: `VDD`, `VDDQ` or `VPP`.
    pub name: &'static str,
    /// A voltage at which it works; there may be several of one name.
    pub voltage: Known<Millivolts>,
}

impl Supply {
    /// The main supply, as several readers have it.
    const fn vdd(millivolts: u32) -> Self {
        Self {
            name: "VDD",
            voltage: Known { value: Millivolts(millivolts), certainty: Certainty::Secondary },
        }
    }
}

/// The contents of a module's EEPROM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spd {
    /// Generation, by the key byte.
    pub generation: MemoryType,
    /// How many bytes there are.
    pub length: usize,
    /// Revision of the layout: the major number in the high half of the byte, the minor in the low one.
    pub layout_revision: u8,
    /// Kind of module.
    pub form: Field<Form>,
    /// What else is on a module that is more than DRAM, such as an NVDIMM.
    pub hybrid: Option<Field<&'static str>>,
    /// Dies, ranks, lines and size.
    pub organisation: Organisation,
    /// The shortest clock cycle, in picoseconds.
    pub cycle: Field<u32>,
    /// The rated speed; `None` where no grade is within 1 % of what the cycle gives.
    pub rated: Option<Known<TransferRate>>,
    /// The voltages that it is made for, as stored.
    pub supplies_raw: Vec<u8>,
    /// The voltages that it is made for.
    pub supplies: Vec<Supply>,
    /// The maker of the register or buffer; `None` for kinds without one.
    pub register: Option<Maker>,
    /// Maker, serial number and the like; `None` where the contents end before them.
    pub identity: Option<Identity>,
    /// The checks that the layout has.
    pub checks: Vec<Check>,
}

impl Spd {
    /// Whether a check shows that bytes have changed since they were written.
    pub fn is_damaged(&self) -> bool {
        self.checks.iter().any(|check| matches!(check.outcome(), Outcome::Wrong { .. }))
    }

    /// Whether a check covers maker, date and serial number; none covers the part number. Only DDR3 may have it: in
    /// other layouts, and mostly there, these bytes can change with every check still right.
    pub fn identity_is_covered(&self) -> bool {
        let identity = self.identity.as_ref();
        identity.is_some_and(|identity| self.checks.iter().any(|check| check.covers(identity.serial_at)))
    }

    /// The rate that the cycle gives, before it is taken to a grade: 938 ps are 2132 MT/s.
    pub fn unrounded_rate(&self) -> Option<u32> {
        2_000_000_u32.checked_div(self.cycle.value?.value)
    }
}

/// Reads contents as a module holds them.
///
/// # Errors
///
/// [`SpdError`] where the bytes are no contents of DDR2 to DDR5, or not all of them.
///
/// # Examples
///
/// ```
/// use asfitted::identity::spd;
///
/// let error = spd::read(&[0xFF; 512]).unwrap_err();
/// assert!(error.to_string().contains("nothing answered"));
/// ```
pub fn read(bytes: &[u8]) -> Result<Spd, SpdError> {
    let (layout, bytes) = length::own(bytes)?;
    let read = match layout.generation {
        MemoryType::DDR2 => ddr2::read(bytes),
        MemoryType::DDR2_FB => ddr3::read_fully_buffered(bytes),
        MemoryType::DDR3 => ddr3::read(bytes),
        MemoryType::DDR4 => ddr4::read(bytes),
        _ => ddr5::read(bytes),
    };
    read.ok_or(SpdError::Length {
        found: bytes.len(),
        generation: layout.generation.name(),
        expected: layout.lengths_in_words,
    })
}

/// Reads what a file holds: the bytes themselves, or a dump of them as text.
///
/// # Errors
///
/// [`SpdError`] as [`read`] and [`contents`] have it.
pub fn read_file(file: &[u8]) -> Result<Spd, SpdError> {
    read(&contents(file)?)
}

/// The grade of a cycle. Above 6400 the sources are few.
fn rated(cycle: Field<u32>) -> Option<Known<TransferRate>> {
    let Known { value, certainty } = cycle.value?;
    let rate = TransferRate::from_cycle(value)?;
    let certainty = if rate.0 > 6400 { certainty.max(Certainty::Inferred) } else { certainty };
    Some(Known { value: rate, certainty })
}

#[cfg(test)]
mod tests;
