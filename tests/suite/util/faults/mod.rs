//! Faults put into the text of a real listing, whose own plan is the truth: one thing changed, or several.
//!
//! `change.rs` has what can be changed, `reading.rs` what must be found of it, `judge.rs` compares that with what is.

mod change;
mod judge;
mod reading;

use asfitted::evidence::Text;
use asfitted::plan::{Demand, ModuleSpec, Plan};
use asfitted::population::{Location, Population, Slot, SlotState};
use asfitted::records::{Listing, MemoryDevice};

use crate::util::edit::Lines;

pub use change::{Change, FIELDS, numbers};
pub use judge::{Told, judge, tell};
pub use reading::{Content, Expected};

/// A listing that is taken as the truth.
pub struct Machine<'m, 'a> {
    pub listing: &'m Listing<'a>,
    pub population: &'m Population<'a>,
    pub plan: &'m Plan,
    pub lines: Lines,
    /// Slots with a module that runs.
    pub fitted: Vec<usize>,
    /// Slots that are empty.
    pub empty: Vec<usize>,
}

impl<'m, 'a> Machine<'m, 'a> {
    /// `None` for a machine with fewer than two modules.
    pub fn of(
        text: &Text,
        listing: &'m Listing<'a>,
        population: &'m Population<'a>,
        plan: &'m Plan,
    ) -> Option<Self> {
        let of = |want: fn(&SlotState<'_>) -> bool| -> Vec<usize> {
            (0..population.slots.len()).filter(|slot| want(&population.slots[*slot].state)).collect()
        };
        let fitted = of(|state| matches!(state, SlotState::Fitted(_)));
        let empty = of(|state| matches!(state, SlotState::Empty));
        let lines = Lines::of(text.as_str());
        (fitted.len() > 1).then_some(Self { listing, population, plan, lines, fitted, empty })
    }

    pub fn device(&self, slot: usize) -> &'m MemoryDevice<'a> {
        &self.listing.devices[self.population.slots[slot].device]
    }

    pub fn name(&self, slot: usize) -> String {
        self.population.slots[slot].name.to_string()
    }

    pub fn slot(&self, slot: usize) -> &'m Slot<'a> {
        &self.population.slots[slot]
    }

    pub fn at(&self, slot: usize) -> Location<'a> {
        self.population.slots[slot].location
    }

    /// What the plan demands of a slot's module.
    pub fn planned(&self, slot: usize) -> Option<&'m ModuleSpec> {
        match &self.plan.demand(&self.slot(slot).name)?.demand {
            Demand::Module(wanted) => Some(wanted),
            Demand::Empty | Demand::Idle => None,
        }
    }

    /// Slots with a module at such a place.
    pub fn fitted_at(&self, same: impl Fn(&Location<'a>) -> bool) -> Vec<usize> {
        self.fitted.iter().copied().filter(|slot| same(&self.at(*slot))).collect()
    }

    /// Slots with a module on the same socket.
    pub fn socket_of(&self, slot: usize) -> Vec<usize> {
        let here = self.at(slot);
        self.fitted_at(|other| other.socket == here.socket)
    }

    /// Slots with a module on the same channel; none where the labels prove no channel.
    pub fn channel_of(&self, slot: usize) -> Vec<usize> {
        let here = self.at(slot);
        self.fitted_at(|other| {
            other.socket == here.socket && here.channel.is_some() && other.channel == here.channel
        })
    }

    /// Whether a slot's label is the firmware's word for an empty slot only: filled, the slot has another name.
    pub fn is_nameless(&self, slot: usize) -> bool {
        let name = &self.slot(slot).name;
        ["NO DIMM", "[Empty]", "unlabelled"].iter().any(|word| name.starts_with(word))
    }

    /// The text with all of these changes. What is set everywhere is set first, so that modules take it with them.
    pub fn changed(&self, changes: &[Change]) -> String {
        let mut lines = self.lines.clone();
        let (everywhere, single): (Vec<&Change>, Vec<&Change>) =
            changes.iter().partition(|change| change.is_everywhere());
        for change in everywhere {
            change.apply(self, &mut lines, &self.lines);
        }
        let source = lines.clone();
        for change in single {
            change.apply(self, &mut lines, &source);
        }
        lines.text()
    }
}
