//! Sums over a population: detected by the modules, mapped by the address ranges.

use super::module::{Module, ModuleSize};
use crate::records::Listing;
use crate::units::Bytes;

/// Sums; `None` where the listing does not allow one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// Sum of the modules whose memory is in use; `None` where one of them has no exact size.
    pub detected: Option<Bytes>,
    /// Sum of the sizes that are known, a lower bound.
    pub detected_at_least: Bytes,
    /// The part of it on modules that keep their contents without power.
    pub persistent: Bytes,
    /// Union of the address ranges of main memory; `None` where the listing has none.
    pub mapped: Option<Bytes>,
    /// Number of slots for main memory.
    pub slots: usize,
    /// Number of slots with a module whose memory is in use.
    pub fitted: usize,
}

impl Totals {
    /// The part that loses its contents without power, of the sizes that are known: what can be main memory for the
    /// operating system. Where every size is known, it is all of that part, else a lower bound.
    pub fn volatile_at_least(&self) -> Bytes {
        Bytes(self.detected_at_least.0.saturating_sub(self.persistent.0))
    }

    /// As [`Self::volatile_at_least`]; `None` where a module has no exact size.
    pub fn volatile(&self) -> Option<Bytes> {
        self.detected.map(|_| self.volatile_at_least())
    }
}

/// Sums over `modules`, whose memory is in use, in so many slots.
pub(super) fn sum<'m, 'a: 'm>(
    slots: usize,
    modules: impl Iterator<Item = &'m Module<'a>>,
    listing: &Listing<'_>,
) -> Totals {
    let mut totals = Totals { slots, ..Totals::default() };
    let mut exact = true;
    for module in modules {
        totals.fitted += 1;
        let size = match module.size {
            ModuleSize::Exactly(size) => size,
            ModuleSize::AtLeast(size) => {
                exact = false;
                size
            }
            ModuleSize::Unknown => {
                exact = false;
                Bytes(0)
            }
        };
        totals.detected_at_least = [totals.detected_at_least, size].into_iter().sum();
        if module.persistent {
            totals.persistent = [totals.persistent, size].into_iter().sum();
        }
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
