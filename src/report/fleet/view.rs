//! What is said of a fleet, in every format.

use crate::audit::{FindingKind, Severity, Verdict};
use crate::fleet::{NOT_AUDITED, Pattern, PatternKind, Reconciled, Summary};
use crate::report::layout::Tone;

use super::result::FleetReport;

/// How many may ship, in one line.
pub(in crate::report) fn headline(report: &FleetReport<'_>) -> (Tone, String) {
    let summary = report.summary;
    let all_well =
        summary.as_planned == summary.hosts && report.stock_is_clean() && report.bad_plans.is_empty();
    let lost = report.stock.count_of(Severity::Fault);
    let bad =
        summary.hosts == 0 || summary.deviates + summary.not_done + lost > 0 || !report.bad_plans.is_empty();
    let tone = match (bad, all_well) {
        (true, _) => Tone::Bad,
        (false, true) => Tone::Good,
        (false, false) => Tone::Doubt,
    };
    let headline = match lost {
        0 => format!("{} OF {} MAY SHIP", summary.as_planned, summary.hosts),
        _ => format!(
            "{} OF {} AS PLANNED, BUT {lost} {} NOT WHERE {} SHOULD BE",
            summary.as_planned,
            summary.hosts,
            if lost == 1 { "MODULE IS" } else { "MODULES ARE" },
            if lost == 1 { "IT" } else { "THEY" }
        ),
    };
    (tone, headline)
}

/// How many hosts came out in one way.
pub(in crate::report) struct OutcomeCount {
    /// What to do with them.
    pub(in crate::report) key: &'static str,
    /// The outcome; `None` where there was no audit.
    pub(in crate::report) outcome: Option<Verdict>,
    pub(in crate::report) count: usize,
    /// What they are.
    pub(in crate::report) text: String,
}

impl OutcomeCount {
    /// The outcome's word in results.
    pub(in crate::report) fn word(&self) -> &'static str {
        self.outcome.map_or(NOT_AUDITED, Verdict::word)
    }
}

/// The numbers of hosts by outcome.
pub(in crate::report) fn outcomes(summary: &Summary) -> [OutcomeCount; 4] {
    let warnings = match summary.with_warnings {
        0 => String::new(),
        some => format!(", {some} of them with warnings"),
    };
    let of = |key, outcome, count, text: &str| OutcomeCount { key, outcome, count, text: text.to_owned() };
    [
        of("ship", Some(Verdict::AsPlanned), summary.as_planned, &format!("as planned{warnings}")),
        of("hold", Some(Verdict::Deviates), summary.deviates, "deviate from their plan"),
        of(
            "open",
            Some(Verdict::Unproven),
            summary.unproven,
            "show no fault, but not everything the plan demands",
        ),
        of("unread", None, summary.not_done, "could not be audited"),
    ]
}

/// How much of the stock was seen.
pub(in crate::report) fn stock_seen(stock: &Reconciled) -> String {
    format!("{} modules, {} seen where they may be", stock.rows, stock.accounted)
}

/// Rows of the stock that name no module.
pub(in crate::report) fn placeholders(stock: &Reconciled) -> Option<String> {
    let rows = stock.placeholders;
    (rows > 0).then(|| format!("{rows} {} without a usable serial number passed over", plural(rows, "row")))
}

/// Modules without a name of their own.
pub(in crate::report) fn without_serial(stock: &Reconciled) -> Option<String> {
    let modules = stock.without_serial;
    (modules > 0).then(|| format!("{modules} {} without a stated serial number", plural(modules, "module")))
}

pub(in crate::report) fn plural(count: usize, what: &str) -> String {
    if count == 1 { what.to_owned() } else { format!("{what}s") }
}

pub(in crate::report) fn pattern_text(pattern: &Pattern) -> String {
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
