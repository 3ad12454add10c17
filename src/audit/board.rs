//! Findings that a board's rules give: broken rules, and speeds below what they lead to expect.

use std::collections::BTreeSet;

use super::Context;
use super::finding::{Finding, FindingKind, Severity};
use crate::base::words::{comma_list, counted};
use crate::board::{
    Board, ExpectedSpeed, Fitting, Prediction, Raise, RuleKind, Violation, check, predict, raises,
};
use crate::plan::{DemandField, Plan};
use crate::population::{Population, Socket};
use crate::records::enums::ProcessorStatus;

/// Model texts of the processors that are there.
pub fn processors<'a>(population: &Population<'a>) -> Vec<&'a str> {
    let there = |socket: &&Socket<'a>| socket.status != Some(ProcessorStatus::Unpopulated);
    population.sockets.iter().filter(there).filter_map(|socket| socket.processor).collect()
}

/// A broken rule as a finding.
pub fn violation_finding(board: &Board, violation: Violation) -> Finding {
    let kind = match violation.kind {
        RuleKind::RankLimit => FindingKind::RankLimit,
        RuleKind::SlotOrder => FindingKind::SlotOrder,
        RuleKind::MixedKinds => FindingKind::MixedKinds,
        RuleKind::Uneven => FindingKind::Uneven,
    };
    let mut finding = Finding::about(kind, violation.slots);
    finding.severity = if violation.fault { Severity::Fault } else { Severity::Warning };
    finding.summary = violation.summary;
    finding.expected = format!("{} ({})", violation.expected, board.source_text(&violation.source));
    finding.found = violation.found;
    finding
}

/// Broken rules. While modules are missing or misplaced, the plan is judged in place of what is fitted: the
/// repair changes the latter anyway, and one cause gives one finding.
pub(super) fn broken_rules(context: &Context<'_, '_>, board: &Board, placed: bool) -> Vec<Finding> {
    let fitting = if placed {
        Fitting::of_population(board, &context.case.population)
    } else {
        Fitting::of_plan(board, &context.case.plan)
    };
    let mut findings: Vec<Finding> =
        check(board, &fitting).into_iter().map(|violation| violation_finding(board, violation)).collect();
    for finding in &mut findings {
        let slots = finding.slots.iter().filter_map(|name| context.case.population.slot(name));
        let labels: Vec<_> = slots.map(|(index, _)| context.device(index).locator.place()).collect();
        finding.evidence = context.evidence(labels);
    }
    findings
}

/// What the rules lead to expect of what is fitted, and what would let it run faster. What the listing leaves open of
/// a module is taken from the plan, and a note says so.
pub(super) fn expectation(
    board: &Board,
    population: &Population<'_>,
    plan: &Plan,
) -> (Prediction, Vec<Raise>) {
    let (shown, fitting) =
        (Fitting::of_population(board, population), Fitting::of_population_by(board, population, plan));
    let processors = processors(population);
    let mut prediction = predict(board, &fitting, &processors);
    let completed: Vec<BTreeSet<&str>> = shown
        .loads()
        .zip(fitting.loads())
        .map(|(shown, load)| shown.completed_in(load).collect())
        .filter(|fields: &BTreeSet<&str>| !fields.is_empty())
        .collect();
    let fields: BTreeSet<&str> = completed.iter().flatten().copied().collect();
    if !fields.is_empty() {
        prediction.notes.push(format!(
            "{} of {} taken from the plan for the rules, since the listing does not state it",
            comma_list(fields),
            counted(completed.len(), "module"),
        ));
    }
    (prediction, raises(board, &fitting, &processors))
}

/// What the rules lead to expect by the listing alone: what the plan says of a module proves no fault.
pub(super) fn expectation_by_listing(board: &Board, population: &Population<'_>) -> Prediction {
    predict(board, &Fitting::of_population(board, population), &processors(population))
}

/// `clocked-down` by the rules, where the plan states no speed.
pub(super) fn clocked_down(context: &Context<'_, '_>, prediction: &Prediction) -> Option<Finding> {
    let ExpectedSpeed::Known { low, .. } = prediction.speed else { return None };
    let mut finding = super::machine::below(context, low, "the board's rules lead to expect")?;
    let limits: Vec<&str> = prediction.limits.iter().map(|limit| limit.text.as_str()).collect();
    finding.expected = format!("{low}: {}", limits.join("; "));
    finding.fields = vec![DemandField::Speed];
    Some(finding)
}
