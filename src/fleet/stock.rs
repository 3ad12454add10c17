//! The stock: a table of modules by serial number, and what became of each.

use thiserror::Error;

use super::run::Brief;
use super::serials::{Serials, normal};
use crate::population::identity;

/// A table as spreadsheets write it: comma, semicolon or tab; quoted cells; UTF-8 with or without a mark, UTF-16
/// with one, else Windows-1252. The first row names the columns.
#[derive(Debug)]
pub(super) struct Table {
    header: csv::StringRecord,
    rows: Vec<(u64, csv::StringRecord)>,
}

/// One row.
pub(super) struct Row<'t> {
    /// 1-based line of the file.
    pub(super) line: u64,
    record: &'t csv::StringRecord,
}

impl Row<'_> {
    /// A cell without blanks at its ends; empty where the row is shorter.
    pub(super) fn cell(&self, column: usize) -> &str {
        self.record.get(column).unwrap_or("").trim()
    }
}

impl Table {
    /// Reads it all. A row that cannot be read does not end the table.
    pub(super) fn read(bytes: &[u8]) -> Self {
        let mut table = Self { header: csv::StringRecord::new(), rows: Vec::new() };
        let mut first = true;
        each_row(bytes, |line, record| {
            if std::mem::take(&mut first) {
                table.header = record.clone();
            } else {
                table.rows.push((line, record.clone()));
            }
        });
        table
    }

    pub(super) fn column(&self, name: &str) -> Option<usize> {
        column(&self.header, &[name])
    }

    pub(super) fn header(&self) -> String {
        header_text(&self.header)
    }

    pub(super) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { line: *line, record })
    }
}

fn header_text(header: &csv::StringRecord) -> String {
    let names: Vec<String> = header.iter().map(|name| format!("`{}`", name.trim())).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

fn column(header: &csv::StringRecord, names: &[&str]) -> Option<usize> {
    let same = |cell: &str| {
        let cell = cell.trim().to_ascii_lowercase().replace(['_', '-'], " ");
        names.iter().any(|name| *name == cell)
    };
    header.iter().position(same)
}

/// Calls `row` for each row with its line. Lines that say `sep=;`, as spreadsheets write them, are passed over.
fn each_row(bytes: &[u8], mut row: impl FnMut(u64, &csv::StringRecord)) {
    let text = decode(bytes);
    let (text, said) = match text.strip_prefix("sep=") {
        Some(rest) => {
            let (line, rest) = rest.split_once('\n').unwrap_or((rest, ""));
            (rest, line.bytes().next())
        }
        None => (text.as_ref(), None),
    };
    let offset = u64::from(said.is_some());
    let first = text.lines().next().unwrap_or("");
    let count = |mark: u8| first.bytes().filter(|byte| *byte == mark).count();
    let guessed = [b',', b';', b'\t'].into_iter().rev().max_by_key(|mark| count(*mark));
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(said.or(guessed).unwrap_or(b','))
        .from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {
                let line = record.position().map_or(0, |position| {
                    // The reader's position is before the empty lines that it passes over.
                    let at = usize::try_from(position.byte()).unwrap_or(usize::MAX);
                    let rest = text.as_bytes().get(at..).unwrap_or_default();
                    let empty = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
                    position.line() + empty.filter(|byte| **byte == b'\n').count() as u64
                });
                if record.iter().any(|cell| !cell.trim().is_empty()) {
                    row(line + offset, &record);
                }
            }
            // The text is UTF-8 and rows may differ in length, so there is nothing else that could fail.
            Ok(false) | Err(_) => return,
        }
    }
}

fn decode(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes) {
        return encoding.decode_without_bom_handling(&bytes[mark..]).0;
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => text.into(),
        Err(_) => encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0,
    }
}

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
}

/// One row of the stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockRow {
    /// 1-based line of the file.
    pub line: u32,
    /// The host that the module is allotted to.
    pub host: Option<Box<str>>,
    /// The part number.
    pub part: Option<Box<str>>,
    /// The label: whatever people call it by.
    pub label: Option<Box<str>>,
}

/// Where a serial number was seen, and what the stock says of it; in numbers, since there may be millions.
#[derive(Debug, Clone, Copy)]
struct Known {
    /// Number of the row of the stock.
    row: u32,
    /// Number of the host where it was seen first.
    host: u32,
    /// Number of the slot's name there.
    slot: u32,
    /// Number of the part number there.
    part: u32,
}

/// No row, no host, no part number.
const NONE: u32 = u32::MAX;

const UNKNOWN: Known = Known { row: NONE, host: NONE, slot: NONE, part: NONE };

/// What became of a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum StockKind {
    /// One serial number in two places, or twice in the stock.
    DuplicateSerial,
    /// Allotted to one host, fitted in another.
    Elsewhere,
    /// In the stock and seen nowhere.
    Unaccounted,
    /// In the stock and not seen, but it may be one whose listing states no serial number.
    Unproven,
    /// Seen and not in the stock.
    NotInStock,
}

/// Kinds and their words.
pub const STOCK_KINDS: &[(StockKind, &str, &str)] = &[
    (StockKind::DuplicateSerial, "duplicate-serial", "fault"),
    (StockKind::Elsewhere, "elsewhere", "fault"),
    (StockKind::Unaccounted, "unaccounted", "fault"),
    (StockKind::Unproven, "unproven", "unproven"),
    (StockKind::NotInStock, "not-in-stock", "warning"),
];

impl StockKind {
    /// The kind's word in findings.
    pub fn word(self) -> &'static str {
        STOCK_KINDS.iter().find(|(kind, ..)| *kind == self).map_or("", |(_, word, _)| word)
    }

    /// How much it weighs: `fault`, `unproven` or `warning`.
    pub fn severity(self) -> &'static str {
        STOCK_KINDS.iter().find(|(kind, ..)| *kind == self).map_or("", |(.., severity)| severity)
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

/// The stock and all serial numbers that were seen.
#[derive(Debug)]
pub struct Stock {
    serials: Serials<Known>,
    stock: Vec<StockRow>,
    /// Whether there is a stock at all; without one, only duplicates are found.
    given: bool,
    hosts: Vec<Box<str>>,
    names: Names,
    findings: Vec<StockFinding>,
    rows: usize,
    placeholders: usize,
    /// Hosts of which not every module is known by its serial number, and whether some are not known at all.
    open_hosts: std::collections::HashMap<String, bool>,
    open_modules: usize,
}

/// Texts that repeat, each kept once: part numbers and slots.
#[derive(Debug, Default)]
struct Names {
    texts: Vec<Box<str>>,
    numbers: std::collections::HashMap<Box<str>, u32>,
}

impl Names {
    fn number(&mut self, text: &str) -> u32 {
        if let Some(number) = self.numbers.get(text) {
            return *number;
        }
        let number = u32::try_from(self.texts.len()).unwrap_or(u32::MAX);
        self.texts.push(text.into());
        self.numbers.insert(text.into(), number);
        number
    }

    fn text(&self, number: u32) -> &str {
        self.texts.get(number as usize).map_or("", |text| text)
    }
}

/// What the stock comes to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reconciled {
    /// Rows of the stock with a serial number.
    pub rows: usize,
    /// Rows whose serial number is a placeholder.
    pub placeholders: usize,
    /// Modules of the stock that were seen where they belong, or anywhere if they are allotted to no host.
    pub accounted: usize,
    /// Modules that were seen and state no serial number.
    pub without_serial: usize,
    /// All findings: by kind, then in the order of the fleet or of the stock.
    pub findings: Vec<StockFinding>,
}

impl Default for Stock {
    /// No stock; duplicates are found nevertheless.
    fn default() -> Self {
        Self {
            serials: Serials::default(),
            stock: Vec::new(),
            given: false,
            hosts: Vec::new(),
            names: Names::default(),
            findings: Vec::new(),
            rows: 0,
            placeholders: 0,
            open_hosts: std::collections::HashMap::new(),
            open_modules: 0,
        }
    }
}

impl Stock {
    /// Reads a table with the column `serial` and, if there are, `part`, `label` and `host`, in any order and
    /// with others between them.
    ///
    /// # Errors
    /// [`StockError`] where there is no column of serial numbers.
    pub fn read(file: &str, bytes: &[u8]) -> Result<Self, StockError> {
        // A row has some forty bytes.
        let mut stock =
            Self { given: true, serials: Serials::with_capacity(bytes.len() / 48), ..Self::default() };
        let mut columns = None;
        let mut header = None;
        each_row(bytes, |line, record| {
            let Some((serial, part, label, host)) = columns else {
                if header.is_none() {
                    header = Some(header_text(record));
                    columns = column(record, &["serial", "serial number", "sn"]).map(|serial| {
                        (
                            serial,
                            column(record, &["part", "part number", "pn"]),
                            column(record, &["label", "name", "tag"]),
                            column(record, &["host", "allotted", "allotted host", "server"]),
                        )
                    });
                }
                return;
            };
            let cell = |column: Option<usize>| -> Option<Box<str>> {
                let text = record.get(column?)?.trim();
                (!text.is_empty()).then(|| text.into())
            };
            let Some(serial) = normal(record.get(serial).unwrap_or("")) else {
                stock.placeholders += 1;
                return;
            };
            let line = u32::try_from(line).unwrap_or(u32::MAX);
            let row = StockRow { line, host: cell(host), part: cell(part), label: cell(label) };
            stock.add_row(&serial, row);
        });
        if columns.is_none() {
            let found = header.unwrap_or_else(|| "none".to_owned());
            return Err(StockError::NoSerial { file: file.to_owned(), found });
        }
        Ok(stock)
    }

    fn add_row(&mut self, serial: &str, row: StockRow) {
        self.rows += 1;
        let number = u32::try_from(self.stock.len()).unwrap_or(NONE);
        let (entry, _) = self.serials.entry(serial, || UNKNOWN);
        let known = self.serials.get_mut(entry);
        if let Some(first) = self.stock.get(known.row as usize) {
            self.findings.push(StockFinding {
                kind: StockKind::DuplicateSerial,
                serial: serial.to_owned(),
                part: row.part.as_deref().map(str::to_owned),
                host: row.host.as_deref().map(str::to_owned),
                slot: None,
                other: None,
                line: Some(row.line),
                summary: format!(
                    "serial number {serial} stands twice in the stock, in the lines {} and {}",
                    first.line, row.line
                ),
            });
            return;
        }
        known.row = number;
        self.stock.push(row);
    }

    /// Takes note of the modules of a host; hosts come in the order of the fleet.
    pub fn see(&mut self, brief: &Brief) {
        self.open_modules += brief.without_serial;
        // Without a stock nothing can be missed.
        if self.given && (brief.without_serial > 0 || brief.unread) {
            let names = brief.names.iter().map(|name| name.to_ascii_lowercase());
            self.open_hosts.extend(names.map(|name| (name, brief.unread)));
        }
        let number = u32::try_from(self.hosts.len()).unwrap_or(u32::MAX);
        self.hosts.push(brief.name.as_str().into());
        for module in &brief.modules {
            let Some(serial) = normal(&module.serial) else { continue };
            let part = module.part.as_deref().map_or(NONE, |part| self.names.number(part));
            let slot = self.names.number(&module.slot);
            let (entry, _) = self.serials.entry(&serial, || UNKNOWN);
            let known = *self.serials.get(entry);
            let row = self.stock.get(known.row as usize);
            match self.hosts.get(known.host as usize) {
                // Makers number their modules each for itself; another part number is another module.
                Some(first) if known.part == part || known.part == NONE || part == NONE => {
                    let other = format!("{first} {}", self.names.text(known.slot));
                    self.findings.push(StockFinding {
                        kind: StockKind::DuplicateSerial,
                        summary: format!(
                            "serial number {serial} is in {} {} and in {other}",
                            brief.name, module.slot
                        ),
                        serial: serial.clone(),
                        part: module.part.clone(),
                        host: Some(brief.name.clone()),
                        slot: Some(module.slot.clone()),
                        other: Some(other),
                        line: row.map(|row| row.line),
                    });
                }
                Some(_) => {}
                None => {
                    let finding = match row {
                        None if self.given => Some((StockKind::NotInStock, None, None)),
                        Some(StockRow { host: Some(host), line, .. })
                            if !brief.names.iter().any(|name| name.eq_ignore_ascii_case(host)) =>
                        {
                            Some((StockKind::Elsewhere, Some(host.to_string()), Some(*line)))
                        }
                        _ => None,
                    };
                    if let Some((kind, other, line)) = finding {
                        let summary = match &other {
                            Some(host) => format!(
                                "serial number {serial} is in {} {} and allotted to {host}",
                                brief.name, module.slot
                            ),
                            None => format!(
                                "serial number {serial} is in {} {} and not in the stock",
                                brief.name, module.slot
                            ),
                        };
                        self.findings.push(StockFinding {
                            kind,
                            serial: serial.clone(),
                            part: module.part.clone(),
                            host: Some(brief.name.clone()),
                            slot: Some(module.slot.clone()),
                            other,
                            line,
                            summary,
                        });
                    }
                    *self.serials.get_mut(entry) = Known { host: number, slot, part, ..known };
                }
            }
        }
    }

    /// What became of every module.
    pub fn reconcile(self) -> Reconciled {
        let mut findings = self.findings;
        let mut accounted = 0;
        let misplaced = findings.iter().filter(|finding| finding.kind == StockKind::Elsewhere).count();
        for entry in 0..self.serials.len() {
            let known = self.serials.get(entry);
            let Some(row) = self.stock.get(known.row as usize) else { continue };
            if known.host != NONE {
                accounted += 1;
                continue;
            }
            let serial = self.serials.serial(entry);
            // A module that is allotted can only hide in its host; any other in each that states no numbers.
            let open = match &row.host {
                Some(host) => self.open_hosts.get(&host.to_ascii_lowercase()).copied(),
                None => (!self.open_hosts.is_empty()).then(|| self.open_hosts.values().any(|unread| *unread)),
            };
            let label = row.label.as_deref().map_or_else(String::new, |label| format!(" ({label})"));
            let (kind, why) = match open {
                Some(true) => (StockKind::Unproven, "not seen; not all listings could be read in full"),
                Some(false) => (StockKind::Unproven, "not seen; it may be one that states no serial number"),
                None => (StockKind::Unaccounted, "seen nowhere"),
            };
            let place = row.host.as_deref().map_or_else(String::new, |host| format!(", allotted to {host},"));
            findings.push(StockFinding {
                kind,
                serial: serial.to_owned(),
                part: row.part.as_deref().map(str::to_owned),
                host: row.host.as_deref().map(str::to_owned),
                slot: None,
                other: None,
                line: Some(row.line),
                summary: format!("serial number {serial}{label}{place} is {why}"),
            });
        }
        findings.sort_by_key(|finding| finding.kind);
        Reconciled {
            rows: self.rows,
            placeholders: self.placeholders,
            accounted: accounted - misplaced.min(accounted),
            without_serial: self.open_modules,
            findings,
        }
    }

    /// Whether there is a stock.
    pub fn is_given(&self) -> bool {
        self.given
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

    fn column_of(bytes: &[u8], name: &str) -> Vec<String> {
        let table = Table::read(bytes);
        let at = table.column(name).unwrap_or_else(|| panic!("{}", table.header()));
        table.rows().map(|row| format!("{} {}", row.line, row.cell(at))).collect()
    }

    /// Comma, semicolon and tab; quotes, marks and encodings as spreadsheets write them.
    #[test]
    fn tables_as_spreadsheets_write_them() {
        let plain = "host,serial\nbay07,\"1,\"\"A\"\"\"\n\nbay08,2\n";
        assert_eq!(column_of(plain.as_bytes(), "serial"), ["2 1,\"A\"", "4 2"]);
        assert_eq!(column_of(b"sep=;\r\nHost;Serial\r\nbay07;1\r\n", "serial"), ["3 1"]);
        assert_eq!(column_of("\u{feff}Serial\tHost\n1\tbay\u{fc}\n".as_bytes(), "host"), ["2 bay\u{fc}"]);
        assert_eq!(column_of(b"serial;host\n1;bay\xFC\n", "host"), ["2 bay\u{fc}"]);
        let wide: Vec<u8> =
            "\u{feff}serial\thost\r\n1\tbay\u{fc}\r\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(column_of(&wide, "host"), ["2 bay\u{fc}"]);
    }

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
