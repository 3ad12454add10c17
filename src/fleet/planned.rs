//! Hosts that are planned and of which no listing came.

use std::collections::HashSet;

use super::plans::Plans;
use super::seen::Seen;

/// An input came of which nothing is known but its names.
pub(super) fn note_names(seen: &Seen, plans: &Plans, names: &[String]) {
    for name in names {
        for plan in plans.for_host(name) {
            seen.plan(plan);
        }
        if let Some((row, _)) = plans.manifest().row(name) {
            seen.row(row);
        }
    }
}

/// The planned hosts that did not come, as the manifest or their plans call them: first those of the manifest, in its
/// order, then those that plans name, in the order of the plans.
pub(super) fn without_listing(plans: &Plans, seen: &Seen) -> Vec<String> {
    let mut all = Vec::new();
    let mut taken = HashSet::new();
    for (index, row) in plans.manifest().rows().enumerate() {
        if !seen.has_row(index) {
            taken.extend(plans.of_file(&row.plan).iter().copied());
            all.push(row.host.clone());
        }
    }
    for (index, name) in plans.own_names() {
        if !seen.has_plan(index) && !taken.contains(&index) {
            all.push(name.to_owned());
        }
    }
    all
}
