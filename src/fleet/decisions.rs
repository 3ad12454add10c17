//! The decisions on all hosts of a fleet, by what their audits and the stock say.

use std::collections::HashMap;

use super::decision::Decision;
use super::ledger::{NONE, Note, Stock, Why};

/// The decisions on all hosts; only those that the stock changes are kept one by one.
#[derive(Debug, Default)]
pub(super) struct Decisions {
    /// By decision, in the order of [`Decision::ALL`].
    pub(super) counts: [usize; 3],
    /// On each host, in the order of the fleet.
    pub(super) all: Vec<Decision>,
    pub(super) changed: Vec<Changed>,
    /// Places in `changed`.
    pub(super) by_name: HashMap<Box<str>, usize>,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Changed {
    pub(super) host: usize,
    pub(super) now: Decision,
    /// Number of the note that decides it.
    pub(super) note: usize,
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
