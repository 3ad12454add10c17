//! The stock: a table of modules by serial number, and what became of each.

use std::collections::{HashMap, HashSet};

use thiserror::Error;

use super::run::HostSummary;
use super::serials::{Serials, normal};
use super::table::{UnclosedQuote, column, each_row, header_text};
use crate::audit::Severity;
use crate::population::identity;

/// Why a stock cannot be taken.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum StockError {
    /// There is no column of serial numbers.
    #[error(
        "{file}: line 1: found the columns {found}, expected one called `serial`. Name the column so; `part`, `label` and `host` are read besides"
    )]
    NoSerial {
        /// The file.
        file: String,
        /// The columns it has.
        found: String,
    },
    /// A quote that is not closed.
    #[error(transparent)]
    OpenQuote(#[from] UnclosedQuote),
}

/// What a kind of finding about a module is called and weighs.
#[derive(Debug, Clone, Copy)]
pub struct StockInfo {
    /// Its word in findings.
    pub word: &'static str,
    /// How much it weighs.
    pub severity: Severity,
}

table! {
    /// What became of a module, in the order in which it is reported.
    pub enum StockKind: StockInfo {
        /// One serial number in two places, or twice in the stock.
        DuplicateSerial { word: "duplicate-serial", severity: Severity::Fault },
        /// Allotted to one host, fitted in another.
        Elsewhere { word: "elsewhere", severity: Severity::Fault },
        /// In the stock and seen nowhere.
        Unaccounted { word: "unaccounted", severity: Severity::Fault },
        /// In the stock and not seen, but it may be one whose listing states no serial number.
        Unproven { word: "unproven", severity: Severity::Unproven },
        /// Seen and not in the stock.
        NotInStock { word: "not-in-stock", severity: Severity::Warning },
    }
}

impl StockKind {
    /// The kind's word in findings.
    pub const fn word(self) -> &'static str {
        self.info().word
    }

    /// How much it weighs.
    pub const fn severity(self) -> Severity {
        self.info().severity
    }
}

/// One finding about a module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockFinding {
    /// What it is.
    pub kind: StockKind,
    /// The serial number, as it is compared.
    pub serial: String,
    /// Part number, by the listing or the stock.
    pub part: Option<String>,
    /// The host it is about.
    pub host: Option<String>,
    /// The slot, where it was seen.
    pub slot: Option<String>,
    /// The other place: where it was seen first, or where it is allotted to.
    pub other: Option<String>,
    /// Line of the stock's file.
    pub line: Option<u32>,
    /// One sentence.
    pub summary: String,
}

/// Stands for no row, no host, no text.
const NONE: u32 = u32::MAX;

/// One row of the stock. All is kept in numbers, since there may be millions.
#[derive(Debug, Clone, Copy)]
struct Row {
    /// 1-based line of the file.
    line: u32,
    /// The host that the module is allotted to, the part number, the label: numbers of texts.
    host: u32,
    part: u32,
    label: u32,
}

/// Where a serial number was seen, and what the stock says of it.
#[derive(Debug, Clone, Copy)]
struct Known {
    /// Number of the row of the stock.
    row: u32,
    /// Number of the host where it was seen first.
    host: u32,
    /// Number of the slot's name there.
    slot: u32,
    /// Number of the part number, by the stock or there.
    part: u32,
    /// Number of the next module with the same serial number and another part number.
    next: u32,
}

/// A finding in numbers.
#[derive(Debug, Clone, Copy)]
struct Note {
    kind: StockKind,
    why: Why,
    entry: u32,
    row: u32,
    host: u32,
    slot: u32,
    part: u32,
    /// For two places, the first one: host and slot; for two rows, the first one's line.
    first: (u32, u32),
}

#[derive(Debug, Clone, Copy)]
enum Why {
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
    /// It may be a module without a stated number.
    MayBeNameless,
    /// It may be where not all could be read.
    MayBeUnread,
}

/// Texts that repeat, each kept once: hosts of the stock, part numbers, labels, slots.
#[derive(Debug, Default)]
struct Names(Serials<()>);

impl Names {
    fn number(&mut self, text: &str) -> u32 {
        u32::try_from(self.0.entry(text, || ()).0).unwrap_or(NONE)
    }

    fn text(&self, number: u32) -> &str {
        self.0.serial(number as usize)
    }
}

/// The stock and all serial numbers that were seen.
#[derive(Debug, Default)]
pub struct Stock {
    /// Serial numbers, each with the number of its first module.
    serials: Serials<u32>,
    /// Modules, each with the number of its serial number.
    known: Vec<(u32, Known)>,
    stock: Vec<Row>,
    /// Whether there is a stock at all; without one, only duplicates are found.
    given: bool,
    hosts: Vec<Box<str>>,
    names: Names,
    notes: Vec<Note>,
    placeholders: usize,
    /// Hosts of which not every module is known by its serial number, and whether some are not known at all.
    open_hosts: HashMap<String, bool>,
    open_modules: usize,
    /// Hosts that were seen, and whether an input was lost of which nobody knows which hosts it held.
    seen_hosts: HashSet<String>,
    lost: bool,
}

/// What the stock comes to.
#[derive(Debug, Default)]
pub struct Reconciled {
    stock: Stock,
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
                if text.is_empty() { NONE } else { stock.names.number(text) }
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
                first: (first.line, NONE),
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
    pub fn see(&mut self, seen: &HostSummary) {
        self.open_modules += seen.without_serial;
        // Without a stock nothing can be missed.
        if self.given {
            self.lost |= seen.unread && seen.product.is_none() && seen.modules.is_empty();
            let open = seen.without_serial > 0 || seen.unread;
            for name in seen.names.iter().map(|name| name.to_ascii_lowercase()) {
                if open {
                    self.open_hosts.insert(name.clone(), seen.unread);
                }
                self.seen_hosts.insert(name);
            }
        }
        let host = u32::try_from(self.hosts.len()).unwrap_or(NONE);
        self.hosts.push(seen.name.as_str().into());
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
                    let lost = self.lost && !self.seen_hosts.contains(&host);
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
            stock: self,
        }
    }

    /// Whether there is a stock.
    pub fn is_given(&self) -> bool {
        self.given
    }

    fn worded(&self, note: &Note) -> StockFinding {
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
        let label =
            row.and_then(|row| text(row.label)).map_or_else(String::new, |label| format!(" ({label})"));
        let allotted = match (&host, seen) {
            (Some(host), false) => format!(", allotted to {host},"),
            _ => String::new(),
        };
        let line = row.map(|row| row.line);
        let what = match note.why {
            Why::TwoPlaces => format!("is in {place} and in {}", other.as_deref().unwrap_or_default()),
            Why::TwoRows => {
                format!("stands twice in the stock, in the lines {} and {}", note.first.0, line.unwrap_or(0))
            }
            Why::OtherHost => {
                format!("is in {place} and allotted to {}", other.as_deref().unwrap_or_default())
            }
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
        self.stock.notes.iter().filter(|note| note.kind.severity() == severity).count()
    }

    /// Whether there is no finding.
    pub fn is_empty(&self) -> bool {
        self.stock.notes.is_empty()
    }
}

/// Whether two names are of one host.
pub(super) fn host_names(name: &str) -> Vec<String> {
    /// Endings that say how a listing is kept and nothing about the host.
    const ENDINGS: &[&str] = &[
        ".gz",
        ".zst",
        ".txt",
        ".log",
        ".out",
        ".dmi",
        ".dump",
        ".bin",
        ".capture",
        ".listing",
        ".dmidecode",
    ];
    let file = name.rsplit('/').next().unwrap_or(name);
    let mut stem = file;
    while let Some(shorter) = ENDINGS.iter().find_map(|ending| stem.strip_suffix(ending)) {
        stem = shorter;
    }
    let mut names = vec![name.to_owned(), file.to_owned(), identity::collapse(stem).into_owned()];
    names.dedup();
    names
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

    #[test]
    fn hosts_are_named_by_their_files() {
        assert_eq!(host_names("rack/web01.example.org.txt.gz").last().unwrap(), "web01.example.org");
        assert_eq!(host_names("bay07").len(), 1);
    }
}
