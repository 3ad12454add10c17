//! A table with a row for each finding, those of the stock at the end.

use std::borrow::Cow;
use std::io::{self, BufWriter, Write};

use super::csv::{Rows, split_row};
use super::output::{FleetOutput, Out, Renderer, Scratch};
use super::waiting::{Piece, Pieces, Waiting};
use crate::diagnose::{Cause, Explained};
use crate::fleet::{Decision, Host, NOT_AUDITED, StockFinding, short_name};
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

/// The last column: the decision on the host, which is known last.
const DECISION: &str = "decision";

const COLUMNS: &[Column] = &[
    Column {
        name: "host",
        cell: |row| match row {
            Row::Finding(host, _) | Row::NotAudited(host, _) => (*host).into(),
            Row::Stock(finding) => stated(finding.host.as_ref()),
        },
    },
    Column {
        name: "short_name",
        cell: |row| match row {
            Row::Finding(host, _) | Row::NotAudited(host, _) => short_name(host).into(),
            Row::Stock(finding) => finding.host.as_deref().map_or_else(String::new, short_name).into(),
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

/// The row, with room for the decision at its end.
fn row(row: &Row<'_>) -> Piece {
    split_row(COLUMNS.iter().map(|column| (column.cell)(row)), std::iter::empty())
}

fn host_rows(host: &Host<'_>) -> Pieces {
    let rows = match &host.audited {
        Some(audited) => audited
            .diagnosis()
            .findings
            .iter()
            .map(|finding| row(&Row::Finding(host.name, finding)))
            .collect(),
        None => vec![row(&Row::NotAudited(host.name, host.verdict.reason()))],
    };
    Pieces::new(host, rows)
}

/// The table of findings. Its rows wait until the stock is known, which the decisions depend on.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct FindingsTable<'o> {
    out: Out<'o>,
    rows: Waiting,
}

impl<'o> FindingsTable<'o> {
    /// Writes the names of the columns to `out`, and in the end the rows; until then they wait in `scratch`.
    ///
    /// # Errors
    /// Those of `out`.
    pub fn new(mut out: Out<'o>, scratch: Box<dyn Scratch>) -> io::Result<Self> {
        let mut head = Rows::new();
        head.add(COLUMNS.iter().map(|column| column.name.into()).chain([DECISION.into()]));
        out.write_all(&head.into_bytes())?;
        Ok(Self { out, rows: Waiting::new(scratch) })
    }
}

impl FleetOutput for FindingsTable<'_> {
    type Rendered = Pieces;

    fn renderer(&self) -> Renderer<Pieces> {
        Box::new(|host| host_rows(host.host))
    }

    fn write(&mut self, rows: Pieces) -> io::Result<()> {
        self.rows.add(&rows)
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let mut out = BufWriter::new(&mut self.out);
        self.rows.decide(report.stock, |row| row.write(&mut out))?;
        // There may be as many as modules.
        for finding in report.stock.findings() {
            let Piece { before, after } = row(&Row::Stock(&finding));
            out.write_all(&before)?;
            out.write_all(report.stock.decision_on(&finding).map_or("", Decision::word).as_bytes())?;
            out.write_all(&after)?;
        }
        out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::csv::columns_in_the_guide;
    use super::*;

    #[test]
    fn every_column_is_in_the_guide() {
        let columns = columns_in_the_guide("--findings-table");
        let names = COLUMNS.iter().map(|column| column.name).chain([DECISION]);
        assert_eq!(columns, names.collect::<Vec<_>>());
    }
}
