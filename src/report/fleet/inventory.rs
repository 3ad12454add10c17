//! A table with a row for each slot of every host, whether the host has a plan or not.

use std::borrow::Cow;
use std::io::{self, Write};

use super::csv::{Rows, gib};
use super::output::{FleetOutput, Out, Renderer};
use crate::fleet::Host;
use crate::population::{Module, Slot};
use crate::report::fleet_report::FleetReport;
use crate::units::Bytes;

/// The state of the one row of a host whose slots are not known.
const NOT_READ: &str = "not-read";

/// A slot, or a host of which none is known.
struct Row<'r, 'h> {
    host: &'r Host<'h>,
    slot: Option<&'r Slot<'r>>,
}

impl<'r> Row<'r, '_> {
    fn module(&self) -> Option<&'r Module<'r>> {
        self.slot.and_then(Slot::module)
    }

    /// What is stated of a module that is not running is no memory.
    fn size(&self) -> Option<Bytes> {
        self.slot.and_then(Slot::fitted).and_then(Module::bytes)
    }
}

/// A column: its name and its cell in every row.
struct Column {
    name: &'static str,
    cell: for<'c> fn(&'c Row<'_, '_>) -> Cow<'c, str>,
}

const COLUMNS: &[Column] = &[
    Column { name: "host", cell: |row| row.host.name.into() },
    Column { name: "short_name", cell: |row| row.host.short_name().into() },
    Column { name: "slot", cell: |row| row.slot.map_or("", |slot| &slot.name).into() },
    Column { name: "state", cell: |row| row.slot.map_or(NOT_READ, Slot::state_word).into() },
    Column { name: "size_bytes", cell: |row| number(row.size().map(|size| size.0)) },
    Column { name: "size_gib", cell: |row| gib(row.size()) },
    Column {
        name: "type",
        cell: |row| row.module().and_then(|m| m.memory_type).map_or("", |t| t.name()).into(),
    },
    Column {
        name: "kind",
        cell: |row| row.module().and_then(|m| m.kind).map_or("", |kind| kind.word()).into(),
    },
    Column {
        name: "maker",
        cell: |row| row.module().and_then(|m| m.maker).map_or("", |maker| maker.name()).into(),
    },
    Column { name: "part", cell: |row| row.module().and_then(|m| m.part.as_deref()).unwrap_or("").into() },
    Column { name: "serial", cell: |row| row.module().and_then(|m| m.serial).unwrap_or("").into() },
    Column {
        name: "configured_mts",
        cell: |row| number(row.module().and_then(|m| m.configured).map(|r| r.0)),
    },
];

fn number(number: Option<impl ToString>) -> Cow<'static, str> {
    number.map_or_else(String::new, |number| number.to_string()).into()
}

fn host_rows(host: &Host<'_>) -> Vec<u8> {
    let mut made = Rows::new();
    let mut add = |slot| {
        let row = Row { host, slot };
        made.add(COLUMNS.iter().map(|column| (column.cell)(&row)));
    };
    match host.case {
        Some(case) => {
            for slot in &case.population.slots {
                add(Some(slot));
            }
        }
        None => add(None),
    }
    made.into_bytes()
}

/// The inventory.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct Inventory<'o> {
    out: Out<'o>,
}

impl<'o> Inventory<'o> {
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

impl FleetOutput for Inventory<'_> {
    type Rendered = Vec<u8>;

    fn renderer(&self) -> Renderer<Vec<u8>> {
        Box::new(|host| host_rows(host.host))
    }

    fn write(&mut self, rows: Vec<u8>) -> io::Result<()> {
        self.out.write_all(&rows)
    }

    fn finish(&mut self, _: &FleetReport<'_>) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::csv::columns_in_the_guide;
    use super::*;

    #[test]
    fn every_column_is_in_the_guide() {
        let columns = columns_in_the_guide("--inventory");
        assert_eq!(columns, COLUMNS.iter().map(|column| column.name).collect::<Vec<_>>());
    }
}
