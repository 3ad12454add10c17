//! Numbers for monitoring: the OpenMetrics text format, version 1.0.

use std::fmt::Write as _;
use std::io::{self, Write as _};

use super::output::{FleetOutput, Out, Renderer};
use crate::fleet::{Decision, StockKind};
use crate::report::fleet_report::FleetReport;
use crate::report::view::fleet::outcomes;

/// Metrics, written at the end.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct Metrics<'o> {
    out: Out<'o>,
}

impl<'o> Metrics<'o> {
    /// Writes to `out`.
    pub fn new(out: Out<'o>) -> Self {
        Self { out }
    }
}

impl FleetOutput for Metrics<'_> {
    type Rendered = ();

    fn renderer(&self) -> Renderer<()> {
        Box::new(|_| ())
    }

    fn write(&mut self, (): ()) -> io::Result<()> {
        Ok(())
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        self.out.write_all(metrics(report).as_bytes())?;
        self.out.flush()
    }
}

fn metrics(report: &FleetReport<'_>) -> String {
    let summary = report.summary;
    let mut out = String::new();
    let mut family = |name: &str, help: &str, samples: &[(String, usize)]| {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "# TYPE {name} gauge\n# HELP {name} {help}");
        for (labels, value) in samples {
            let _ = writeln!(out, "{name}{labels} {value}");
        }
    };
    let label = |key: &str, value: &str| format!("{{{key}=\"{value}\"}}");
    let hosts = outcomes(summary).map(|outcome| (label("outcome", outcome.word()), outcome.count));
    family("asfitted_fleet_hosts", "Hosts by outcome.", &hosts);
    let decisions = Decision::ALL.iter().copied();
    let decisions: Vec<(String, usize)> = decisions
        .map(|decision| (label("decision", decision.word()), report.stock.decided(decision)))
        .collect();
    family("asfitted_fleet_decisions", "Hosts by decision, what the stock says included.", &decisions);
    let kinds: Vec<(String, usize)> =
        summary.kinds().into_iter().map(|(kind, _, all)| (label("kind", kind.word()), all)).collect();
    family("asfitted_fleet_findings", "Findings by kind.", &kinds);
    family(
        "asfitted_fleet_bad_plans",
        "Plans that could not be read.",
        &[(String::new(), report.bad_plans.len())],
    );
    if report.stock.is_given() {
        family(
            "asfitted_stock_modules",
            "Modules of the stock, and those seen where they may be.",
            &[
                (label("state", "listed"), report.stock.rows),
                (label("state", "accounted"), report.stock.accounted),
            ],
        );
    }
    let counts: Vec<(String, usize)> = StockKind::ALL
        .iter()
        .copied()
        .map(|kind| (label("kind", kind.word()), report.stock.count(kind)))
        .filter(|(_, count)| *count > 0)
        .collect();
    family("asfitted_stock_findings", "Modules that are not where they should be, by kind.", &counts);
    out.push_str("# EOF\n");
    out
}
