//! Dies, ranks, lines, and the size that follows from them.

use super::{Certainty, Field, Known};
use crate::units::Bytes;

/// How the dies of a package are stacked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stack {
    /// Dies in a package.
    pub dies: u8,
    /// Whether they share one load on the bus (3DS): then they are ranks within the package's rank, and multiply the
    /// size. Otherwise each is in a rank of its own, which the ranks count already.
    pub is_3ds: bool,
}

impl Stack {
    pub(super) const SINGLE: Self = Self { dies: 1, is_3ds: false };

    /// By how much the stack multiplies size and ranks.
    pub(super) fn height(self) -> u8 {
        if self.is_3ds { self.dies } else { 1 }
    }
}

/// How a module is made up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Organisation {
    /// Megabits of one die.
    pub die: Field<u32>,
    /// Dies in a package.
    pub stack: Field<Stack>,
    /// Ranks of packages; in DDR5 of each sub-channel.
    pub package_ranks: Field<u8>,
    /// Ranks with those that are stacked within a package's. Firmware may count either.
    pub logical_ranks: Option<Known<u8>>,
    /// Whether the ranks are of different sizes.
    pub ranks_differ: bool,
    /// Data lines of a chip.
    pub width: Field<u8>,
    /// The same for odd ranks, where ranks differ and the layout says it.
    pub odd_width: Option<Field<u8>>,
    /// Sub-channels: two in DDR5, otherwise one.
    pub sub_channels: Field<u8>,
    /// Data lines of the module, without those for check bits.
    pub data_lines: Field<u8>,
    /// Lines for check bits.
    pub check_lines: Field<u8>,
    /// Size, without check bits.
    pub size: Option<Known<Bytes>>,
    /// The size of a rank by a field of its own, times ranks (DDR2): where it differs, neither is sure.
    pub other_size: Option<Bytes>,
}

impl Organisation {
    /// Lines of the module as SMBIOS counts the total width: 72 for 64 and 8 check bits.
    pub fn total_lines(&self) -> Option<Known<u8>> {
        let (data, check) = (self.data_lines.value?, self.check_lines.value?);
        Some(Known {
            value: data.value.checked_add(check.value)?,
            certainty: data.certainty.max(check.certainty),
        })
    }

    /// Whether there are lines for check bits.
    pub fn has_check_lines(&self) -> Option<Known<bool>> {
        self.check_lines.value.map(|lines| Known { value: lines.value > 0, certainty: lines.certainty })
    }

    /// Package ranks times the dies that are stacked in each.
    pub(super) fn count_logical_ranks(&self) -> Option<Known<u8>> {
        let (ranks, stack) = (self.package_ranks.value?, self.stack.value?);
        let value = ranks.value.checked_mul(stack.value.height())?;
        Some(Known { value, certainty: ranks.certainty.max(stack.certainty) })
    }

    /// The size of `ranks` ranks of dies of `die` megabits, with all lines and the stack of this module.
    pub(super) fn size_of(&self, die: Field<u32>, width: Field<u8>, ranks: u8) -> Option<Known<Bytes>> {
        let (die, width) = (die.value?, width.value?);
        let (lines, stack, package_ranks) =
            (self.data_lines.value?, self.stack.value?, self.package_ranks.value?);
        if width.value == 0 || !lines.value.is_multiple_of(width.value) {
            return None;
        }
        let chips = u64::from(lines.value / width.value);
        let megabits = u64::from(die.value) * chips * u64::from(ranks) * u64::from(stack.value.height());
        let certainties =
            [die.certainty, width.certainty, lines.certainty, stack.certainty, package_ranks.certainty];
        let certainty = certainties.into_iter().max()?;
        Some(Known { value: Bytes(megabits * Bytes::MIB / 8), certainty })
            .filter(|size| size.value.is_plausible())
    }
}

/// `4 << code`, for codes 0 to 3: the data lines of a chip in DDR3 and later.
pub(super) fn chip_width(code: u8) -> Field<u8> {
    Field::agreed(u32::from(code), (code <= 3).then(|| 4 << code))
}

/// `8 << code`, for codes 0 to 3: the data lines of a bus in DDR3 and later.
pub(super) fn bus_width(code: u8) -> Field<u8> {
    Field::agreed(u32::from(code), (code <= 3).then(|| 8 << code))
}

/// A property as sure as `known` at most.
pub(super) fn at_most<T>(known: Known<T>, certainty: Certainty) -> Known<T> {
    Known { certainty: known.certainty.max(certainty), ..known }
}
