//! A table with a row for each finding, those of the stock at the end.

use std::borrow::Cow;
use std::io::{self, Write};

use super::csv::Rows;
use super::output::{FleetOutput, Out, Renderer};
use crate::diagnose::{Cause, Explained};
use crate::fleet::{Host, NOT_AUDITED, StockFinding};
use crate::report::fleet_report::FleetReport;

/// What a row is about.
enum Row<'r> {
    /// A finding on a host.
    Finding(&'r str, &'r Explained<'r>),
    /// A host that was not audited: its name, and why.
    NotAudited(&'r str, String),
    /// A module that is not where it should be.
    Stock(&'r StockFinding),
}

impl<'r> Row<'r> {
    fn first_cause(&self) -> Option<&'r Cause> {
        match self {
            Row::Finding(_, explained) => explained.causes.first(),
            Row::NotAudited(..) | Row::Stock(_) => None,
        }
    }
}

/// A column: its name and its cell in every row.
struct Column {
    name: &'static str,
    cell: for<'c> fn(&'c Row<'_>) -> Cow<'c, str>,
}

const COLUMNS: &[Column] = &[
    Column {
        name: "host",
        cell: |row| match row {
            Row::Finding(host, _) | Row::NotAudited(host, _) => (*host).into(),
            Row::Stock(finding) => stated(finding.host.as_ref()),
        },
    },
    Column {
        name: "severity",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.severity().word().into(),
            Row::NotAudited(..) => NOT_AUDITED.into(),
            Row::Stock(finding) => finding.kind.severity().word().into(),
        },
    },
    Column {
        name: "kind",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.kind.word().into(),
            Row::NotAudited(..) => NOT_AUDITED.into(),
            Row::Stock(finding) => finding.kind.word().into(),
        },
    },
    Column {
        name: "slot",
        cell: |row| match row {
            Row::Finding(_, explained) => stated(explained.finding.slot.as_ref()),
            Row::NotAudited(..) => "".into(),
            Row::Stock(finding) => stated(finding.slot.as_ref()),
        },
    },
    Column {
        name: "slots",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.slots.join("; ").into(),
            Row::NotAudited(..) => "".into(),
            Row::Stock(finding) => stated(finding.slot.as_ref()),
        },
    },
    Column {
        name: "other_slot",
        cell: |row| match row {
            Row::Finding(_, explained) => stated(explained.finding.other_slot.as_ref()),
            Row::NotAudited(..) => "".into(),
            Row::Stock(finding) => stated(finding.other.as_ref()),
        },
    },
    Column {
        name: "fields",
        cell: |row| match row {
            Row::Finding(_, explained) => {
                let fields = explained.finding.fields.iter().map(|field| field.word());
                fields.collect::<Vec<_>>().join("; ").into()
            }
            Row::NotAudited(..) | Row::Stock(_) => "".into(),
        },
    },
    Column {
        name: "summary",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.summary.as_str().into(),
            Row::NotAudited(_, reason) => reason.into(),
            Row::Stock(finding) => finding.summary.as_str().into(),
        },
    },
    Column {
        name: "expected",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.expected.as_str().into(),
            Row::NotAudited(..) | Row::Stock(_) => "".into(),
        },
    },
    Column {
        name: "found",
        cell: |row| match row {
            Row::Finding(_, explained) => explained.finding.found.as_str().into(),
            Row::NotAudited(..) | Row::Stock(_) => "".into(),
        },
    },
    Column { name: "cause", cell: |row| stated(row.first_cause().map(|cause| &cause.cause)) },
    Column { name: "check", cell: |row| stated(row.first_cause().map(|cause| &cause.check)) },
];

fn stated(text: Option<&String>) -> Cow<'_, str> {
    text.map_or("", String::as_str).into()
}

fn rows<'r>(rows: impl Iterator<Item = Row<'r>>) -> Vec<u8> {
    let mut made = Rows::new();
    for row in rows {
        made.add(COLUMNS.iter().map(|column| (column.cell)(&row)));
    }
    made.into_bytes()
}

fn host_rows(host: &Host<'_>) -> Vec<u8> {
    match &host.audited {
        Some(audited) => {
            rows(audited.diagnosis().findings.iter().map(|finding| Row::Finding(host.name, finding)))
        }
        None => rows(std::iter::once(Row::NotAudited(host.name, host.verdict.reason()))),
    }
}

/// The table of findings.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct FindingsTable<'o> {
    out: Out<'o>,
}

impl<'o> FindingsTable<'o> {
    /// Writes the names of the columns to `out`, and then the rows.
    ///
    /// # Errors
    /// Those of `out`.
    pub fn new(mut out: Out<'o>) -> io::Result<Self> {
        let mut head = Rows::new();
        head.add(COLUMNS.iter().map(|column| column.name.into()));
        out.write_all(&head.into_bytes())?;
        Ok(Self { out })
    }
}

impl FleetOutput for FindingsTable<'_> {
    type Rendered = Vec<u8>;

    fn renderer(&self) -> Renderer<Vec<u8>> {
        Box::new(|host| host_rows(host.host))
    }

    fn write(&mut self, rows: Vec<u8>) -> io::Result<()> {
        self.out.write_all(&rows)
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let mut findings = report.stock.findings();
        loop {
            // There may be as many as modules.
            let some: Vec<StockFinding> = findings.by_ref().take(256).collect();
            if some.is_empty() {
                return self.out.flush();
            }
            self.out.write_all(&rows(some.iter().map(Row::Stock)))?;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_is_in_the_guide() {
        let guide = include_str!("../../../docs/fleet.md");
        let (_, guide) = guide.split_once("| column of `--findings-table` |").unwrap();
        let rows = guide.split_once("\n\n").map_or(guide, |(rows, _)| rows).lines().skip(2);
        let columns: Vec<&str> = rows.filter_map(|row| row.split('`').nth(1)).collect();
        assert_eq!(columns, COLUMNS.iter().map(|column| column.name).collect::<Vec<_>>());
    }
}
