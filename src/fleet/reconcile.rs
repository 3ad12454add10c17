//! What became of every module, once all hosts were seen.

use std::collections::{HashMap, HashSet};

use super::decision::{ChangedDecision, Decision};
use super::decisions::{Changed, Decisions};
use super::ledger::{Known, NONE, Note, Row, Stock, Why};
use super::stock::{StockFinding, StockKind};
use crate::audit::Severity;

/// What the stock comes to.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Reconciled {
    pub(super) stock: Stock,
    pub(super) decisions: Decisions,
    /// Rows of the stock with a serial number.
    pub rows: usize,
    /// Rows whose serial number is a placeholder.
    pub placeholders: usize,
    /// Modules of the stock that were seen where they belong, or anywhere if they are allotted to no host.
    pub accounted: usize,
    /// Modules that were seen and state no serial number.
    pub without_serial: usize,
}

impl Stock {
    /// What became of every module.
    pub fn reconcile(mut self) -> Reconciled {
        let mut accounted = 0;
        let misplaced = self.notes.iter().filter(|note| note.kind == StockKind::Elsewhere).count();
        let anywhere = self.open_hosts.values().copied().reduce(|any, unread| any || unread);
        let mut other_parts = HashSet::new();
        for (entry, known) in &self.known {
            let Some(row) = self.stock.get(known.row as usize) else { continue };
            if known.host != NONE {
                accounted += 1;
                continue;
            }
            let note = |kind, why, host| Note {
                kind,
                why,
                entry: *entry,
                row: known.row,
                host,
                slot: NONE,
                part: row.part,
                first: (NONE, NONE),
            };
            if let Some(there) = self.stranger(*entry, &other_parts) {
                other_parts.insert((there.host, there.slot));
                let note = note(StockKind::OtherPart, Why::OtherPart, there.host);
                self.notes.push(Note { slot: there.slot, part: there.part, ..note });
                continue;
            }
            let why = self.hidden(row, anywhere);
            let kind = if why == Why::Nowhere { StockKind::Unaccounted } else { StockKind::Unproven };
            self.notes.push(note(kind, why, row.host));
        }
        // One statement for one serial number.
        self.notes.retain(|note| note.why != Why::Stranger || !other_parts.contains(&(note.host, note.slot)));
        self.notes.sort_by_key(|note| note.kind);
        Reconciled {
            rows: self.stock.len(),
            placeholders: self.placeholders,
            accounted: accounted - misplaced.min(accounted),
            without_serial: self.open_modules,
            decisions: self.decide(),
            stock: self,
        }
    }

    /// A module of a serial number that is fitted and not in the stock, and not said to be another one already.
    fn stranger(&self, entry: u32, taken: &HashSet<(u32, u32)>) -> Option<Known> {
        let known = |number: u32| self.known.get(number as usize).map(|(_, known)| *known);
        let first = known(*self.serials.get(entry as usize));
        let mut all = std::iter::successors(first, |module| known(module.next));
        all.find(|module| {
            let seen = module.row == NONE && module.host != NONE;
            seen && !taken.contains(&(module.host, module.slot))
        })
    }

    /// Why a module of the stock may be hidden. One that is allotted can only hide in its host, any other in each that
    /// does not state all; `anywhere` says whether there is one, and whether it could not be read in full.
    fn hidden(&self, row: &Row, anywhere: Option<bool>) -> Why {
        let open = match row.host {
            NONE => anywhere,
            _ if self.open_hosts.is_empty() && self.without_cpu.is_empty() => None,
            host => {
                let host = self.names.text(host).to_ascii_lowercase();
                // What is behind an absent processor cannot be seen; the host's own finding says so.
                if self.without_cpu.contains(&host) {
                    return Why::MayBeBehind;
                }
                // An input that could not be read may have been this host's.
                let lost = self.lost && !self.called.contains(&host);
                self.open_hosts.get(&host).copied().or(lost.then_some(true))
            }
        };
        match open {
            Some(true) => Why::MayBeUnread,
            Some(false) => Why::MayBeNameless,
            None => Why::Nowhere,
        }
    }

    /// Several modules that are allotted to one host and may be hidden there for one reason, in one sentence.
    fn together(&self, note: &Note, count: usize) -> String {
        let hint = Self::hint(note.why).unwrap_or("is not seen");
        format!("{count} modules allotted to {}: each {hint}", self.names.text(note.host))
    }

    /// What is said of a module that may be hidden.
    const fn hint(why: Why) -> Option<&'static str> {
        match why {
            Why::MayBeBehind => {
                Some("is not seen; a processor is absent there, and what is behind it cannot be seen")
            }
            Why::MayBeNameless => Some("is not seen; it may be one that states no serial number"),
            Why::MayBeUnread => Some("is not seen; not all listings could be read in full"),
            Why::TwoPlaces
            | Why::TwoRows
            | Why::OtherHost
            | Why::Stranger
            | Why::OtherPart
            | Why::Nowhere => None,
        }
    }

    /// The host that the stock calls so, by the name that it has everywhere else; the stock's word where none or several
    /// are called so.
    fn host_of(&self, called: u32) -> Option<String> {
        let name = (called != NONE).then(|| self.names.text(called))?;
        let mut hosts = self.called.hosts(name);
        let host = hosts.next().filter(|_| hosts.next().is_none());
        let host = host.and_then(|host| self.hosts.get(host as usize));
        Some(host.map_or_else(|| name.to_owned(), ToString::to_string))
    }

    /// A slot of a host, by their numbers.
    fn place(&self, (host, slot): (u32, u32)) -> String {
        let host = self.hosts.get(host as usize).map_or("", |host| host);
        format!("{host} {}", self.names.text(slot))
    }

    /// The finding in one sentence, with its names.
    pub(super) fn worded(&self, note: &Note) -> StockFinding {
        let text = |number: u32| (number != NONE).then(|| self.names.text(number).to_owned());
        let row = self.stock.get(note.row as usize);
        let serial = self.serials.serial(note.entry as usize);
        let seen = matches!(note.why, Why::TwoPlaces | Why::OtherHost | Why::Stranger | Why::OtherPart);
        let host = if seen {
            self.hosts.get(note.host as usize).map(ToString::to_string)
        } else {
            self.host_of(note.host)
        };
        let other = match note.why {
            Why::TwoPlaces => Some(self.place(note.first)),
            Why::OtherHost => row.and_then(|row| self.host_of(row.host)),
            _ => None,
        };
        let place = self.place((note.host, note.slot));
        let there = match note.why {
            Why::OtherHost => row.and_then(|row| text(row.host)).unwrap_or_default(),
            _ => other.clone().unwrap_or_default(),
        };
        let label =
            row.and_then(|row| text(row.label)).map_or_else(String::new, |label| format!(" ({label})"));
        let allotted = match (text(if seen { NONE } else { note.host }), seen) {
            (Some(host), false) => format!(", allotted to {host},"),
            _ => String::new(),
        };
        let line = row.map(|row| row.line);
        let what = match note.why {
            Why::TwoPlaces => format!("is in {place} and in {there}"),
            Why::TwoRows => {
                let lines = [Some(note.first.0), line].into_iter().flatten().map(|line| line.to_string());
                format!("is in the stock twice, in the lines {}", lines.collect::<Vec<_>>().join(" and "))
            }
            Why::OtherHost => format!("is in {place} and allotted to {there}"),
            Why::Stranger => format!("is in {place} and not in the stock"),
            Why::Nowhere => format!("{label}{allotted} is seen nowhere"),
            Why::OtherPart => {
                let said = |part: u32| text(part).unwrap_or_default();
                let stock = said(row.map_or(NONE, |row| row.part));
                format!("is in {place} with part {}, the stock says {stock}", said(note.part))
            }
            Why::MayBeBehind | Why::MayBeNameless | Why::MayBeUnread => {
                format!("{label}{allotted} {}", Self::hint(note.why).unwrap_or_default())
            }
        };
        let gap = if what.starts_with([' ', ',']) { "" } else { " " };
        StockFinding {
            kind: note.kind,
            summary: format!("serial number {serial}{gap}{what}"),
            serial: serial.to_owned(),
            part: text(note.part),
            host,
            slot: text(note.slot),
            other,
            line,
        }
    }
}

impl Reconciled {
    /// All findings: by kind, then in the order of the fleet or of the stock. They are worded one by one,
    /// since there may be as many as modules.
    pub fn findings(&self) -> impl Iterator<Item = StockFinding> {
        self.stock.notes.iter().map(|note| self.stock.worded(note))
    }

    /// The findings of one kind.
    pub fn of(&self, kind: StockKind) -> impl Iterator<Item = StockFinding> {
        let own = self.stock.notes.iter().filter(move |note| note.kind == kind);
        own.map(|note| self.stock.worded(note))
    }

    /// The findings of one kind as people read them, `most` sentences at most, and how many modules are left out. What
    /// one host explains is one sentence.
    pub fn sentences(&self, kind: StockKind, most: usize) -> (Vec<String>, usize) {
        let mut shown: Vec<(&Note, usize)> = Vec::new();
        let mut groups: HashMap<(Why, u32), usize> = HashMap::new();
        let mut rest = 0;
        for note in self.stock.notes.iter().filter(|note| note.kind == kind) {
            let group =
                (Stock::hint(note.why).is_some() && note.host != NONE).then_some((note.why, note.host));
            if let Some(place) = group.and_then(|group| groups.get(&group).copied()) {
                shown[place].1 += 1;
            } else if shown.len() == most {
                rest += 1;
            } else {
                groups.extend(group.map(|group| (group, shown.len())));
                shown.push((note, 1));
            }
        }
        let sentence = |(note, count): (&Note, usize)| match count {
            1 => self.stock.worded(note).summary,
            _ => self.stock.together(note, count),
        };
        (shown.into_iter().map(sentence).collect(), rest)
    }

    /// How many findings of a kind there are.
    pub fn count(&self, kind: StockKind) -> usize {
        self.stock.notes.iter().filter(|note| note.kind == kind).count()
    }

    /// How many findings of a severity there are.
    pub fn count_of(&self, severity: Severity) -> usize {
        StockKind::ALL
            .iter()
            .copied()
            .filter(|kind| kind.severity() == severity)
            .map(|kind| self.count(kind))
            .sum()
    }

    /// Whether there is a stock at all; without one, only duplicates are found.
    pub fn is_given(&self) -> bool {
        self.stock.given
    }

    /// Whether there is no finding.
    pub fn is_empty(&self) -> bool {
        self.stock.notes.is_empty()
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
