//! A table with a row for each host.

use std::borrow::Cow;
use std::io::{self, Write};

use super::csv::Rows;
use super::output::{FleetOutput, Out, Renderer};
use super::row::{HostRow, Machine};
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
}

const COLUMNS: &[Column] = &[
    Column { name: "host", cell: Cell::Host(|row| row.host.name.into()) },
    Column { name: "verdict", cell: Cell::Host(|row| row.host.verdict.word().into()) },
    Column { name: "reason", cell: Cell::Host(|row| row.host.verdict.reason().into()) },
    Column { name: "maker", cell: Cell::Host(|row| row.named(|named| &named.maker)) },
    Column { name: "product", cell: Cell::Host(|row| row.named(|named| &named.product)) },
    Column { name: "serial", cell: Cell::Host(|row| row.named(|named| &named.serial)) },
    Column { name: "plan", cell: Cell::Machine(|machine| machine.case.plan_name().into()) },
    Column {
        name: "board",
        cell: Cell::Machine(|machine| machine.case.board.map_or("", |board| &board.name).into()),
    },
    Column { name: "planned_bytes", cell: Cell::Machine(|machine| size(machine.case.plan.planned_total())) },
    Column {
        name: "detected_bytes",
        cell: Cell::Machine(|machine| size(machine.case.population.totals.detected)),
    },
    Column {
        name: "mapped_bytes",
        cell: Cell::Machine(|machine| size(machine.case.population.totals.mapped)),
    },
    Column {
        name: "visible_bytes",
        cell: Cell::Machine(|machine| {
            size(machine.case.sources.meminfo.as_ref().map(|meminfo| meminfo.total))
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
];

fn size(size: Option<Bytes>) -> Cow<'static, str> {
    size.map_or_else(String::new, |size| size.0.to_string()).into()
}

fn host_row(host: &Host<'_>) -> Vec<u8> {
    let host = HostRow::of(host);
    let mut row = Rows::new();
    row.add(COLUMNS.iter().map(|column| match (&column.cell, &host.machine) {
        (Cell::Host(cell), _) => cell(&host),
        (Cell::Machine(cell), Some(machine)) => cell(machine),
        (Cell::Machine(_), None) => "".into(),
    }));
    row.into_bytes()
}

/// The table of hosts.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct HostsTable<'o> {
    out: Out<'o>,
}

impl<'o> HostsTable<'o> {
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

impl FleetOutput for HostsTable<'_> {
    type Rendered = Vec<u8>;

    fn renderer(&self) -> Renderer<Vec<u8>> {
        Box::new(|host| host_row(host.host))
    }

    fn write(&mut self, row: Vec<u8>) -> io::Result<()> {
        self.out.write_all(&row)
    }

    fn finish(&mut self, _: &FleetReport<'_>) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_is_in_the_guide() {
        let guide = include_str!("../../../docs/fleet.md");
        let (_, guide) = guide.split_once("| column of `--hosts-table` |").unwrap();
        let rows = guide.split_once("\n\n").map_or(guide, |(rows, _)| rows).lines().skip(2);
        let columns: Vec<&str> = rows.filter_map(|row| row.split('`').nth(1)).collect();
        assert_eq!(columns, COLUMNS.iter().map(|column| column.name).collect::<Vec<_>>());
    }
}
