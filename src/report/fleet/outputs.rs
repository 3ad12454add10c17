//! Every output of a fleet that goes to a file of its own.

use std::io;

use super::findings_table::FindingsTable;
use super::hosts_table::HostsTable;
use super::json_lines::JsonLines;
use super::metrics::Metrics;
use super::output::{Out, Outputs, Scratch};
use super::test_report::TestReport;

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
        add: |outputs, out, _| {
            outputs.add(FindingsTable::new(out)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "hosts-table",
        about: "a table (CSV) with a row for each host",
        add: |outputs, out, _| {
            outputs.add(HostsTable::new(out)?);
            Ok(())
        },
    },
    OutputInfo {
        name: "test-report",
        about: "a test report (JUnit XML) with a case for each host",
        add: |outputs, out, scratch| {
            outputs.add(TestReport::new(out, scratch()?));
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

    /// A guide that knows each output.
    #[test]
    fn every_output_is_in_the_guide() {
        let guide = include_str!("../../../docs/fleet.md");
        for output in OUTPUTS {
            assert!(guide.contains(&format!("| `--{} FILE` |", output.name)), "{}", output.name);
        }
    }
}
