//! Whether a host may ship: what its audit says, and what the stock says of its modules.

use std::collections::HashMap;

use super::host::HostVerdict;
use super::ledger::{NONE, Note, Stock, Why};
use super::reconcile::Reconciled;
use super::stock::StockFinding;
use crate::audit::{Severity, Verdict};

table! {
    /// What to do with a host; the worst that any evidence asks for, so that a later one outweighs those before it.
    pub enum Decision {
        /// It is as planned, and nothing speaks against its modules.
        MayShip = "may-ship",
        /// Nothing speaks against it, but not everything is proven.
        CannotSay = "cannot-say",
        /// It deviates from its plan, or one of its modules is not where it should be.
        Hold = "hold",
    }
}

impl Decision {
    /// What the audit alone decides.
    pub const fn of(verdict: &HostVerdict) -> Self {
        match verdict {
            HostVerdict::Audited(Verdict::AsPlanned) => Self::MayShip,
            HostVerdict::Audited(Verdict::Deviates) => Self::Hold,
            HostVerdict::Audited(Verdict::Unproven) | HostVerdict::NotDone(_) => Self::CannotSay,
        }
    }

    /// What a finding of the stock asks for; a warning asks for nothing.
    const fn by_stock(severity: Severity) -> Self {
        match severity {
            Severity::Fault => Self::Hold,
            Severity::Unproven => Self::CannotSay,
            Severity::Warning => Self::MayShip,
        }
    }
}

/// A host whose decision the stock changes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ChangedDecision<'r> {
    /// The host.
    pub host: &'r str,
    /// What its audit alone decides.
    pub by_audit: Decision,
    /// What is decided with the stock.
    pub decision: Decision,
    /// The finding of the stock that decides it: its kind and one sentence.
    pub because: String,
}

/// The decisions on all hosts; only those that the stock changes are kept one by one.
#[derive(Debug, Default)]
pub(super) struct Decisions {
    /// By decision, in the order of [`Decision::ALL`].
    counts: [usize; 3],
    /// On each host, in the order of the fleet.
    all: Vec<Decision>,
    changed: Vec<Changed>,
    /// Places in `changed`.
    by_name: HashMap<Box<str>, usize>,
}

#[derive(Debug, Clone, Copy)]
struct Changed {
    host: usize,
    now: Decision,
    /// Number of the note that decides it.
    note: usize,
}

impl Stock {
    /// Decides on every host, by its audit and by what was found about its modules.
    pub(super) fn decide(&self) -> Decisions {
        let mut now = self.decisions.clone();
        let mut because = vec![0; now.len()];
        for (number, note) in self.notes.iter().enumerate() {
            let asked = Decision::by_stock(note.kind.severity());
            for host in self.concerned(note) {
                match now.get_mut(host as usize) {
                    Some(decision) if *decision < asked => *decision = asked,
                    _ => continue,
                }
                because[host as usize] = number;
            }
        }
        let mut all = Decisions::default();
        for (host, (now, by_audit)) in now.iter().copied().zip(&self.decisions).enumerate() {
            all.counts[now as usize] += 1;
            if now != *by_audit {
                let place = all.changed.len();
                all.changed.push(Changed { host, now, note: because[host] });
                // Where two inputs have one name, neither is better than the worse of them.
                let named = all.by_name.entry(self.hosts[host].clone()).or_insert(place);
                if now > all.changed[*named].now {
                    *named = place;
                }
            }
        }
        all.all = now;
        all
    }

    /// The hosts that a finding is about: where the module is, and whose it is.
    fn concerned(&self, note: &Note) -> Vec<u32> {
        let called = |text: u32| match text {
            NONE => Vec::new(),
            text => self.called.hosts(self.names.text(text)).collect(),
        };
        let row = self.stock.get(note.row as usize);
        match note.why {
            Why::TwoPlaces => vec![note.host, note.first.0],
            Why::TwoRows => {
                self.known.get(note.first.1 as usize).map(|(_, known)| known.host).into_iter().collect()
            }
            Why::OtherHost | Why::OtherPart => {
                let mut both = called(row.map_or(NONE, |row| row.host));
                both.push(note.host);
                both
            }
            Why::Stranger => vec![note.host],
            Why::Nowhere | Why::MayBeBehind | Why::MayBeNameless | Why::MayBeUnread => called(note.host),
        }
    }
}

impl Reconciled {
    /// The decision on a host, by its name and what its audit alone decides.
    pub fn decision(&self, host: &str, by_audit: Decision) -> Decision {
        self.changed_of(host).map_or(by_audit, |changed| by_audit.max(changed.now))
    }

    /// The decision on the host that a finding of the stock names; none where no such host was seen.
    pub fn decision_on(&self, finding: &StockFinding) -> Option<Decision> {
        if !self.is_given() {
            // Then only what is in two places is found, and both are held.
            return Some(Decision::Hold);
        }
        let hosts = self.stock.called.hosts(finding.host.as_deref()?);
        hosts.filter_map(|host| self.decisions.all.get(host as usize)).copied().max()
    }

    /// How the stock changes the decision on a host of this name, if it does.
    pub fn changed_decision(&self, host: &str) -> Option<ChangedDecision<'_>> {
        self.with_names(self.changed_of(host)?)
    }

    /// How many hosts have a decision.
    pub fn decided(&self, decision: Decision) -> usize {
        self.decisions.counts[decision as usize]
    }

    /// How many hosts have a decision because of the stock alone.
    pub fn decided_by_stock(&self, decision: Decision) -> usize {
        self.decisions.changed.iter().filter(|changed| changed.now == decision).count()
    }

    /// Hosts whose decision the stock changes, in the order of the fleet.
    pub fn changed_decisions(&self) -> impl Iterator<Item = ChangedDecision<'_>> {
        self.decisions.changed.iter().filter_map(|changed| self.with_names(changed))
    }

    fn changed_of(&self, host: &str) -> Option<&Changed> {
        self.decisions.changed.get(*self.decisions.by_name.get(host)?)
    }

    fn with_names(&self, changed: &Changed) -> Option<ChangedDecision<'_>> {
        let finding = self.stock.worded(self.stock.notes.get(changed.note)?);
        Some(ChangedDecision {
            host: self.stock.hosts.get(changed.host)?,
            by_audit: *self.stock.decisions.get(changed.host)?,
            decision: changed.now,
            because: format!("{}: {}", finding.kind.word(), finding.summary),
        })
    }
}
