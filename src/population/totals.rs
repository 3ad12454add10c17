//! Sums over a population: detected by the modules, by tier, and mapped by the address ranges.

use super::module::{Module, ModuleSize};
use super::slots::Slot;
use super::tier::Tier;
use crate::records::Listing;
use crate::units::Bytes;

/// Sums; `None` where the listing does not allow one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// Sum of the modules of all tiers whose memory is in use; `None` where one of them has no exact size.
    pub detected: Option<Bytes>,
    /// Sum of the sizes that are known, a lower bound.
    pub detected_at_least: Bytes,
    /// The part of it that keeps its contents without power.
    pub persistent: Bytes,
    /// Modules of main memory that lose their contents without power.
    pub dram: Bytes,
    /// The part of persistent modules that is set up as main memory.
    pub volatile: Bytes,
    /// Memory on the processor's package.
    pub hbm: Bytes,
    /// Memory behind CXL links.
    pub cxl: Bytes,
    /// Whether every module that can be main memory has an exact size.
    pub main_is_exact: bool,
    /// Union of the address ranges of main memory; `None` where the listing has none.
    pub mapped: Option<Bytes>,
    /// Number of slots, those of other tiers than main memory included.
    pub slots: usize,
    /// Number of slots with a module whose memory is in use.
    pub fitted: usize,
    tiers: [TierTotals; Tier::ALL.len()],
}

/// How many times larger than its cache main memory on persistent modules is at least. From memory, unverified: makers'
/// guides allow one part of DRAM for two to sixteen.
const CACHED_AT_LEAST: u64 = 2;

/// What is in the slots of one tier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TierTotals {
    /// Number of slots.
    pub slots: usize,
    /// Number of slots with a module whose memory is in use.
    pub fitted: usize,
}

impl Totals {
    /// The slots of a tier.
    pub fn of(&self, tier: Tier) -> TierTotals {
        self.tiers.get(tier as usize).copied().unwrap_or_default()
    }

    /// The slots that take DIMMs: those of main memory and of persistent modules.
    pub fn dimms(&self) -> TierTotals {
        let (main, persistent) = (self.of(Tier::Main), self.of(Tier::Persistent));
        TierTotals { slots: main.slots + persistent.slots, fitted: main.fitted + persistent.fitted }
    }

    /// The known size of a tier, a lower bound.
    pub fn size_of(&self, tier: Tier) -> Bytes {
        match tier {
            Tier::Main => self.main_at_least(),
            Tier::Hbm => self.hbm,
            Tier::Cxl => self.cxl,
            Tier::Persistent => self.persistent,
        }
    }

    /// DRAM that is only a cache: where persistent modules are main memory, the DRAM in front of them is their cache and
    /// adds nothing to what the operating system sees (the manual of the modules' own management tool, on its memory
    /// resources). DRAM that is more than half of what it stands before is none.
    pub fn cache(&self) -> Bytes {
        let is_cache = self.volatile.0 >= self.dram.0.saturating_mul(CACHED_AT_LEAST);
        if self.volatile.0 > 0 && is_cache { self.dram } else { Bytes(0) }
    }

    /// Main memory, of the sizes that are known. A machine without any module of it runs in its package's memory.
    pub fn main_at_least(&self) -> Bytes {
        let main = [self.dram, self.volatile].into_iter().sum::<Bytes>();
        if main.0 == 0 { self.hbm } else { Bytes(main.0.saturating_sub(self.cache().0)) }
    }

    /// Main memory; `None` where a module of it has no exact size.
    pub fn main(&self) -> Option<Bytes> {
        self.main_is_exact.then(|| self.main_at_least())
    }

    /// The least that is visible to the operating system before it takes its own part: whether HBM and CXL are part of it
    /// depends on settings that no record states, and so does what DRAM is beside persistent modules.
    pub fn visible_least(&self) -> Bytes {
        let main = self.dram.max(self.volatile);
        if main.0 == 0 { self.hbm } else { main }
    }

    /// The most that can be visible.
    pub fn visible_most(&self) -> Bytes {
        [self.dram, self.volatile, self.hbm, self.cxl].into_iter().sum()
    }

    fn add(&mut self, slot: &Slot<'_>, module: &Module<'_>, size: Bytes) {
        let mut part = |of: fn(&mut Self) -> &mut Bytes, size: Bytes| {
            let sum = [*of(self), size].into_iter().sum();
            *of(self) = sum;
        };
        part(|totals| &mut totals.detected_at_least, size);
        match slot.tier {
            Tier::Hbm => part(|totals| &mut totals.hbm, size),
            Tier::Cxl => part(|totals| &mut totals.cxl, size),
            Tier::Main | Tier::Persistent if module.persistent => {
                part(|totals| &mut totals.volatile, module.volatile);
                part(|totals| &mut totals.persistent, module.keeps);
            }
            Tier::Main | Tier::Persistent => part(|totals| &mut totals.dram, size),
        }
    }
}

/// Sums over the modules of `slots` whose memory is in use.
pub(super) fn sum(slots: &[Slot<'_>], listing: &Listing<'_>) -> Totals {
    let mut totals = Totals { slots: slots.len(), main_is_exact: true, ..Totals::default() };
    let mut exact = true;
    for slot in slots {
        if let Some(tier) = totals.tiers.get_mut(slot.tier as usize) {
            tier.slots += 1;
            tier.fitted += usize::from(slot.fitted().is_some());
        }
        let Some(module) = slot.fitted() else { continue };
        totals.fitted += 1;
        let (size, known) = match module.size {
            ModuleSize::Exactly(size) => (size, true),
            ModuleSize::AtLeast(size) => (size, false),
            ModuleSize::Unknown => (Bytes(0), false),
        };
        exact &= known;
        totals.main_is_exact &= known || matches!(slot.tier, Tier::Hbm | Tier::Cxl);
        totals.add(slot, module, size);
    }
    totals.detected = exact.then_some(totals.detected_at_least);
    totals.mapped = mapped(listing);
    totals
}

/// The union of the ranges; ranges overlap in real listings, so they are merged before they are summed.
fn mapped(listing: &Listing<'_>) -> Option<Bytes> {
    let other_arrays: Vec<u16> = listing
        .arrays
        .iter()
        .filter(|array| array.usage.get().is_some_and(|usage| !usage.may_be_memory()))
        .filter_map(|array| array.head.handle)
        .collect();
    let mut ranges: Vec<(u64, u64)> = listing
        .array_ranges
        .iter()
        .filter(|range| range.array_handle.get().is_none_or(|handle| !other_arrays.contains(&handle)))
        .filter_map(|range| Some((range.start.get()?, range.end.get()?)))
        .filter(|(start, end)| start <= end)
        .collect();
    if ranges.is_empty() {
        return None;
    }
    ranges.sort_unstable();
    let (mut total, mut covered) = (0u64, None::<u64>);
    for (start, end) in ranges {
        // Ends are the last byte that belongs to the range.
        let start = covered.map_or(start, |last| start.max(last.saturating_add(1)));
        if start <= end {
            total = total.saturating_add((end - start).saturating_add(1));
        }
        covered = Some(covered.map_or(end, |last| last.max(end)));
    }
    Some(Bytes(total))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::records;

    fn mapped_of(ranges: &[(u64, u64)]) -> Option<Bytes> {
        let body: String = ranges
            .iter()
            .enumerate()
            .map(|(n, (start, end))| {
                format!(
                    "Handle 0x{n:04X}, DMI type 19, 31 bytes\nMemory Array Mapped Address\n\tStarting Address: {start:#x}\n\tEnding Address: {end:#x}\n\n"
                )
            })
            .collect();
        let text = Text::from_bytes("test", body.into_bytes()).unwrap();
        mapped(&records::read(&text)[0])
    }

    #[test]
    fn ranges_are_merged_before_summing() {
        let gib = Bytes::GIB;
        assert_eq!(mapped_of(&[(0, gib - 1), (gib, 2 * gib - 1)]), Some(Bytes::gib(2)));
        assert_eq!(mapped_of(&[(0, 2 * gib - 1), (gib, 3 * gib - 1), (0, gib - 1)]), Some(Bytes::gib(3)));
        assert_eq!(mapped_of(&[(5, 4)]), None);
        assert_eq!(mapped_of(&[]), None);
    }
}
