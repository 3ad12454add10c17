//! What is to be placed, and the arithmetic of uses.
//!
//! A *use* is how many modules of each kind something takes, as one number in a mixed radix, so that sums of uses are
//! sums of numbers.

use crate::board::Load;
use crate::plan::ModuleSpec;
use crate::units::Bytes;

/// A kind of module with what the rules see of it.
pub(super) type Kind = (ModuleSpec, Load);

/// What is to be placed.
#[derive(Debug)]
pub(super) struct Order {
    /// Kinds, those with more ranks first, then the larger ones: the order of filling within a channel.
    pub(super) kinds: Vec<Kind>,
    /// How many of each.
    pub(super) counts: Vec<usize>,
}
impl Order {
    pub(super) fn new(order: &[(u32, ModuleSpec)]) -> Self {
        let mut kinds: Vec<(Kind, usize)> = Vec::new();
        for (count, wanted) in order {
            let count = usize::try_from(*count).unwrap_or(usize::MAX);
            match kinds.iter_mut().find(|((other, _), _)| other == wanted) {
                Some((_, old)) => *old += count,
                None => kinds.push(((wanted.clone(), Load::from(wanted)), count)),
            }
        }
        kinds.sort_by_key(|((_, load), _)| std::cmp::Reverse((load.ranks, load.size)));
        let (kinds, counts) = kinds.into_iter().unzip();
        Self { kinds, counts }
    }

    pub(super) fn total(&self) -> usize {
        self.counts.iter().sum()
    }

    /// The order without modules for which there is no slot anyway, whatever else is placed.
    pub(super) fn capped(&self, slots: usize) -> Self {
        let counts = self.counts.iter().map(|count| (*count).min(slots)).collect();
        Self { kinds: self.kinds.clone(), counts }
    }

    /// The weight of each kind in a use, and the number of uses.
    pub(super) fn radix(&self) -> Option<(Vec<usize>, usize)> {
        let mut weights = Vec::new();
        let mut size = 1usize;
        for count in &self.counts {
            weights.push(size);
            size = size.checked_mul(count + 1)?;
        }
        Some((weights, size))
    }

    /// Modules in a use.
    pub(super) fn modules_in(&self, usage: usize) -> usize {
        let mut rest = usage;
        self.counts
            .iter()
            .map(|count| {
                let own = rest % (count + 1);
                rest /= count + 1;
                own
            })
            .sum()
    }

    /// Whether two uses together stay within the order: no digit overflows.
    pub(super) fn adds(&self, a: usize, b: usize) -> bool {
        let (mut a, mut b) = (a, b);
        self.counts.iter().all(|count| {
            let fits = a % (count + 1) + b % (count + 1) <= *count;
            a /= count + 1;
            b /= count + 1;
            fits
        })
    }

    /// Sum of the sizes in a use, in MiB.
    pub(super) fn mebibytes_in(&self, usage: usize) -> u128 {
        let mut rest = usage;
        let sizes = self.counts.iter().zip(&self.kinds).map(|(count, (_, load))| {
            let own = rest % (count + 1);
            rest /= count + 1;
            own as u128 * u128::from(load.size.unwrap_or_default().0 / Bytes::MIB)
        });
        sizes.sum()
    }
}
