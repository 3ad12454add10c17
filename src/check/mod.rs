//! A plan against the rules of its board: what it breaks, and what to expect of it.

use crate::audit::{Finding, FindingKind, Verdict, violation_finding};
use crate::base::words::comma_list;
use crate::board::{Board, ChannelLoad, Fitting, Prediction, Raise, check, predict, raises};
use crate::plan::{Mode, NamedMode, Plan, Processor};
use crate::units::Bytes;
use crate::yaml::{FileError, did_you_mean};

/// The result of checking a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanCheck {
    /// `Deviates` if a rule is broken that makes a fault.
    pub verdict: Verdict,
    /// Broken rules.
    pub findings: Vec<Finding>,
    /// What to expect.
    pub prediction: Prediction,
    /// Single changes that would let it run faster.
    pub raises: Vec<Raise>,
    /// What the operating system sees in the plan's mode; `None` without a mode, or where it cannot be summed.
    pub visible: Option<Bytes>,
    /// Where money is spent without benefit.
    pub wasted: Vec<String>,
}

/// Checks `plan` on `board`.
///
/// # Errors
/// [`FileError`] where the plan names a slot that the board does not have.
pub fn check_plan(plan: &Plan, board: &Board) -> Result<PlanCheck, FileError> {
    for planned in &plan.slots {
        if board.place(&planned.slot).is_none() {
            let shown = comma_list(board.slots().take(8));
            return Err(FileError {
                file: plan.source.clone(),
                line: planned.line,
                found: format!("slot `{}`", planned.slot),
                expected: format!("a slot of board {}: {shown} and so on", board.name),
                advice: match did_you_mean(&planned.slot, board.slots()) {
                    hint if hint.is_empty() => {
                        "Correct the name; `asfitted boards print` shows all slots.".to_owned()
                    }
                    hint => hint,
                },
            });
        }
    }
    let mode = plan.mode.as_ref().map(|mode| known_mode(plan, board, mode)).transpose()?;
    let fitting = Fitting::of_plan(board, plan);
    let mut findings = absent_processors(plan, board, &fitting);
    findings.extend(check(board, &fitting).into_iter().map(|violation| violation_finding(board, violation)));
    let models = plan.processor_models();
    let prediction = predict(board, &fitting, &models);
    let wasted = wasted(&fitting, &prediction);
    Ok(PlanCheck {
        verdict: Verdict::of(&findings),
        findings,
        raises: raises(board, &fitting, &models),
        visible: mode.and_then(|mode| mode.visible(&fitting)),
        wasted,
        prediction,
    })
}

/// The plan's mode, which the board must have if its description lists any.
fn known_mode(plan: &Plan, board: &Board, mode: &NamedMode) -> Result<Mode, FileError> {
    let own = &board.rules.modes;
    let offered = own.is_empty() || own.iter().any(|own| own.value.same_name(mode));
    mode.known().filter(|_| offered).ok_or_else(|| {
        let all = if own.is_empty() {
            comma_list(Mode::WORDS.iter().map(|(_, name)| name))
        } else {
            comma_list(own.iter().map(|mode| &mode.value))
        };
        FileError {
            file: plan.source.clone(),
            line: None,
            found: format!("`mode: {mode}`"),
            expected: format!("one of {all}"),
            advice: "Correct it, or leave it out.".to_owned(),
        }
    })
}

/// Slots of sockets that the plan says hold no processor.
fn absent_processors(plan: &Plan, board: &Board, fitting: &Fitting) -> Vec<Finding> {
    if plan.processors.is_empty() {
        return Vec::new();
    }
    let mut findings = Vec::new();
    for (index, socket) in board.sockets.iter().enumerate() {
        let there = matches!(plan.processors.get(index), Some(Processor::Model(_)));
        let own = fitting.channels.iter().filter(|channel| channel.socket == socket.number);
        let slots: Vec<String> = own.flat_map(ChannelLoad::filled).collect();
        if there || slots.is_empty() {
            continue;
        }
        let mut finding = Finding::about(FindingKind::NoCpu, slots);
        finding.summary = format!(
            "socket {} has no processor, so its {} modules cannot be seen",
            socket.number,
            finding.slots.len()
        );
        finding.expected = "modules only in slots of a processor that is there".to_owned();
        finding.found = format!("{} modules on socket {}", finding.slots.len(), socket.number);
        findings.push(finding);
    }
    findings
}

/// Modules that are rated above what they will ever run at.
fn wasted(fitting: &Fitting, prediction: &Prediction) -> Vec<String> {
    let Some(most) = prediction.speed.most() else { return Vec::new() };
    let mut above: Vec<_> =
        fitting.loads().filter_map(|load| load.rated).filter(|rated| most.below(*rated)).collect();
    above.sort_unstable();
    let limit =
        prediction.limits.iter().find(|limit| limit.high == most).map_or("", |limit| limit.text.as_str());
    above
        .chunk_by(|a, b| a == b)
        .map(|same| {
            format!(
                "{} modules rated {} run at {most} at most here ({limit}): ones rated {most} do the same, which matters if they are cheaper",
                same.len(),
                same[0]
            )
        })
        .collect()
}
