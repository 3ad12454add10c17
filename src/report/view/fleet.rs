//! What is said of a fleet.

use super::headline::Headline;
use super::mark::Mark;
use crate::audit::{FindingKind, Severity, Verdict};
use crate::base::words::plural;
use crate::fleet::{
    ChangedDecision, Decision, NOT_AUDITED, Pattern, PatternKind, ProductFirmware, Reconciled, Summary,
};
use crate::report::fleet_report::FleetReport;

/// How many may ship, in one line; the stock's findings included.
pub(crate) fn headline(report: &FleetReport<'_>) -> Headline {
    let summary = report.summary;
    let ship = report.stock.decided(Decision::MayShip);
    let lost = report.stock.count_of(Severity::Fault);
    let all_well = ship == summary.hosts && report.stock_is_clean() && report.bad_plans.is_empty();
    let failed = summary.not_done - summary.no_listing;
    let bad = summary.is_empty() || summary.deviates + failed + lost > 0 || !report.bad_plans.is_empty();
    let mark = match (bad, all_well) {
        (true, _) => Mark::Fault,
        (false, true) => Mark::Good,
        (false, false) => Mark::Unproven,
    };
    let claim = format!("{ship} of {} may ship", summary.hosts);
    let claim = match lost {
        0 => claim,
        1 => format!("{claim}; 1 module is not where it should be"),
        _ => format!("{claim}; {lost} modules are not where they should be"),
    };
    Headline::new(mark, claim)
}

/// How many hosts have one decision.
pub(crate) struct DecisionCount {
    pub(crate) decision: Decision,
    pub(crate) mark: Mark,
    pub(crate) count: usize,
    /// What it rests on.
    pub(crate) text: String,
}

/// The numbers of hosts by decision.
pub(crate) fn decisions(stock: &Reconciled) -> [DecisionCount; 3] {
    let of = |decision, mark, text: &str| {
        let by_stock = stock.decided_by_stock(decision);
        let more =
            if by_stock > 0 { format!(", {by_stock} of them by the stock alone") } else { String::new() };
        DecisionCount { decision, mark, count: stock.decided(decision), text: format!("{text}{more}") }
    };
    [
        of(Decision::MayShip, Mark::Good, "as planned, and nothing speaks against their modules"),
        of(Decision::Hold, Mark::Fault, "deviate, or a module is not where it should be"),
        of(Decision::CannotSay, Mark::Unproven, "show no fault, but not everything is proven"),
    ]
}

/// Why the stock changes the decision on a host, in one sentence.
pub(crate) fn changed_decision(changed: &ChangedDecision<'_>) -> String {
    format!(
        "{}: {}, not {}, since {}",
        changed.host,
        changed.decision.word(),
        changed.by_audit.word(),
        changed.because
    )
}

/// The heading above the numbers of hosts by outcome.
pub(crate) const BY_AUDIT: &str = "By their audits";

/// The heading above the hosts that the stock decides on.
pub(crate) const BY_STOCK: &str = "Decided by the stock";

/// Where the page of a host leads for its decision.
pub(crate) const SEE_DECISION: &str = "Its decision, with what the stock says: see the page of all hosts";

/// How many hosts came out in one way.
pub(crate) struct OutcomeCount {
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
    let no_listing = match summary.no_listing {
        0 => String::new(),
        some => format!(", {some} of them since no listing came"),
    };
    let of = |outcome, count, text: &str| OutcomeCount { outcome, count, text: text.to_owned() };
    [
        of(Some(Verdict::AsPlanned), summary.as_planned, &format!("as planned by their audit{warnings}")),
        of(Some(Verdict::Deviates), summary.deviates, "deviate from their plan"),
        of(Some(Verdict::Unproven), summary.unproven, "show no fault, but not everything the plan demands"),
        of(None, summary.not_done, &format!("could not be audited{no_listing}")),
    ]
}

/// The heading above the firmware of the machines.
pub(crate) const FIRMWARE: &str = "Firmware by product";

/// Which firmware the machines of a product run, in one sentence.
pub(crate) fn firmware_text(firmware: &ProductFirmware<'_>) -> String {
    const SHOWN: usize = 5;
    let shown: Vec<String> = firmware
        .versions
        .iter()
        .take(SHOWN)
        .map(|(version, machines)| format!("{version} on {machines} {}", plural(*machines, "machine")))
        .collect();
    let rest: usize = firmware.versions.iter().skip(SHOWN).map(|(_, machines)| machines).sum();
    let more = if rest > 0 { format!(", others on {rest}") } else { String::new() };
    format!("{}: {}{more}", firmware.product, shown.join(", "))
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
