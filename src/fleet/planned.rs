//! Hosts that are planned and of which no listing came.

use std::collections::HashSet;
use std::sync::atomic::{AtomicBool, Ordering};

use super::plans::Plans;

/// For which plans, and for which rows of the manifest, a machine came; noted from all threads of a run.
#[derive(Debug, Default)]
pub(super) struct Seen {
    plans: Vec<AtomicBool>,
    rows: Vec<AtomicBool>,
}

impl Seen {
    /// Nothing came yet.
    pub(super) fn of(plans: &Plans) -> Self {
        let none = |count: usize| (0..count).map(|_| AtomicBool::new(false)).collect();
        Self { plans: none(plans.len()), rows: none(plans.manifest().len()) }
    }

    /// A machine came that fits a plan.
    pub(super) fn plan(&self, index: usize) {
        mark(&self.plans, index);
    }

    /// A machine came that a row of the manifest names.
    pub(super) fn row(&self, index: usize) {
        mark(&self.rows, index);
    }

    /// An input came of which nothing is known but its names.
    pub(super) fn named(&self, plans: &Plans, names: &[String]) {
        for name in names {
            for plan in plans.for_host(name) {
                self.plan(plan);
            }
            if let Some((row, _)) = plans.manifest().row(name) {
                self.row(row);
            }
        }
    }
}

// Nothing else depends on the order in which threads see the marks: they are read when all threads are done.
fn mark(marks: &[AtomicBool], index: usize) {
    if let Some(mark) = marks.get(index) {
        mark.store(true, Ordering::Relaxed);
    }
}

fn is_marked(marks: &[AtomicBool], index: usize) -> bool {
    marks.get(index).is_some_and(|mark| mark.load(Ordering::Relaxed))
}

/// The planned hosts that did not come, as the manifest or their plans call them: first those of the manifest, in its
/// order, then those that plans name, in the order of the plans.
pub(super) fn without_listing(plans: &Plans, seen: &Seen) -> Vec<String> {
    let mut all = Vec::new();
    let mut taken = HashSet::new();
    for (index, row) in plans.manifest().rows().enumerate() {
        if !is_marked(&seen.rows, index) {
            taken.extend(plans.of_file(&row.plan).iter().copied());
            all.push(row.host.clone());
        }
    }
    for (index, name) in plans.own_names() {
        if !is_marked(&seen.plans, index) && !taken.contains(&index) {
            all.push(name.to_owned());
        }
    }
    all
}
