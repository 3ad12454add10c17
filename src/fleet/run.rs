//! All listings through the audit, on all cores, in the order of the input, with a bounded number in flight.

use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};

use super::batches::in_order;
use super::error::HostError;
use super::examine::{examine, not_done};
use super::host::{Host, HostSummary, HostVerdict};
use super::input::{Item, Limits};
use super::ledger::Stock;
use super::planned::{note_names, without_listing};
use super::plans::Plans;
use super::reconcile::Reconciled;
use super::seen::Seen;
use super::summary::Summary;

/// A run over many machines.
///
/// What is made of each host is up to the caller's `render`, which runs on the threads; `each` gets it in the order of
/// the input, whatever the number of threads.
#[derive(Debug)]
pub struct Fleet<'f> {
    plans: &'f Plans,
    stock: Stock,
    limits: Limits,
    jobs: usize,
    subset: bool,
}

/// What a fleet comes to.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct FleetResult {
    /// Sums over the hosts.
    pub summary: Summary,
    /// What became of the modules.
    pub stock: Reconciled,
}

impl<'f> Fleet<'f> {
    /// Machines that are measured against `plans`, on all cores.
    pub fn new(plans: &'f Plans) -> Self {
        Self { plans, stock: Stock::default(), limits: Limits::default(), jobs: cores(), subset: false }
    }

    /// With a stock, whose modules are accounted for.
    #[must_use]
    pub fn stock(self, stock: Stock) -> Self {
        Self { stock, ..self }
    }

    /// With another limit for listings.
    #[must_use]
    pub fn limits(self, limits: Limits) -> Self {
        Self { limits, ..self }
    }

    /// On so many threads.
    #[must_use]
    pub fn jobs(self, jobs: NonZero<usize>) -> Self {
        Self { jobs: jobs.get(), ..self }
    }

    /// Whether only some of the planned hosts are meant: those without a listing are left out then.
    #[must_use]
    pub fn subset(self, subset: bool) -> Self {
        Self { subset, ..self }
    }

    /// Audits every item; planned hosts without a listing follow, as hosts that were not audited. Nothing in one of them ends the run.
    pub fn run<R: Send>(
        self,
        items: impl Iterator<Item = Item> + Send,
        render: impl Fn(&Host<'_>) -> R + Sync,
        mut each: impl FnMut(&HostSummary, R) + Send,
    ) -> FleetResult {
        let Self { plans, mut stock, limits, jobs, subset } = self;
        let mut summary = Summary::default();
        let seen = Seen::none(plans.len(), plans.manifest().len());
        let mut add = |host: HostSummary, rendered| {
            summary.add(&host);
            stock.see(&host);
            each(&host, rendered);
        };
        audit_all(items, (plans, &seen, limits), jobs, &render, |host, rendered| {
            if matches!(host.verdict, HostVerdict::NotDone(_)) {
                note_names(&seen, plans, &host.names);
            }
            add(host, rendered);
        });
        let missing = if subset { Vec::new() } else { without_listing(plans, &seen) };
        for name in missing {
            let (host, rendered) = not_done(name, None, HostError::NoListing, &render);
            add(host, rendered);
        }
        FleetResult { summary, stock: stock.reconcile() }
    }
}

/// As many threads as there are cores for this process.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}

/// Audits every item on `jobs` threads; `sink` gets what `render` made.
fn audit_all<R: Send>(
    items: impl Iterator<Item = Item> + Send,
    (plans, seen, limits): (&Plans, &Seen, Limits),
    jobs: usize,
    render: impl Fn(&Host<'_>) -> R + Sync,
    mut sink: impl FnMut(HostSummary, R) + Send,
) {
    let batch = |batch: Vec<Item>, spare: &mut Vec<u8>| {
        let mut done = Vec::with_capacity(batch.len());
        for item in batch {
            let (name, before) = (item.name.clone(), done.len());
            let room = std::mem::take(spare);
            let examined = catch_unwind(AssertUnwindSafe(|| {
                examine(item, room, (plans, seen), limits, &render, &mut done)
            }));
            // A defect of ours on one listing must not cost the results of all others.
            *spare = examined.unwrap_or_else(|_| {
                done.truncate(before);
                done.push(not_done(name, None, HostError::Defect, &render));
                Vec::new()
            });
        }
        done
    };
    in_order(items, jobs, batch, |(host, rendered)| sink(host, rendered));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleet::batches::BATCH;
    use crate::fleet::{Content, Manifest};

    /// Should anything panic on one listing, that one is a row and the others are audited.
    #[test]
    fn a_defect_on_one_listing_is_a_row() {
        let item = |name: &str| Item { name: name.to_owned(), content: Content::Bytes(b"x\n".to_vec()) };
        let items = ["a", "bad", "c"].map(item).into_iter();
        let plans = Plans::new(Vec::new(), Manifest::default());
        let render = |host: &Host<'_>| {
            let first = matches!(host.verdict, HostVerdict::NotDone(reason) if *reason != HostError::Defect);
            assert!(host.name != "bad" || !first, "a defect");
        };
        let mut seen = Vec::new();
        audit_all(items, (&plans, &Seen::default(), Limits::default()), 2, render, |host, ()| {
            seen.push((host.name, host.verdict == HostVerdict::NotDone(HostError::Defect)));
        });
        assert_eq!(seen, [("a".to_owned(), false), ("bad".to_owned(), true), ("c".to_owned(), false)]);
    }

    /// Where the results cannot be taken, everything ends; nothing waits for ever.
    #[test]
    fn a_defect_where_results_go_ends_the_run() {
        let item = |number: usize| Item { name: number.to_string(), content: Content::Bytes(Vec::new()) };
        let items = (0..20 * BATCH).map(item);
        let plans = Plans::new(Vec::new(), Manifest::default());
        let run = AssertUnwindSafe(|| {
            let sink = |host: HostSummary, ()| assert_ne!(host.name, "20", "a defect");
            audit_all(items, (&plans, &Seen::default(), Limits::default()), 4, |_| (), sink);
        });
        assert!(catch_unwind(run).is_err());
    }

    /// The same where even the row that states a defect cannot be made.
    #[test]
    fn a_defect_in_the_row_of_a_defect_ends_the_run() {
        let item = |number: usize| Item { name: number.to_string(), content: Content::Bytes(Vec::new()) };
        let items = (0..100 * BATCH).map(item);
        let plans = Plans::new(Vec::new(), Manifest::default());
        let run = AssertUnwindSafe(|| {
            let render = |host: &Host<'_>| assert_ne!(host.name, "20", "a defect");
            audit_all(items, (&plans, &Seen::default(), Limits::default()), 4, render, |_, ()| {});
        });
        assert!(catch_unwind(run).is_err());
    }
}
