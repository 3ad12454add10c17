//! What is said of a fleet.

use super::headline::Headline;
use super::mark::Mark;
use crate::audit::{FindingKind, Severity, Verdict};
use crate::base::words::plural;
use crate::fleet::{NOT_AUDITED, Pattern, PatternKind, Reconciled, Summary};
use crate::report::fleet_report::FleetReport;

/// How many may ship, in one line.
pub(crate) fn headline(report: &FleetReport<'_>) -> Headline {
    let summary = report.summary;
    let all_well =
        summary.as_planned == summary.hosts && report.stock_is_clean() && report.bad_plans.is_empty();
    let lost = report.stock.count_of(Severity::Fault);
    let bad =
        summary.hosts == 0 || summary.deviates + summary.not_done + lost > 0 || !report.bad_plans.is_empty();
    let mark = match (bad, all_well) {
        (true, _) => Mark::Fault,
        (false, true) => Mark::Good,
        (false, false) => Mark::Unproven,
    };
    let (planned, hosts) = (summary.as_planned, summary.hosts);
    let claim = match lost {
        0 => format!("{planned} of {hosts} may ship"),
        1 => format!("{planned} of {hosts} as planned, but 1 module is not where it should be"),
        _ => format!("{planned} of {hosts} as planned, but {lost} modules are not where they should be"),
    };
    Headline::new(mark, claim)
}

/// How many hosts came out in one way.
pub(crate) struct OutcomeCount {
    /// What to do with them.
    pub(crate) key: &'static str,
    /// The outcome; `None` where there was no audit.
    pub(crate) outcome: Option<Verdict>,
    pub(crate) count: usize,
    /// What they are.
    pub(crate) text: String,
}

impl OutcomeCount {
    /// The outcome's word in results.
    pub(crate) fn word(&self) -> &'static str {
        self.outcome.map_or(NOT_AUDITED, Verdict::word)
    }
}

/// The numbers of hosts by outcome.
pub(crate) fn outcomes(summary: &Summary) -> [OutcomeCount; 4] {
    let warnings = match summary.with_warnings {
        0 => String::new(),
        some => format!(", {some} of them with warnings"),
    };
    let of = |key, outcome, count, text: &str| OutcomeCount { key, outcome, count, text: text.to_owned() };
    [
        of("ship", Some(Verdict::AsPlanned), summary.as_planned, &format!("as planned{warnings}")),
        of("hold", Some(Verdict::Deviates), summary.deviates, "deviate from their plan"),
        of(
            "unproven",
            Some(Verdict::Unproven),
            summary.unproven,
            "show no fault, but not everything the plan demands",
        ),
        of("unread", None, summary.not_done, "could not be audited"),
    ]
}

/// How much of the stock was seen.
pub(crate) fn stock_seen(stock: &Reconciled) -> String {
    format!("{} modules, {} seen where they may be", stock.rows, stock.accounted)
}

/// Rows of the stock that name no module.
pub(crate) fn placeholders(stock: &Reconciled) -> Option<String> {
    let rows = stock.placeholders;
    (rows > 0).then(|| format!("{rows} {} without a usable serial number skipped", plural(rows, "row")))
}

/// Modules without a name of their own.
pub(crate) fn without_serial(stock: &Reconciled) -> Option<String> {
    let modules = stock.without_serial;
    (modules > 0).then(|| format!("{modules} {} without a stated serial number", plural(modules, "module")))
}

/// What machines have in common, in one sentence.
pub(crate) fn pattern_text(pattern: &Pattern) -> String {
    let Pattern { of, machines, among, .. } = pattern;
    match &pattern.kind {
        PatternKind::Slot { slot, finding } => {
            let hint = match finding {
                FindingKind::Missing | FindingKind::NotRunning => {
                    "; look at this slot's design: latch, cable, heat sink, the plan's slot name"
                }
                _ => "",
            };
            format!("{of}: {} in {slot} on {machines} of {among} machines{hint}", finding.word())
        }
        PatternKind::SlowPart => {
            format!(
                "part {of} runs slow on all {among} machines that have it; compare its sticker with the plan"
            )
        }
    }
}
