//! What became of every module, once all hosts were seen.

use super::decision::Decisions;
use super::ledger::{NONE, Note, Stock, Why};
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
        for (entry, known) in &self.known {
            let Some(row) = self.stock.get(known.row as usize) else { continue };
            if known.host != NONE {
                accounted += 1;
                continue;
            }
            // A module that is allotted can only hide in its host; any other in each that states no numbers.
            let open = match row.host {
                NONE => anywhere,
                _ if self.open_hosts.is_empty() => None,
                host => {
                    let host = self.names.text(host).to_ascii_lowercase();
                    // An input that could not be read may have been this host's.
                    let lost = self.lost && !self.called.contains(&host);
                    self.open_hosts.get(&host).copied().or(lost.then_some(true))
                }
            };
            let (kind, why) = match open {
                Some(true) => (StockKind::Unproven, Why::MayBeUnread),
                Some(false) => (StockKind::Unproven, Why::MayBeNameless),
                None => (StockKind::Unaccounted, Why::Nowhere),
            };
            self.notes.push(Note {
                kind,
                why,
                entry: *entry,
                row: known.row,
                host: row.host,
                slot: NONE,
                part: row.part,
                first: (NONE, NONE),
            });
        }
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

    /// The finding in one sentence, with its names.
    pub(super) fn worded(&self, note: &Note) -> StockFinding {
        let text = |number: u32| (number != NONE).then(|| self.names.text(number).to_owned());
        let row = self.stock.get(note.row as usize);
        let serial = self.serials.serial(note.entry as usize);
        let here = |host: u32, slot: u32| {
            let host = self.hosts.get(host as usize).map_or("", |host| host);
            format!("{host} {}", self.names.text(slot))
        };
        let seen = matches!(note.why, Why::TwoPlaces | Why::OtherHost | Why::Stranger);
        let host =
            if seen { self.hosts.get(note.host as usize).map(ToString::to_string) } else { text(note.host) };
        let other = match note.why {
            Why::TwoPlaces => Some(here(note.first.0, note.first.1)),
            Why::OtherHost => row.and_then(|row| text(row.host)),
            _ => None,
        };
        let place = here(note.host, note.slot);
        let there = other.as_deref().unwrap_or_default();
        let label =
            row.and_then(|row| text(row.label)).map_or_else(String::new, |label| format!(" ({label})"));
        let allotted = match (&host, seen) {
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
            Why::MayBeNameless => {
                format!("{label}{allotted} is not seen; it may be one that states no serial number")
            }
            Why::MayBeUnread => {
                format!("{label}{allotted} is not seen; not all listings could be read in full")
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
