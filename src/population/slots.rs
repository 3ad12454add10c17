//! The memory of one machine: its slots, what they hold, and its sockets.

use std::borrow::Cow;

use super::module::Module;
use super::observation::Observation;
use super::tier::Tier;
use super::topology::Location;
use super::totals::Totals;
use super::trace::Trace;
use crate::records::enums::{ArrayUse, ErrorCorrection, ProcessorStatus};
use crate::records::{Listing, MemoryArray};
use crate::units::Bytes;

/// One slot for main memory.
#[derive(Debug, Clone)]
pub struct Slot<'a> {
    /// Unique name: the Locator, trimmed and with runs of spaces collapsed; where that repeats, with the
    /// Bank Locator (`LOCATOR @ BANK`), and as a last resort with its number among its equals.
    pub name: Cow<'a, str>,
    /// Where it is, as far as proven.
    pub location: Location<'a>,
    /// What it holds.
    pub state: SlotState<'a>,
    /// Index of its record in [`Listing::devices`](crate::records::Listing::devices).
    pub device: usize,
    /// Index of its array in [`Listing::arrays`](crate::records::Listing::arrays).
    pub array: Option<usize>,
    /// What its record states of a module although it states no size.
    pub trace: Option<Trace>,
    /// The tier of memory it belongs to.
    pub tier: Tier,
    pub(super) nameless: bool,
}

/// What a slot holds.
#[derive(Debug, Clone, PartialEq)]
pub enum SlotState<'a> {
    /// Nothing, by its Size.
    Empty,
    /// A module whose memory is in use.
    Fitted(Module<'a>),
    /// Size says empty, yet the firmware names a module there: it read the module and does not use it.
    NotRunning(Module<'a>),
    /// The listing does not say whether a module is there.
    Unknown,
}

impl<'a> Slot<'a> {
    /// The module whose memory is in use, if there is one.
    pub fn fitted(&self) -> Option<&Module<'a>> {
        match &self.state {
            SlotState::Fitted(module) => Some(module),
            SlotState::Empty | SlotState::NotRunning(_) | SlotState::Unknown => None,
        }
    }

    /// Whether it takes a DIMM: neither memory on the package nor a device behind a CXL link.
    pub fn takes_dimms(&self) -> bool {
        matches!(self.tier, Tier::Main | Tier::Persistent)
    }

    /// The module that is there, whether its memory is in use or not.
    pub fn module(&self) -> Option<&Module<'a>> {
        match &self.state {
            SlotState::Fitted(module) | SlotState::NotRunning(module) => Some(module),
            SlotState::Empty | SlotState::Unknown => None,
        }
    }

    /// Whether the slot is empty and its label is only the firmware's word for that, so that its real name is
    /// not in the listing.
    pub fn is_nameless(&self) -> bool {
        self.nameless
    }

    /// One word for reports and JSON.
    pub fn state_word(&self) -> &'static str {
        match self.state {
            SlotState::Empty => "empty",
            SlotState::Fitted(_) => "fitted",
            SlotState::NotRunning(_) => "not-running",
            SlotState::Unknown => "unknown",
        }
    }
}

/// A processor socket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Socket<'a> {
    /// The number that slot labels use for it, where the two numberings can be matched.
    pub number: Option<u16>,
    /// Its label.
    pub label: Option<&'a str>,
    /// Processor model.
    pub processor: Option<&'a str>,
    /// Whether a processor runs there; `None` where the listing does not say.
    pub status: Option<ProcessorStatus>,
    /// Index of its record in [`Listing::processors`](crate::records::Listing::processors).
    pub record: usize,
}

/// The memory of one machine as its listing proves it.
#[derive(Debug, Clone, Default)]
pub struct Population<'a> {
    /// All slots for main memory, in the order of the listing.
    pub slots: Vec<Slot<'a>>,
    /// Processor sockets; empty where the listing has no processor records.
    pub sockets: Vec<Socket<'a>>,
    /// Sums.
    pub totals: Totals,
    /// The weakest error correction that an array of main memory states.
    pub error_correction: Option<ErrorCorrection>,
    /// Contradictions and oddities, for the person who reads the report.
    pub observations: Vec<Observation>,
    /// Slots with a module that may be the module of an earlier slot, its record having been printed twice: the
    /// listing has no handles, and all that the two records state is the same. Later slot first.
    pub doubled: Vec<(usize, usize)>,
    /// Indices of the slots in the order of their names; empty where there are few, which need no index.
    pub(super) by_name: Vec<usize>,
}

/// From this number of slots on, names are looked up in an index.
const MANY_SLOTS: usize = 64;

impl<'a> Population<'a> {
    /// The first array of main memory that states no error correction. One that does not state its use may be for
    /// something else, unless it has all slots and no other array can be main memory.
    pub(crate) fn uncorrected<'l>(&self, listing: &'l Listing<'_>) -> Option<&'l MemoryArray> {
        let stated = |array: &MemoryArray| {
            array.usage.get().filter(|usage| usage.says_something()).map(ArrayUse::may_be_memory)
        };
        let alone = listing.arrays.iter().filter(|array| stated(array) != Some(false)).count() == 1;
        let holds = |index| self.slots.iter().all(|slot| slot.array == Some(index));
        let none = |array: &MemoryArray| array.error_correction.get() == Some(ErrorCorrection::NONE);
        let mut arrays = listing
            .arrays
            .iter()
            .enumerate()
            .filter(|(index, array)| none(array) && !self.is_of_other_tiers(*index));
        let is_memory =
            |(index, array): &(usize, &MemoryArray)| stated(array).unwrap_or_else(|| alone && holds(*index));
        arrays.find(is_memory).map(|(_, array)| array)
    }

    /// Whether the memory is under error correction: `Some(true)` where every array of main memory states that it
    /// corrects and every module is in one of them, `Some(false)` where one states that it does not, `None` where the
    /// listing leaves that open.
    pub fn correction(&self, listing: &Listing<'_>) -> Option<bool> {
        if self.uncorrected(listing).is_some() {
            return Some(false);
        }
        let usage = |(index, array): &(usize, &MemoryArray)| {
            array.usage.get().is_none_or(ArrayUse::may_be_memory) && !self.is_of_other_tiers(*index)
        };
        let mut stated =
            listing.arrays.iter().enumerate().filter(usage).map(|(_, array)| array.error_correction.get());
        // Without handles it may be open which array a module belongs to, and then all of them count.
        let listed = |(slot, _): (&Slot<'_>, &Module<'_>)| slot.array.is_some() || !listing.has_handles;
        let all = stated.clone().next().is_some()
            && stated.all(|correction| correction.is_some_and(ErrorCorrection::corrects))
            && self.dimms().all(listed);
        all.then_some(true)
    }

    /// Whether an array holds nothing but memory on the package or behind a link, which corrects by itself.
    fn is_of_other_tiers(&self, array: usize) -> bool {
        let mut own = self.slots.iter().filter(|slot| slot.array == Some(array)).peekable();
        own.peek().is_some() && own.all(|slot| !slot.takes_dimms())
    }

    /// What a module gives to a tier. A persistent one may be divided between two; DRAM that is only a cache is no main
    /// memory, and the memory of the package is where there is no other.
    pub fn part_of(&self, slot: &Slot<'_>, module: &Module<'_>, tier: Tier) -> Bytes {
        let size = module.bytes().unwrap_or_default();
        let all = |own: bool| if own { size } else { Bytes(0) };
        match (slot.tier, tier) {
            (Tier::Hbm, Tier::Main) => all(self.totals.dram.0 + self.totals.volatile.0 == 0),
            (Tier::Hbm | Tier::Cxl, _) => all(slot.tier == tier),
            (_, Tier::Main) if module.persistent => module.volatile,
            (_, Tier::Persistent) if module.persistent => module.keeps,
            (_, Tier::Main) => all(self.totals.cache().0 == 0),
            (_, _) => Bytes(0),
        }
    }

    /// The slot of that name.
    pub fn slot(&self, name: &str) -> Option<(usize, &Slot<'a>)> {
        if self.by_name.len() != self.slots.len() {
            return self.slots.iter().enumerate().find(|(_, slot)| slot.name == name);
        }
        let at = self.by_name.binary_search_by(|index| self.slots[*index].name.as_ref().cmp(name)).ok()?;
        let index = *self.by_name.get(at)?;
        Some((index, self.slots.get(index)?))
    }

    /// Makes the index of names.
    pub(super) fn index_names(&mut self) {
        if self.slots.len() >= MANY_SLOTS {
            self.by_name = (0..self.slots.len()).collect();
            self.by_name.sort_by(|a, b| self.slots[*a].name.cmp(&self.slots[*b].name));
        }
    }

    /// The slots that hold a module whose memory is in use, with the module.
    pub fn fitted(&self) -> impl Iterator<Item = (&Slot<'a>, &Module<'a>)> {
        self.slots.iter().filter_map(|slot| slot.fitted().map(|module| (slot, module)))
    }

    /// As [`Self::fitted`], of the slots that take DIMMs: not on the package, and not behind a CXL link.
    pub fn dimms(&self) -> impl Iterator<Item = (&Slot<'a>, &Module<'a>)> {
        self.fitted().filter(|(slot, _)| slot.takes_dimms())
    }

    /// Slots in the order in which a person looks for them: by socket, channel and position, then by number,
    /// then as listed.
    pub fn in_board_order(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.slots.len()).collect();
        order.sort_by_key(|index| self.slots[*index].location.board_key());
        order
    }
}
