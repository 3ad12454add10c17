//! What someone says was fitted, and which of it is detected.

use crate::plan::ModuleSpec;
use crate::plan::agreement::could_be;
use crate::population::{Module, Population, Slot};
use crate::units::Bytes;

/// What someone says was fitted.
#[derive(Debug, Clone, PartialEq)]
pub enum FittedClaim {
    /// So many modules of each kind.
    Modules(Vec<(u32, ModuleSpec)>),
    /// A total.
    Total(Bytes),
}

impl FittedClaim {
    /// The total, if every module has a size.
    pub fn total(&self) -> Option<Bytes> {
        match self {
            Self::Total(total) => Some(*total),
            Self::Modules(modules) => modules
                .iter()
                .map(|(count, wanted)| {
                    wanted.size.map(|size| Bytes(size.0.saturating_mul(u64::from(*count))))
                })
                .sum(),
        }
    }
}

/// What someone counted, by the matching with what is fitted that leaves the fewest.
pub(super) struct Counted<'p, 'a> {
    /// The fitted modules that may be meant, those in slots for DIMMs first, with the stated kind that each counts as.
    pub(super) found: Vec<(&'p Slot<'a>, &'p Module<'a>, Option<usize>)>,
    /// The stated modules that none of them can be.
    pub(super) missing: Vec<ModuleSpec>,
}

impl<'p, 'a> Counted<'p, 'a> {
    pub(super) fn of(modules: &[(u32, ModuleSpec)], population: &'p Population<'a>) -> Self {
        let fitted = meant(modules, population);
        let found: Vec<&Module<'_>> = fitted.iter().map(|(_, module)| *module).collect();
        let mut matching = Matching { modules, found: &found, owner: vec![None; found.len()] };
        let mut missing = Vec::new();
        for (kind, (count, wanted)) in modules.iter().enumerate() {
            let mut left = *count;
            while left > 0 && matching.add(kind, &mut vec![false; modules.len()]) {
                left -= 1;
            }
            // All modules of a kind are alike: where one finds none, no other does.
            missing.extend((0..left).map(|_| wanted.clone()));
        }
        let owner = matching.owner;
        let found =
            fitted.into_iter().zip(owner).map(|((slot, module), kind)| (slot, module, kind)).collect();
        Self { found, missing }
    }
}

/// The fitted modules that a claim may speak of, those in slots for DIMMs first. A device on another link is none of the
/// DIMMs that someone counted, unless no DIMM is of that kind.
fn meant<'p, 'a>(
    modules: &[(u32, ModuleSpec)],
    population: &'p Population<'a>,
) -> Vec<(&'p Slot<'a>, &'p Module<'a>)> {
    let (mut found, others): (Vec<_>, Vec<_>) = population.fitted().partition(|(slot, _)| slot.takes_dimms());
    let is_meant = |module: &Module<'_>| {
        modules.iter().any(|(_, wanted)| {
            could_be(wanted, module) && !found.iter().any(|(_, dimm)| could_be(wanted, dimm))
        })
    };
    let meant: Vec<_> = others.into_iter().filter(|(_, module)| is_meant(module)).collect();
    found.extend(meant);
    found
}

/// Which stated kind each detected module counts as.
struct Matching<'m, 'a> {
    modules: &'m [(u32, ModuleSpec)],
    found: &'m [&'m Module<'a>],
    owner: Vec<Option<usize>>,
}

impl Matching<'_, '_> {
    /// Gives one more module to `kind`, if need be from a kind that can take another one instead.
    fn add(&mut self, kind: usize, tried: &mut [bool]) -> bool {
        tried[kind] = true;
        let (_, wanted) = &self.modules[kind];
        let fits: Vec<usize> = (0..self.found.len()).filter(|at| could_be(wanted, self.found[*at])).collect();
        if let Some(free) = fits.iter().find(|at| self.owner[**at].is_none()) {
            self.owner[*free] = Some(kind);
            return true;
        }
        for at in fits {
            if let Some(other) = self.owner[at].filter(|other| !tried[*other])
                && self.add(other, tried)
            {
                self.owner[at] = Some(kind);
                return true;
            }
        }
        false
    }
}
