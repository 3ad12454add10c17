//! The work in the order in which to do it: the first check of each finding's first cause, once for each cause.
//!
//! What needs no open lid comes first. Where a whole socket, channel or row is gone, the step is what takes it away and
//! not each of its slots.

use std::collections::HashSet;

use super::causes::{Cause, CauseKind, is_worn};
use super::guarded::{Guarded, holds_persistent};
use super::persistent;
use super::step::{Step, StepKind, needs_hands};
use super::work::{is_about_places, placing};
use crate::audit::{Finding, FindingKind, Severity};
use crate::base::words::short_list;
use crate::plan::Plan;
use crate::plan::agreement::describe_wanted;
use crate::population::Population;

/// The steps for `findings`, given the causes of each.
pub(super) fn order(
    population: &Population<'_>,
    plan: &Plan,
    findings: &[Finding],
    causes: &[&[Cause]],
) -> Vec<Step> {
    let own_step = |(finding, causes): &(&Finding, &&[Cause])| {
        causes.first().is_some_and(|cause| has_own_step(finding, cause))
    };
    let excused: HashSet<&str> = findings
        .iter()
        .zip(causes)
        .filter(own_step)
        .flat_map(|(finding, _)| finding.slots.iter().map(String::as_str))
        .collect();
    let places = placing(population, plan, findings, &excused);
    let guarded = Guarded::new(population, plan);
    let mut looks: Vec<Look> = Vec::new();
    for (number, (finding, causes)) in findings.iter().zip(causes).enumerate() {
        let Some(mut look) = look(number, finding, causes, &places) else { continue };
        // Its check is another one there: the module stays in its slot.
        if look.due == Due::Now
            && matches!(look.step.kind, StepKind::Reseat | StepKind::Replace)
            && guarded.concerns(finding)
        {
            (look.step.kind, look.step.movements) = (StepKind::Inspect, 0);
        }
        if look.step.kind == StepKind::Replace {
            look.step.brings = planned(plan, finding);
        }
        add(&mut looks, look);
    }
    arrange(looks, places, holds_persistent(population))
}

/// The module that is planned where a finding is.
fn planned(plan: &Plan, finding: &Finding) -> Option<String> {
    let wanted = plan.modules().find(|(planned, _)| finding.is_at(&planned.slot))?;
    Some(describe_wanted(wanted.1))
}

/// When a look is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Due {
    /// In its turn.
    Now,
    /// While the lid is open for something else.
    Meanwhile,
    /// Once the modules are in their places, if it is still needed then.
    Last,
}

/// A step that is not about bringing modules to slots.
struct Look {
    due: Due,
    step: Step,
}

/// Whether the first check of a finding about places is a step of its own, in place of a step for each slot.
fn has_own_step(finding: &Finding, cause: &Cause) -> bool {
    match finding.kind {
        FindingKind::Missing | FindingKind::NotRunning
            if cause.kind == CauseKind::BadModule && is_worn(finding) =>
        {
            true
        }
        FindingKind::Missing => !matches!(
            cause.kind,
            CauseKind::NotSeated | CauseKind::FailedTraining | CauseKind::BadModule | CauseKind::BadSlot
        ),
        FindingKind::NotRunning => cause.kind != CauseKind::FailedTraining,
        _ => false,
    }
}

fn look(number: usize, finding: &Finding, causes: &[Cause], places: &[Step]) -> Option<Look> {
    let moved = places.iter().any(|step| step.movements > 0);
    // A slow module has left by then, and the next cause is what remains.
    let gone = |cause: &&Cause| {
        moved && finding.kind == FindingKind::ClockedDown && cause.kind == CauseKind::SlowModule
    };
    let cause = causes.iter().find(|cause| !gone(cause)).or(causes.first())?;
    let touched = |slot: &String| places.iter().any(|step| step.movements > 0 && step.slots.contains(slot));
    let mut kind = step_kind(finding.kind, cause.kind);
    if cause.kind == CauseKind::Disabled && finding.events().is_empty() && finding.state().is_none() {
        // Nothing says that it was taken out of use now: only its slot is switched off, which a setting mends.
        kind = StepKind::Setting;
    }
    let mut text = cause.check.clone();
    let mut due = Due::Now;
    match finding.kind {
        // What is about the machine as a whole is done once, however many slots it takes away.
        FindingKind::Missing | FindingKind::NotRunning
            if matches!(cause.kind, CauseKind::Firmware | CauseKind::Unsteady | CauseKind::ListingWrong) => {}
        FindingKind::Missing | FindingKind::NotRunning if has_own_step(finding, cause) => {
            let slots = short_list(&finding.slots);
            if !text.contains(&slots) {
                text = format!("{slots}: {text}");
            }
        }
        // Nothing is replaced before the plan is known to be this machine's.
        FindingKind::WrongModule if cause.kind == CauseKind::OtherPlan => {}
        kind if is_about_places(kind) => return None,
        FindingKind::NoCpu | FindingKind::EccOff | FindingKind::ShortTotal => {
            text = format!("{}: {text}", finding.summary);
        }
        FindingKind::ClockedDown => {
            let (runs, wanted) = (&finding.found, &finding.expected);
            if moved {
                due = Due::Last;
                text = format!("only if memory still runs at {runs} instead of {wanted}: {text}");
            } else {
                text = format!("memory runs at {runs} instead of {wanted}: {text}");
            }
        }
        FindingKind::Contradiction if cause.kind == CauseKind::ListingWrong => {}
        FindingKind::RankLimit | FindingKind::SlotOrder | FindingKind::MixedKinds | FindingKind::Uneven => {
            // Modules that are not in their places yet break rules by that.
            if moved || finding.severity() != Severity::Fault {
                return None;
            }
            text = format!("{}: {text}", finding.summary);
        }
        FindingKind::MemoryErrors => {
            if kind == StepKind::Measure && finding.slots.iter().any(touched) {
                due = Due::Last;
            } else if kind == StepKind::Measure && moved && !finding.slots.is_empty() {
                (kind, due) = (StepKind::Reseat, Due::Meanwhile);
                text = format!(
                    "if you like, while the lid is open: reseat the module in {}, which has errors; {text}",
                    short_list(&finding.slots)
                );
            }
        }
        _ => return None,
    }
    let step = Step { findings: vec![number], ..Step::about(kind, &finding.slots, text) };
    Some(Look { due, step })
}

/// What kind of step the first check of a cause is.
fn step_kind(finding: FindingKind, cause: CauseKind) -> StepKind {
    match cause {
        CauseKind::CommandLine
        | CauseKind::ThirtyTwoBit
        | CauseKind::BadMemory
        | CauseKind::ListingWrong
        | CauseKind::Share
        | CauseKind::Unsteady
        | CauseKind::DifferentTimes
        | CauseKind::Damage => StepKind::Command,
        // Its only setting is that of the air.
        CauseKind::Setting if finding == FindingKind::MemoryErrors => StepKind::Inspect,
        CauseKind::Firmware | CauseKind::Setting | CauseKind::Mirroring | CauseKind::RankSparing => {
            StepKind::Setting
        }
        CauseKind::RuleLockOut
        | CauseKind::BrokenRule
        | CauseKind::OtherPlan
        | CauseKind::OtherNames
        | CauseKind::PlanSum
        | CauseKind::ProcessorSpeed
        | CauseKind::ModulesPerChannel
        | CauseKind::NotStated => StepKind::Check,
        CauseKind::BadModule => StepKind::Replace,
        CauseKind::Contact => StepKind::Measure,
        CauseKind::BlockingModule | CauseKind::Disabled | CauseKind::FailedTraining => StepKind::Reseat,
        _ => StepKind::Inspect,
    }
}

/// One step for one check, however many findings ask for it.
fn add(looks: &mut Vec<Look>, look: Look) {
    let same = looks
        .iter_mut()
        .find(|own| (own.due, own.step.kind, &own.step.text) == (look.due, look.step.kind, &look.step.text));
    match same {
        Some(own) => {
            own.step.findings.extend(look.step.findings);
            own.step.slots.extend(look.step.slots);
        }
        None => looks.push(look),
    }
}

/// What needs no open lid, then what does, then what is only done if it is still needed.
fn arrange(looks: Vec<Look>, places: Vec<Step>, persistent: bool) -> Vec<Step> {
    let (mut closed, mut open, mut meanwhile, mut last) = (vec![], vec![], vec![], vec![]);
    for Look { due, step } in looks {
        match due {
            Due::Now if !step.hands() => closed.push(step),
            Due::Now => open.push(step),
            Due::Meanwhile => meanwhile.push(step),
            Due::Last => last.push(step),
        }
    }
    let hands = needs_hands(&open) || needs_hands(&places);
    // A boot is cheaper than an open lid.
    let may_mend = |step: &Step| matches!(step.kind, StepKind::Setting | StepKind::Command);
    if hands && closed.iter().any(may_mend) {
        let text = "boot, take a new listing and audit again; go on only with what is left";
        closed.push(Step::new(StepKind::Command, None, None, text.to_owned()));
    }
    let mut steps: Vec<Step> = Vec::from_iter((persistent && hands).then(persistent::backup));
    steps.extend(closed);
    steps.extend(open);
    steps.extend(places);
    steps.extend(meanwhile);
    steps.extend(last);
    steps
}
