//! A table with a row for each host.

use std::borrow::Cow;
use std::io::{self, Write};

use super::csv::{Rows, gib, split_row};
use super::output::{FleetOutput, Out, Renderer, Scratch};
use super::row::{HostRow, Machine};
use super::waiting::{Pieces, Waiting};
use crate::audit::Severity;
use crate::fleet::Host;
use crate::report::fleet_report::FleetReport;
use crate::units::Bytes;

/// A column: its name and its cell.
struct Column {
    name: &'static str,
    cell: Cell,
}

enum Cell {
    /// Of every host.
    Host(for<'c> fn(&'c HostRow<'_, '_>) -> Cow<'c, str>),
    /// Of a machine that was audited; empty for another.
    Machine(for<'c> fn(&'c Machine<'_>) -> Cow<'c, str>),
    /// The decision, which is known last.
    Decision,
}

const COLUMNS: &[Column] = &[
    Column { name: "host", cell: Cell::Host(|row| row.host.name.into()) },
    Column { name: "verdict", cell: Cell::Host(|row| row.host.verdict.word().into()) },
    Column { name: "decision", cell: Cell::Decision },
    Column { name: "short_name", cell: Cell::Host(|row| row.host.short_name().into()) },
    Column { name: "reason", cell: Cell::Host(|row| row.host.verdict.reason().into()) },
    Column { name: "maker", cell: Cell::Host(|row| row.named(|named| &named.maker)) },
    Column { name: "product", cell: Cell::Host(|row| row.named(|named| &named.product)) },
    Column { name: "serial", cell: Cell::Host(|row| row.named(|named| &named.serial)) },
    Column { name: "plan", cell: Cell::Machine(|machine| machine.case.plan_name().into()) },
    Column {
        name: "board",
        cell: Cell::Machine(|machine| machine.case.board.map_or("", |board| &board.name).into()),
    },
    Column { name: "planned_bytes", cell: Cell::Machine(|machine| size(machine.case.planned_total())) },
    Column { name: "planned_gib", cell: Cell::Machine(|machine| gib(machine.case.planned_total())) },
    Column {
        name: "detected_bytes",
        cell: Cell::Machine(|machine| size(machine.case.population.totals.detected)),
    },
    Column {
        name: "detected_gib",
        cell: Cell::Machine(|machine| gib(machine.case.population.totals.detected)),
    },
    Column {
        name: "mapped_bytes",
        cell: Cell::Machine(|machine| size(machine.case.population.totals.mapped)),
    },
    Column { name: "mapped_gib", cell: Cell::Machine(|machine| gib(machine.case.population.totals.mapped)) },
    Column {
        name: "visible_bytes",
        cell: Cell::Machine(|machine| {
            size(machine.case.sources.meminfo.as_ref().map(|meminfo| meminfo.total))
        }),
    },
    Column {
        name: "visible_gib",
        cell: Cell::Machine(|machine| {
            gib(machine.case.sources.meminfo.as_ref().map(|meminfo| meminfo.total))
        }),
    },
    Column {
        name: "running_mts",
        cell: Cell::Machine(|machine| {
            let rates = machine.case.population.fitted().filter_map(|(_, module)| module.configured);
            rates.map(|rate| rate.0).min().map_or_else(String::new, |rate| rate.to_string()).into()
        }),
    },
    Column {
        name: "fitted",
        cell: Cell::Machine(|machine| machine.case.population.totals.fitted.to_string().into()),
    },
    Column {
        name: "slots",
        cell: Cell::Machine(|machine| machine.case.population.totals.slots.to_string().into()),
    },
    Column {
        name: "faults",
        cell: Cell::Machine(|machine| machine.audit.count(Severity::Fault).to_string().into()),
    },
    Column {
        name: "warnings",
        cell: Cell::Machine(|machine| machine.audit.count(Severity::Warning).to_string().into()),
    },
    Column {
        name: "open",
        cell: Cell::Machine(|machine| machine.audit.count(Severity::Unproven).to_string().into()),
    },
    Column {
        name: "firmware",
        cell: Cell::Host(|row| row.named(|named| named.firmware.as_ref().map_or(&None, |own| &own.version))),
    },
    Column {
        name: "firmware_date",
        cell: Cell::Host(|row| row.named(|named| named.firmware.as_ref().map_or(&None, |own| &own.date))),
    },
];

fn size(size: Option<Bytes>) -> Cow<'static, str> {
    size.map_or_else(String::new, |size| size.0.to_string()).into()
}

fn host_row(host: &Host<'_>) -> Pieces {
    let row = HostRow::of(host);
    let cell = |column: &Column| match (&column.cell, &row.machine) {
        (Cell::Host(cell), _) => cell(&row).into_owned().into(),
        (Cell::Machine(cell), Some(machine)) => cell(machine).into_owned().into(),
        (Cell::Machine(_), None) | (Cell::Decision, _) => "".into(),
    };
    let at = COLUMNS.iter().position(|column| matches!(column.cell, Cell::Decision)).unwrap_or(0);
    let (before, after) = COLUMNS.split_at(at);
    Pieces::new(host, vec![split_row(before.iter().map(cell), after.iter().skip(1).map(cell))])
}

/// The table of hosts. Its rows wait until the stock is known, which the decisions depend on.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct HostsTable<'o> {
    out: Out<'o>,
    rows: Waiting,
}

impl<'o> HostsTable<'o> {
    /// Writes the names of the columns to `out`, and in the end the rows; until then they wait in `scratch`.
    ///
    /// # Errors
    /// Those of `out`.
    pub fn new(mut out: Out<'o>, scratch: Box<dyn Scratch>) -> io::Result<Self> {
        let mut head = Rows::new();
        head.add(COLUMNS.iter().map(|column| column.name.into()));
        out.write_all(&head.into_bytes())?;
        Ok(Self { out, rows: Waiting::new(scratch) })
    }
}

impl FleetOutput for HostsTable<'_> {
    type Rendered = Pieces;

    fn renderer(&self) -> Renderer<Pieces> {
        Box::new(|host| host_row(host.host))
    }

    fn write(&mut self, row: Pieces) -> io::Result<()> {
        self.rows.add(&row)
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let out = &mut self.out;
        self.rows.decide(report.stock, |row| row.write(out))?;
        out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::csv::columns_in_the_guide;
    use super::*;

    #[test]
    fn every_column_is_in_the_guide() {
        let columns = columns_in_the_guide("--hosts-table");
        assert_eq!(columns, COLUMNS.iter().map(|column| column.name).collect::<Vec<_>>());
    }
}
