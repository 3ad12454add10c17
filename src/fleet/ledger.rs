//! The stock, a table of modules by serial number, and where each of them was seen.

use std::collections::{HashMap, HashSet};

use super::called::Called;
use super::decision::Decision;
use super::error::HostError;
use super::host::{HostSummary, HostVerdict};
use super::serials::{Serials, normal};
use super::stock::{StockError, StockKind};
use super::table::{column, each_row, header_text};
use crate::audit::FindingKind;
use crate::identity::text_of_bytes;

/// Means no row, no host, no text.
pub(super) const NONE: u32 = u32::MAX;

/// One row of the stock. All is kept in numbers, since there may be millions.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    /// 1-based line of the file.
    pub(super) line: u32,
    /// The host that the module is allotted to, the part number, the label: numbers of texts.
    pub(super) host: u32,
    pub(super) part: u32,
    pub(super) label: u32,
}

/// Where a serial number was seen, and what the stock says of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known {
    /// Number of the row of the stock.
    pub(super) row: u32,
    /// Number of the host where it was seen first.
    pub(super) host: u32,
    /// Number of the slot's name there.
    pub(super) slot: u32,
    /// Number of the part number, by the stock or there.
    pub(super) part: u32,
    /// Number of the next module with the same serial number and another part number.
    pub(super) next: u32,
}

/// A finding in numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Note {
    pub(super) kind: StockKind,
    pub(super) why: Why,
    pub(super) entry: u32,
    pub(super) row: u32,
    pub(super) host: u32,
    pub(super) slot: u32,
    pub(super) part: u32,
    /// For two places, the first one: host and slot; for two rows, the first one's line and the module.
    pub(super) first: (u32, u32),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Why {
    /// In two places.
    TwoPlaces,
    /// In two rows of the stock.
    TwoRows,
    /// In another host than its own.
    OtherHost,
    /// Not in the stock.
    Stranger,
    /// Seen nowhere.
    Nowhere,
    /// Seen with another part number.
    OtherPart,
    /// It may be behind an absent processor, where nothing can be seen.
    MayBeBehind,
    /// It may be a module without a stated number.
    MayBeNameless,
    /// It may be where not all could be read.
    MayBeUnread,
}

/// Texts that repeat, each kept once: hosts of the stock, part numbers, labels, slots.
#[derive(Debug, Default)]
pub(super) struct Names(Serials<()>);

impl Names {
    pub(super) fn number(&mut self, text: &str) -> u32 {
        u32::try_from(self.0.entry(text, || ()).0).unwrap_or(NONE)
    }

    pub(super) fn text(&self, number: u32) -> &str {
        self.0.serial(number as usize)
    }
}

/// The stock and all serial numbers that were seen.
#[derive(Debug, Default)]
pub struct Stock {
    /// Serial numbers, each with the number of its first module.
    pub(super) serials: Serials<u32>,
    /// Modules, each with the number of its serial number.
    pub(super) known: Vec<(u32, Known)>,
    pub(super) stock: Vec<Row>,
    /// Whether there is a stock at all; without one, only duplicates are found.
    pub(super) given: bool,
    /// All hosts, in the order of the fleet, and what the audit decides on each.
    pub(super) hosts: Vec<Box<str>>,
    pub(super) decisions: Vec<Decision>,
    pub(super) names: Names,
    pub(super) notes: Vec<Note>,
    pub(super) placeholders: usize,
    /// Hosts of which not every module is known by its serial number, and whether some are not known at all.
    pub(super) open_hosts: HashMap<String, bool>,
    pub(super) open_modules: usize,
    /// Hosts with an absent processor.
    pub(super) without_cpu: HashSet<String>,
    /// Hosts that were seen, and whether an input was lost of which nobody knows which hosts it held.
    pub(super) called: Called,
    pub(super) lost: bool,
}

impl Stock {
    /// Reads a table with the column `serial` and, if there are, `part`, `label` and `host`, in any order and
    /// with others between them.
    ///
    /// # Errors
    /// [`StockError`] where there is no column of serial numbers.
    pub fn read(file: &str, bytes: &[u8]) -> Result<Self, StockError> {
        // A row has some forty bytes.
        let expected = bytes.len() / 40;
        let mut stock = Self {
            given: true,
            serials: Serials::with_capacity(expected),
            known: Vec::with_capacity(expected),
            stock: Vec::with_capacity(expected),
            ..Self::default()
        };
        let mut columns = None;
        let mut header = None;
        each_row(bytes, |line, record| {
            let Some((serial, others)) = columns else {
                if header.is_none() {
                    header = Some(header_text(record));
                    columns = column(record, &["serial", "serial number", "sn"]).map(|serial| {
                        let others = [
                            column(record, &["host", "allotted", "allotted host", "server"]),
                            column(record, &["part", "part number", "pn"]),
                            column(record, &["label", "name", "tag"]),
                        ];
                        (serial, others)
                    });
                }
                return;
            };
            let Some(serial) = normal(record.get(serial).unwrap_or("")) else {
                stock.placeholders += 1;
                return;
            };
            let [host, part, label] = others.map(|column| {
                let text = column.and_then(|column| record.get(column)).unwrap_or("").trim();
                // A part number may be copied from firmware that prints its bytes.
                let decoded = text_of_bytes(text);
                if text.is_empty() { NONE } else { stock.names.number(decoded.as_deref().unwrap_or(text)) }
            });
            let line = u32::try_from(line).unwrap_or(u32::MAX);
            stock.add_row(&serial, Row { line, host, part, label });
        })
        .map_err(|open| open.of(file))?;
        if columns.is_none() {
            let found = header.unwrap_or_else(|| "none".to_owned());
            return Err(StockError::NoSerial { file: file.to_owned(), found });
        }
        Ok(stock)
    }

    fn add_row(&mut self, serial: &str, row: Row) {
        let number = u32::try_from(self.stock.len()).unwrap_or(NONE);
        self.stock.push(row);
        let module = self.module(serial, row.part);
        let (entry, known) = &mut self.known[module];
        match self.stock.get(known.row as usize) {
            Some(first) => self.notes.push(Note {
                kind: StockKind::DuplicateSerial,
                why: Why::TwoRows,
                entry: *entry,
                row: number,
                host: row.host,
                slot: NONE,
                part: row.part,
                first: (first.line, u32::try_from(module).unwrap_or(NONE)),
            }),
            None => known.row = number,
        }
    }

    /// The module with a serial number and a part number, made if there is none. Makers number their modules each
    /// for itself, so that another part number is another module; one that is not stated may be any.
    fn module(&mut self, serial: &str, part: u32) -> usize {
        let new = u32::try_from(self.known.len()).unwrap_or(NONE);
        let (entry, there) = self.serials.entry(serial, || new);
        let fresh = Known { row: NONE, host: NONE, slot: NONE, part, next: NONE };
        let number = u32::try_from(entry).unwrap_or(NONE);
        if !there {
            self.known.push((number, fresh));
            return new as usize;
        }
        let first = *self.serials.get(entry) as usize;
        let (mut at, mut open) = (first, None);
        loop {
            let known = &mut self.known[at].1;
            if known.part == part {
                return at;
            }
            if known.part == NONE || part == NONE {
                open = open.or(Some(at));
            }
            match known.next {
                NONE => break,
                next => at = next as usize,
            }
        }
        if let Some(open) = open {
            let known = &mut self.known[open].1;
            if known.part == NONE {
                known.part = part;
            }
            return open;
        }
        self.known[at].1.next = new;
        self.known.push((number, fresh));
        new as usize
    }

    /// Takes note of the modules of a host; hosts come in the order of the fleet.
    pub(super) fn see(&mut self, seen: &HostSummary) {
        self.open_modules += seen.without_serial;
        let host = u32::try_from(self.hosts.len()).unwrap_or(NONE);
        self.hosts.push(seen.name.as_str().into());
        self.decisions.push(Decision::of(&seen.verdict));
        // Without a stock nothing can be missed.
        if self.given {
            let no_listing = matches!(&seen.verdict, HostVerdict::NotDone(HostError::NoListing));
            self.lost |= seen.unread && !no_listing && seen.product.is_none() && seen.modules.is_empty();
            let no_cpu = seen.findings.iter().any(|finding| finding.kind == FindingKind::NoCpu);
            let open = seen.without_serial > 0 || seen.unread;
            for name in seen.names.iter().map(|name| name.to_ascii_lowercase()) {
                if open {
                    self.open_hosts.insert(name.clone(), seen.unread);
                }
                if no_cpu {
                    self.without_cpu.insert(name.clone());
                }
                self.called.add(name, host);
            }
        }
        for module in &seen.modules {
            let Some(serial) = normal(&module.serial) else { continue };
            let part = module.part.as_deref().map_or(NONE, |part| self.names.number(part));
            let slot = self.names.number(&module.slot);
            let number = self.module(&serial, part);
            let (entry, known) = self.known[number];
            let twice = known.host != NONE;
            let why = match self.stock.get(known.row as usize) {
                _ if twice => Some((StockKind::DuplicateSerial, Why::TwoPlaces)),
                None if self.given => Some((StockKind::NotInStock, Why::Stranger)),
                Some(row) if row.host != NONE && !self.is_called(seen, row.host) => {
                    Some((StockKind::Elsewhere, Why::OtherHost))
                }
                _ => None,
            };
            if let Some((kind, why)) = why {
                self.notes.push(Note {
                    kind,
                    why,
                    entry,
                    row: known.row,
                    host,
                    slot,
                    part,
                    first: (known.host, known.slot),
                });
            }
            if !twice {
                self.known[number].1 = Known { host, slot, ..known };
            }
        }
    }

    fn is_called(&self, host: &HostSummary, name: u32) -> bool {
        let name = self.names.text(name);
        host.names.iter().any(|own| own.eq_ignore_ascii_case(name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stock_needs_serial_numbers() {
        let error = Stock::read("stock.csv", b"part,host\nA,b\n").unwrap_err().to_string();
        assert!(error.contains("stock.csv: line 1") && error.contains("`part`, `host`"), "{error}");
        assert!(Stock::read("stock.csv", b"").is_err());
    }
}
