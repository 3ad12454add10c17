//! For which plans a machine came.

use std::sync::atomic::{AtomicBool, Ordering};

/// For which plans, and for which rows of the manifest, a machine came; noted from all threads of a run.
#[derive(Debug, Default)]
pub(super) struct Seen {
    plans: Vec<AtomicBool>,
    rows: Vec<AtomicBool>,
}

impl Seen {
    /// Nothing came yet, of so many plans and rows of the manifest.
    pub(super) fn none(plans: usize, rows: usize) -> Self {
        let none = |count: usize| (0..count).map(|_| AtomicBool::new(false)).collect();
        Self { plans: none(plans), rows: none(rows) }
    }

    /// A machine came that fits a plan.
    pub(super) fn plan(&self, index: usize) {
        mark(&self.plans, index);
    }

    /// A machine came that a row of the manifest names.
    pub(super) fn row(&self, index: usize) {
        mark(&self.rows, index);
    }

    /// Whether a machine came that fits a plan.
    pub(super) fn has_plan(&self, index: usize) -> bool {
        is_marked(&self.plans, index)
    }

    /// Whether a machine came that a row of the manifest names.
    pub(super) fn has_row(&self, index: usize) -> bool {
        is_marked(&self.rows, index)
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
