//! What is said of a plan by the rules of its board.

use super::facts::Fact;
use super::findings::kind_and_severity;
use super::headline::Headline;
use super::mark::Mark;
use super::speed::expected;
use super::titles;
use crate::board::{Limit, LimitKind};
use crate::report::PlanCheckReport;

/// What is said of a plan check.
#[derive(Debug)]
pub(crate) struct CheckView<'r> {
    pub(crate) headline: Headline,
    /// Plan and board, total and speed.
    pub(crate) facts: Vec<Fact>,
    /// What limits the speed.
    pub(crate) limits: Vec<Fact>,
    /// What else to expect.
    pub(crate) more: Vec<Fact>,
    /// Broken rules.
    pub(crate) violations: Vec<ViolationView<'r>>,
    /// Lists of advice with their titles; none of them is empty.
    pub(crate) advice: Vec<(&'static str, Vec<String>)>,
}

/// One broken rule.
#[derive(Debug)]
pub(crate) struct ViolationView<'r> {
    pub(crate) mark: Mark,
    /// Counted from 1.
    pub(crate) number: usize,
    pub(crate) kind: &'static str,
    pub(crate) severity: &'static str,
    pub(crate) summary: &'r str,
    /// The rule and what is planned.
    pub(crate) facts: [Fact; 2],
}

impl ViolationView<'_> {
    /// `slot-order (fault)`.
    pub(crate) fn kind_and_severity(&self) -> String {
        kind_and_severity(self.kind, self.severity)
    }
}

impl<'r> CheckView<'r> {
    pub(crate) fn new(report: &PlanCheckReport<'r>) -> Self {
        let PlanCheckReport { plan, board, check } = *report;
        let prediction = &check.prediction;
        let mut facts = vec![
            Fact::new("plan", plan.name.as_deref().unwrap_or(&plan.source)),
            Fact::new("board", board.name.as_str()),
        ];
        facts.extend(prediction.total.map(|total| Fact::new("total", total.to_string())));
        facts.push(Fact::new("speed", expected(prediction)));
        let limit = |limit: &Limit| {
            let sources: Vec<String> = limit.sources.iter().map(|source| board.source_text(source)).collect();
            let sources =
                if sources.is_empty() { String::new() } else { format!(" [{}]", sources.join("; ")) };
            Fact::new(limit_word(limit.kind), format!("{}{sources}", limit.text))
        };
        let mut more: Vec<Fact> = Vec::new();
        for (socket, peak) in &prediction.peak_mb_per_s {
            let text = format!("{}.{} GB/s peak on socket {socket}", peak / 1000, peak % 1000 / 100);
            more.push(Fact::new("bandwidth", text));
        }
        more.push(Fact::new("spread", prediction.balance.word()));
        if let (Some(mode), Some(visible)) = (&plan.mode, check.visible) {
            more.push(Fact::new("visible", format!("{visible} with {mode}")));
        }
        Self {
            headline: Headline::of_check(check),
            facts,
            limits: prediction.limits.iter().map(limit).collect(),
            more,
            violations: violations(report),
            advice: advice(report),
        }
    }
}

fn violations<'r>(report: &PlanCheckReport<'r>) -> Vec<ViolationView<'r>> {
    let findings = report.check.findings.iter().enumerate();
    let violations = findings.map(|(at, finding)| ViolationView {
        mark: Mark::from(finding.severity()),
        number: at + 1,
        kind: finding.kind.word(),
        severity: finding.severity().word(),
        summary: &finding.summary,
        facts: [Fact::new("rule", finding.expected.as_str()), Fact::new("planned", finding.found.as_str())],
    });
    violations.collect()
}

fn advice(report: &PlanCheckReport<'_>) -> Vec<(&'static str, Vec<String>)> {
    let check = report.check;
    let faster = check.raises.iter().map(|raise| {
        let cost = if raise.lost.0 > 0 { format!(", {} less", raise.lost) } else { String::new() };
        format!("{}: {} instead{cost}", raise.text, raise.speed)
    });
    let lists = [
        (titles::FASTER, faster.collect()),
        (titles::WASTED, check.wasted.clone()),
        (titles::TO_KNOW, check.prediction.notes.clone()),
    ];
    lists.into_iter().filter(|(_, lines): &(_, Vec<String>)| !lines.is_empty()).collect()
}

fn limit_word(kind: LimitKind) -> &'static str {
    match kind {
        LimitKind::Rating => "rating",
        LimitKind::Processor => "processor",
        LimitKind::Population => "channels",
    }
}
