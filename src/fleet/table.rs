//! Tables as spreadsheets write them.

use thiserror::Error;

/// A table as spreadsheets write it: comma, semicolon or tab; quoted cells; UTF-8 with or without a mark, UTF-16
/// with one, else Windows-1252. The first row names the columns.
#[derive(Debug)]
pub(super) struct Table {
    header: csv::StringRecord,
    rows: Vec<(u64, csv::StringRecord)>,
}

/// A cell that runs over the end of its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct OpenQuote {
    /// 1-based line of the row.
    line: u64,
}

impl OpenQuote {
    /// The same, with the file in which it is.
    pub(super) fn of(self, file: &str) -> UnclosedQuote {
        UnclosedQuote { file: file.to_owned(), line: self.line }
    }
}

/// A quote that is not closed.
#[derive(Debug, Error, PartialEq, Eq)]
#[error(
    "{file}: line {line}: found a cell that runs over the end of its line, expected each row on one line. Close or remove the quote"
)]
pub struct UnclosedQuote {
    /// The file.
    pub file: String,
    /// 1-based line.
    pub line: u64,
}

/// One row.
pub(super) struct Row<'t> {
    /// 1-based line of the file.
    pub(super) line: u64,
    record: &'t csv::StringRecord,
}

impl Row<'_> {
    /// A cell without spaces at its ends; empty where the row is shorter.
    pub(super) fn cell(&self, column: usize) -> &str {
        self.record.get(column).unwrap_or("").trim()
    }
}

impl Table {
    /// Reads it all.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, OpenQuote> {
        let mut table = Self { header: csv::StringRecord::new(), rows: Vec::new() };
        let mut first = true;
        each_row(bytes, |line, record| {
            if std::mem::take(&mut first) {
                table.header = record.clone();
            } else {
                table.rows.push((line, record.clone()));
            }
        })?;
        Ok(table)
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

pub(super) fn header_text(header: &csv::StringRecord) -> String {
    let names: Vec<String> = header.iter().map(|name| format!("`{}`", name.trim())).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

pub(super) fn column(header: &csv::StringRecord, names: &[&str]) -> Option<usize> {
    let same = |cell: &str| {
        let cell = cell.trim().to_ascii_lowercase().replace(['_', '-'], " ");
        names.iter().any(|name| *name == cell)
    };
    header.iter().position(same)
}

/// Calls `row` for each row with its line. Lines that say `sep=;`, as spreadsheets write them, are skipped.
///
/// # Errors
/// The line of a row whose cell runs over the end of its line: a quote that is not closed swallows what follows.
pub(super) fn each_row(bytes: &[u8], mut row: impl FnMut(u64, &csv::StringRecord)) -> Result<(), OpenQuote> {
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
        let start = reader.position().clone();
        match reader.read_record(&mut record) {
            Ok(true) => {
                // The reader starts before the empty lines that it skips.
                let at = usize::try_from(start.byte()).unwrap_or(usize::MAX);
                let rest = text.as_bytes().get(at..).unwrap_or_default();
                let empty = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
                let line = start.line() + empty.filter(|byte| **byte == b'\n').count() as u64;
                if record.iter().any(|cell| cell.trim().contains(['\n', '\r'])) {
                    return Err(OpenQuote { line: line + offset });
                }
                if record.iter().any(|cell| !cell.trim().is_empty()) {
                    row(line + offset, &record);
                }
            }
            // The text is UTF-8 and rows may differ in length, so there is nothing else that could fail.
            Ok(false) | Err(_) => return Ok(()),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn column_of(bytes: &[u8], name: &str) -> Vec<String> {
        let table = Table::read(bytes).unwrap();
        let at = table.column(name).unwrap_or_else(|| panic!("{}", table.header()));
        table.rows().map(|row| format!("{} {}", row.line, row.cell(at))).collect()
    }

    /// Comma, semicolon and tab; quotes, marks and encodings as spreadsheets write them.
    #[test]
    fn tables_as_spreadsheets_write_them() {
        let plain = "host,serial\nbay07,\"1,\"\"A\"\"\"\n\nbay08,2\n";
        assert_eq!(column_of(plain.as_bytes(), "serial"), ["2 1,\"A\"", "4 2"]);
        assert_eq!(Table::read(b"host\na\n\"19 rack\nb\n").unwrap_err(), OpenQuote { line: 3 });
        assert_eq!(column_of(b"sep=;\r\nHost;Serial\r\nbay07;1\r\n", "serial"), ["3 1"]);
        assert_eq!(column_of("\u{feff}Serial\tHost\n1\tbay\u{fc}\n".as_bytes(), "host"), ["2 bay\u{fc}"]);
        assert_eq!(column_of(b"serial;host\n1;bay\xFC\n", "host"), ["2 bay\u{fc}"]);
        let wide: Vec<u8> =
            "\u{feff}serial\thost\r\n1\tbay\u{fc}\r\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(column_of(&wide, "host"), ["2 bay\u{fc}"]);
    }
}
