//! What a plan asks for in each tier of memory.

use super::Case;
use crate::plan::agreement::could_be;
use crate::plan::{ModuleSpec, PlannedSlot};
use crate::population::{ModuleKind, Population, Tier};
use crate::units::Bytes;

impl Case<'_> {
    /// The tier that a planned module belongs to: that of its slot, or where nothing is in it, what the plan says of it.
    pub(crate) fn tier_of(&self, planned: &PlannedSlot, wanted: &ModuleSpec) -> Tier {
        let slot = self.population.slot(&planned.slot).map(|(_, slot)| slot);
        let by_slot = slot.filter(|slot| slot.fitted().is_some() || slot.tier != Tier::Main);
        by_slot.map_or_else(|| by_word(wanted, &self.population), |slot| slot.tier)
    }

    /// What the plan asks for in a tier: as it states, or the sum of its modules there; `None` where it does not say.
    ///
    /// The total that it states is that of main memory. One that is the sum of all of its modules counts those of the
    /// other tiers, which are taken out of it again.
    pub fn planned_of(&self, tier: Tier) -> Option<Bytes> {
        let expect = &self.plan.expect;
        match tier {
            Tier::Main => match expect.total {
                Some(total) if self.sum_of_modules() != Some(total) => Some(total),
                Some(total) => self.planned_sum(Tier::Main).or(Some(total)),
                None => self.planned_sum(Tier::Main),
            },
            Tier::Hbm => expect.hbm.or_else(|| self.planned_sum(tier)),
            Tier::Cxl => expect.cxl.or_else(|| self.planned_sum(tier)),
            Tier::Persistent => expect.persistent.or_else(|| self.planned_sum(tier)),
        }
    }

    /// What the plan asks for in all tiers.
    pub fn planned_total(&self) -> Option<Bytes> {
        let stated = self.plan.expect.total.filter(|total| self.sum_of_modules() != Some(*total));
        let Some(main) = stated else { return self.plan.planned_total() };
        let others = Tier::ALL.iter().filter(|tier| **tier != Tier::Main);
        Some(others.filter_map(|tier| self.planned_of(*tier)).chain([main]).sum())
    }

    /// The sum of all planned modules, if there are any and each has a size.
    fn sum_of_modules(&self) -> Option<Bytes> {
        let sizes = self.plan.modules().map(|(_, wanted)| wanted.size);
        self.plan.modules().next().and_then(|_| sizes.sum())
    }

    /// The sum of the planned modules of a tier, if there are any and each has a size. A module that is there as
    /// planned counts with what it gives to the tier, which for persistent modules is less than what is on the label.
    fn planned_sum(&self, tier: Tier) -> Option<Bytes> {
        let parts = self.plan.modules().map(|(planned, wanted)| {
            let slot = self.population.slot(&planned.slot).map(|(_, slot)| slot);
            let there = slot.and_then(|slot| Some((slot, slot.fitted()?)));
            let size = wanted.size?;
            Some(match there.filter(|(_, module)| could_be(wanted, module)) {
                Some((slot, module)) if module.bytes().is_some() => {
                    self.population.part_of(slot, module, tier)
                }
                _ if self.tier_of(planned, wanted) == tier => size,
                _ => Bytes(0),
            })
        });
        let sum: Bytes = parts.sum::<Option<Bytes>>()?;
        (sum.0 > 0).then_some(sum)
    }
}

/// A persistent module that is not there would be main memory where the others are.
fn by_word(wanted: &ModuleSpec, population: &Population<'_>) -> Tier {
    let persistent = wanted.kind == Some(ModuleKind::Nvdimm) && population.totals.volatile.0 == 0;
    Tier::of_type(wanted.memory_type, persistent)
}
