//! The outputs of a fleet: one file for each, and a row of [`OUTPUTS`] for those that go to a file of their own.
//!
//! A run with one output:
//!
//! ```
//! use asfitted::fleet::{Fleet, Inputs, Limits, LoadedPlan, Manifest, Plans};
//! use asfitted::report::fleet::{FleetReport, HostView, HostsTable, Outputs};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let folder = tempfile::tempdir()?;
//! # let folder = folder.path();
//! # std::fs::write(folder.join("bay07.txt"), asfitted::demo::LISTING)?;
//! let plan = asfitted::plan::read("plan.yaml", asfitted::demo::PLAN)?;
//! let manifest = Manifest::read("manifest.csv", b"host,plan\nbay07,plan\n")?;
//! let plans = Plans::new(vec![LoadedPlan { plan, board: None }], manifest);
//!
//! let mut table = Vec::new();
//! let mut outputs = Outputs::default();
//! outputs.add(HostsTable::new(Box::new(&mut table), Box::new(std::io::Cursor::new(Vec::new())))?);
//! let renderers = outputs.renderers();
//! let result = Fleet::new(&plans).run(
//!     Inputs::new(vec![folder.into()], &[], Limits::default()),
//!     |host| renderers.render(&HostView::new(host)),
//!     |_, rendered| outputs.write(rendered).unwrap(),
//! );
//! outputs.finish(&FleetReport::new(&result))?;
//! assert_eq!(result.summary.deviates, 1);
//! assert!(String::from_utf8(table)?.contains("bay07.txt,deviates,hold,"));
//! # Ok(())
//! # }
//! ```

mod csv;
mod findings_table;
mod hosts_table;
mod inventory;
mod json;
mod json_lines;
mod metrics;
mod output;
pub(in crate::report) mod row;
mod test_report;
mod text;
pub(in crate::report) mod waiting;

pub use super::fleet_report::{Changes, FleetReport};
pub use findings_table::FindingsTable;
pub use hosts_table::HostsTable;
pub use inventory::Inventory;
pub use json::{
    ChangedDecisions, ChangesJson, DecisionJson, FleetJson, HostsJson, KindJson, NameJson, NotAuditedJson,
    PatternJson, StockFindingJson, StockFindings, StockJson,
};
pub use json_lines::JsonLines;
pub use metrics::Metrics;
pub use output::{FleetOutput, HostView, Out, Outputs, Rendered, Renderer, Renderers, Scratch};
pub use test_report::TestReport;
pub use text::SummaryText;
pub use waiting::Pieces;

use std::io;

/// An output that goes to a file of its own.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct OutputInfo {
    /// What it is called; `--NAME FILE` on the command line.
    pub name: &'static str,
    /// What is written.
    pub about: &'static str,
    /// Adds it to the outputs of a run.
    pub add: AddOutput,
}

/// Adds an output that writes to `Out` to the outputs of a run. What must wait until all hosts are known waits in what
/// the function gives.
pub type AddOutput =
    for<'o> fn(&mut Outputs<'o>, Out<'o>, &dyn Fn() -> io::Result<Box<dyn Scratch>>) -> io::Result<()>;

/// All of them. Options of the command line, their help, and what keeps results from taking the place of inputs follow
/// from this table; a test compares it with docs/fleet.md.
pub const OUTPUTS: &[OutputInfo] = &[
    OutputInfo {
        name: "json-lines",
        about: "one line of JSON for each host, and one for the fleet",
        add: |outputs, out, _| {
            outputs.add(JsonLines::new(out));
            Ok(())
        },
    },
    OutputInfo {
        name: "findings-table",
        about: "a table (CSV) with a row for each finding",
        add: |outputs, out, scratch| {
            outputs.add(FindingsTable::new(out, scratch()?)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "hosts-table",
        about: "a table (CSV) with a row for each host",
        add: |outputs, out, scratch| {
            outputs.add(HostsTable::new(out, scratch()?)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "inventory",
        about: "a table (CSV) with a row for each slot of every host",
        add: |outputs, out, _| {
            outputs.add(Inventory::new(out)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "test-report",
        about: "a test report (JUnit XML) with a case for each host",
        add: |outputs, out, scratch| {
            outputs.add(TestReport::new(out, scratch)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "metrics",
        about: "metrics (OpenMetrics text)",
        add: |outputs, out, _| {
            outputs.add(Metrics::new(out));
            Ok(())
        },
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleet::{FleetResult, Host, HostError, HostVerdict};

    /// A host goes to the outputs that it was rendered for, and to no others.
    #[test]
    fn what_was_rendered_for_another_output_is_refused() {
        let verdict = HostVerdict::NotDone(HostError::Empty);
        let host = Host { name: "bay07", verdict: &verdict, case: None, audited: None };
        let mut table = Vec::new();
        let mut outputs = Outputs::default();
        let scratch = Box::new(io::Cursor::new(Vec::new()));
        outputs.add(HostsTable::new(Box::new(&mut table), scratch).unwrap());
        let mut others = Outputs::default();
        others.add(Metrics::new(Box::new(io::sink())));
        assert!(outputs.write(others.renderers().render(&HostView::new(&host))).is_err());
        outputs.write(outputs.renderers().render(&HostView::new(&host))).unwrap();
        outputs.finish(&FleetReport::new(&FleetResult::default())).unwrap();
        let table = String::from_utf8(table).unwrap();
        assert!(table.contains("\nbay07,not-audited,cannot-say,bay07,\"found nothing in it"), "{table}");
    }

    /// What can be asked for can be found.
    #[test]
    fn every_output_is_in_the_guide() {
        let guide = include_str!("../../../docs/fleet.md");
        for output in OUTPUTS {
            assert!(guide.contains(&format!("| `--{} FILE` |", output.name)), "{}", output.name);
        }
    }
}
