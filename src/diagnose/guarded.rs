//! Modules that keep their contents without power: what is on them depends on the set and on each module's slot,
//! so they are never moved, permuted or swapped, neither for economy nor for a test (common practice, no source).

use std::collections::HashSet;

use crate::audit::{Finding, FindingKind};
use crate::plan::agreement::could_be;
use crate::plan::{ModuleSpec, Plan};
use crate::population::{Module, ModuleKind, Population};

/// Whether a module keeps its contents without power.
pub(super) fn keeps_contents(module: &Module<'_>) -> bool {
    module.persistent || module.kind == Some(ModuleKind::Nvdimm)
}

/// Whether a machine holds such a module, running or not.
pub fn holds_persistent(population: &Population<'_>) -> bool {
    population.slots.iter().filter_map(|slot| slot.module()).any(keeps_contents)
}

/// Slots whose modules hands leave where they are: each holds such a module, or is planned to.
pub(super) struct Guarded<'g> {
    slots: HashSet<&'g str>,
    population: &'g Population<'g>,
}

impl<'g> Guarded<'g> {
    pub(super) fn new(population: &'g Population<'_>, plan: &'g Plan) -> Self {
        let lasting = population.slots.iter().filter(|slot| slot.module().is_some_and(keeps_contents));
        let mut slots: HashSet<&str> = lasting.map(|slot| slot.name.as_ref()).collect();
        let any = !slots.is_empty();
        let planned = plan.modules().filter(|(_, wanted)| match wanted.kind {
            Some(kind) => kind == ModuleKind::Nvdimm,
            None => any && agrees_with_those_alone(wanted, population),
        });
        slots.extend(planned.map(|(planned, _)| planned.slot.as_str()));
        Self { slots, population }
    }

    pub(super) fn has(&self, slot: &str) -> bool {
        self.slots.contains(slot)
    }

    /// Whether a finding is about such a slot, or about the use of a channel that has one.
    pub(super) fn concerns(&self, finding: &Finding) -> bool {
        if self.slots.is_empty() {
            return false;
        }
        let shares = |slot: &str| {
            let Some(here) = self.population.slot(slot).map(|(_, slot)| slot.location) else { return false };
            here.channel.is_some()
                && self.population.slots.iter().any(|other| {
                    let place = other.location;
                    (place.socket, place.channel) == (here.socket, here.channel) && self.has(&other.name)
                })
        };
        let of_channel = finding.kind == FindingKind::Missing || finding.kind == FindingKind::NotRunning;
        let mut own = finding.slots.iter().chain(&finding.other_slot);
        own.any(|slot| self.has(slot) || of_channel && shares(slot))
    }
}

/// Whether only persistent ones of the detected modules agree with a planned one. Its serial number would single
/// out one module where its kind is asked.
fn agrees_with_those_alone(wanted: &ModuleSpec, population: &Population<'_>) -> bool {
    let kind = ModuleSpec { serial: None, ..wanted.clone() };
    let (mut lasting, mut other) = (false, false);
    for (_, module) in population.fitted().filter(|(_, module)| could_be(&kind, module)) {
        *(if keeps_contents(module) { &mut lasting } else { &mut other }) = true;
    }
    lasting && !other
}
