//! Tables for spreadsheets.

use std::borrow::Cow;

use crate::sanitize::sanitize;

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

/// A cell that a spreadsheet takes as text whatever it starts with: formulas start with one of these.
fn cell(text: &str) -> Cow<'_, str> {
    let text = sanitize(text);
    let formula = |text: &str| text.trim_start().starts_with(['=', '+', '-', '@']);
    // Some spreadsheets part cells at semicolons too.
    if text.split(';').any(formula) { format!("'{}", text.replace(';', ",")).into() } else { text }
}
