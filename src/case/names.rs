//! Names of slots in a damaged listing: a name that was made unique beside its equals changes when they are
//! lost, and the slot must not pass for another one.

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};

use crate::plan::Plan;
use crate::population::{Population, printed_labels};
use crate::records::Listing;

/// The plan with the names that a damaged listing gives its slots; the plan itself for any other listing.
pub(super) fn as_listed<'p>(
    plan: &'p Plan,
    listing: &Listing<'_>,
    population: &Population<'_>,
) -> Cow<'p, Plan> {
    if !listing.may_miss_records() {
        return Cow::Borrowed(plan);
    }
    let listed: HashSet<&str> = population.slots.iter().map(|slot| slot.name.as_ref()).collect();
    if plan.slots.iter().all(|planned| listed.contains(planned.slot.as_str())) {
        return Cow::Borrowed(plan);
    }
    let full = full_names(listing, population);
    let mut taken: HashSet<String> = plan.slots.iter().map(|planned| planned.slot.clone()).collect();
    let mut plan = plan.clone();
    for planned in &mut plan.slots {
        if listed.contains(planned.slot.as_str()) {
            continue;
        }
        if let Some(name) = full.get(&planned.slot).copied().flatten()
            && taken.insert(name.to_owned())
        {
            name.clone_into(&mut planned.slot);
        }
    }
    Cow::Owned(plan)
}

/// Every name that each slot may have beside equals, with the one that it has; `None` where two share it.
fn full_names<'s>(listing: &Listing<'_>, population: &'s Population<'_>) -> HashMap<String, Option<&'s str>> {
    let mut names: HashMap<String, Option<&str>> = HashMap::new();
    let mut numbers: HashMap<String, usize> = HashMap::new();
    for slot in &population.slots {
        let (locator, bank) = printed_labels(listing, &listing.devices[slot.device]);
        let number = numbers.entry(locator.to_string()).and_modify(|number| *number += 1).or_insert(1);
        for name in [format!("{locator} @ {bank}"), format!("{locator} #{number}")] {
            names.entry(name).and_modify(|other| *other = None).or_insert(Some(&slot.name));
        }
    }
    names
}
