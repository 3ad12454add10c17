//! Tables for spreadsheets.

use std::borrow::Cow;

use super::waiting::Piece;
use crate::sanitize::sanitize;
use crate::units::Bytes;

/// Rows of a table while they are made.
pub(super) struct Rows(csv::Writer<Vec<u8>>);

impl Rows {
    pub(super) fn new() -> Self {
        // Room for a row or two: there are many tables of few rows.
        Self(csv::WriterBuilder::new().buffer_capacity(1 << 10).from_writer(Vec::new()))
    }

    pub(super) fn add<'c>(&mut self, cells: impl Iterator<Item = Cow<'c, str>>) {
        // Writing to memory cannot fail.
        let _ = self.0.write_record(cells.map(|text| cell(&text).into_owned()));
    }

    /// All of them, each with its end.
    pub(super) fn into_bytes(self) -> Vec<u8> {
        self.0.into_inner().unwrap_or_default()
    }
}

/// A size in GiB, to two places where it is no whole number; empty where it is not known.
pub(super) fn gib(size: Option<Bytes>) -> Cow<'static, str> {
    let text = |size: Bytes| {
        let (whole, rest) = (size.0 / Bytes::GIB, size.0 % Bytes::GIB);
        match rest * 100 / Bytes::GIB {
            _ if rest == 0 => whole.to_string(),
            hundredths => format!("{whole}.{hundredths:02}"),
        }
    };
    size.map_or_else(String::new, text).into()
}

/// A row in two pieces, with the cell between them left out: there, a word is put that needs no quotes.
pub(super) fn split_row<'c>(
    before: impl Iterator<Item = Cow<'c, str>>,
    after: impl Iterator<Item = Cow<'c, str>>,
) -> Piece {
    let mut first = Rows::new();
    first.add(before);
    let mut before = first.into_bytes();
    if let Some(end) = before.last_mut() {
        *end = b',';
    }
    let mut after = after.peekable();
    let mut rest = Vec::new();
    if after.peek().is_some() {
        let mut row = Rows::new();
        row.add(after);
        rest.push(b',');
        rest.append(&mut row.into_bytes());
    } else {
        rest.push(b'\n');
    }
    Piece { before, after: rest }
}

/// A cell that a spreadsheet takes as text whatever it starts with: formulas start with one of these.
fn cell(text: &str) -> Cow<'_, str> {
    let text = sanitize(text);
    let formula = |text: &str| text.trim_start().starts_with(['=', '+', '-', '@']);
    // Some spreadsheets part cells at semicolons too.
    if text.split(';').any(formula) { format!("'{}", text.replace(';', ",")).into() } else { text }
}

/// The columns that docs/fleet.md has for the table of an option, in its order.
#[cfg(test)]
pub(super) fn columns_in_the_guide(option: &str) -> Vec<&'static str> {
    let guide = include_str!("../../../docs/fleet.md");
    let (_, guide) = guide.split_once(&format!("| column of `{option}` |")).unwrap();
    let rows = guide.split_once("\n\n").map_or(guide, |(rows, _)| rows).lines().skip(2);
    rows.filter_map(|row| row.split('`').nth(1)).collect()
}
