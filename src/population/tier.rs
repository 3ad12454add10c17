//! Which tier of memory a slot belongs to.
//!
//! A machine may have more than main memory: stacks on the processor's package, expanders on a CXL link, modules that
//! keep their contents. Each is summed and compared by itself, and none of them stands in for a missing DIMM.

use super::module::Module;
use super::slots::SlotState;
use crate::records::enums::{ArrayLocation, MemoryType};
use crate::records::{MemoryArray, MemoryDevice};

table! {
    /// A tier of memory.
    pub enum Tier {
        /// What the operating system runs in: modules in slots, or soldered.
        Main = "main",
        /// High-bandwidth memory on the processor's package, which can be a cache in front of main memory.
        Hbm = "hbm",
        /// Memory behind a CXL link.
        Cxl = "cxl",
        /// What keeps its contents without power.
        Persistent = "persistent",
    }
}

impl Tier {
    /// What people read.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Main => "main memory",
            Self::Hbm => "HBM",
            Self::Cxl => "CXL",
            Self::Persistent => "persistent",
        }
    }

    /// The tier of the module that a plan or a listing calls so; main memory where its type and kind say nothing else.
    pub(crate) fn of_type(memory_type: Option<MemoryType>, persistent: bool) -> Self {
        match memory_type {
            Some(memory_type) if memory_type.is_high_bandwidth() => Self::Hbm,
            _ if persistent => Self::Persistent,
            _ => Self::Main,
        }
    }
}

/// The tier of a slot: by its array, by its type, or by what it holds.
///
/// DSP0134 3.9.0, clause 7.17.1 has a location of its own for arrays on CXL add-on cards (A4h), clause 7.18.2 types of
/// their own for HBM. Older releases of dmidecode print such a location as out of specification; then a label with the
/// word `CXL` says the same (common practice, no source).
pub(super) fn tier(device: &MemoryDevice<'_>, array: Option<&MemoryArray>, state: &SlotState<'_>) -> Tier {
    let labels = [device.locator.get(), device.bank_locator.get()];
    let named = labels.into_iter().flatten().any(names_cxl);
    if named || array.is_some_and(|array| array.location.get() == Some(ArrayLocation::CXL)) {
        return Tier::Cxl;
    }
    let module = match state {
        SlotState::Fitted(module) | SlotState::NotRunning(module) => Some(module),
        SlotState::Empty | SlotState::Unknown => None,
    };
    let persistent = module.is_some_and(|module| module.persistent && !module.is_main_memory());
    Tier::of_type(device.memory_type.get(), persistent)
}

fn names_cxl(label: &str) -> bool {
    let mut words = label.split(|c: char| !c.is_ascii_alphabetic());
    words.any(|word| word.eq_ignore_ascii_case("cxl"))
}

impl Module<'_> {
    /// Whether a persistent module is set up as main memory, all of it.
    pub fn is_main_memory(&self) -> bool {
        self.persistent && self.volatile.0 > 0 && self.keeps.0 == 0
    }
}
