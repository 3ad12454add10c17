//! Causes of memory that runs below its speed.

use super::{Cause, CauseKind, DiagnosisInput, Likelihood};
use crate::audit::Audit;
use crate::base::words::short_list;
use crate::board::{Limit, LimitKind, Prediction};
use crate::diagnose::guarded::holds_persistent;
use crate::population::Population;
use crate::units::TransferRate;

pub(super) fn clocked_down(input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let DiagnosisInput { audit, population, plan, .. } = *input;
    let lowest = population.dimms().filter_map(|(_, module)| module.configured).min();
    let mut result = match &audit.prediction {
        Some(prediction) => {
            by_rules(audit, prediction, lowest, plan.expect.speed, holds_persistent(population))
        }
        None => by_rating(population, plan.expect.speed),
    };
    let rest = if result.is_empty() { Likelihood::Likely } else { Likelihood::Possible };
    if audit.prediction.is_none() {
        result.push(Cause::new(
            CauseKind::ModulesPerChannel,
            rest,
            "the processor or the number of modules per channel limits the speed",
            "no module needs to be slow for this: processors have a memory speed of their own, and full channels run slower",
            "look the processor's memory speed and the population table up in the service manual, or name a board with `--board`",
        ));
    }
    result.push(Cause::new(
        CauseKind::Setting,
        if result.is_empty() { Likelihood::Likely } else { Likelihood::Possible },
        "a setting lowers the speed",
        "power-saving profiles and fixed memory clocks do this",
        "look at the memory speed and power profile in the firmware setup; set them to automatic",
    ));
    result
}

/// The limits of the board's rules that explain the speed, the tightest first; none if it is unexplained.
fn by_rules(
    audit: &Audit,
    prediction: &Prediction,
    runs_at: Option<TransferRate>,
    planned: Option<TransferRate>,
    lasting: bool,
) -> Vec<Cause> {
    // A change that would touch a persistent module is no proposal.
    let raise = audit.raises.first().filter(|_| !lasting).map(|raise| {
        let cost = if raise.lost.0 > 0 { format!(", {} less", raise.lost) } else { String::new() };
        format!("{}: {} instead{cost}", raise.text, raise.speed)
    });
    let binds = |limit: &&Limit| planned.is_none_or(|planned| limit.low.below(planned));
    prediction
        .limits
        .iter()
        .filter(binds)
        .filter(|limit| runs_at.is_none_or(|runs| !runs.below(limit.low)))
        .map(|limit| {
            let (kind, what) = match limit.kind {
                LimitKind::Rating => (CauseKind::SlowModule, "a slower module sets the speed of all"),
                LimitKind::Processor => (CauseKind::ProcessorSpeed, "the processor limits the memory speed"),
                LimitKind::Population => {
                    (CauseKind::ModulesPerChannel, "the modules per channel limit the speed")
                }
            };
            let at = if limit.slots.is_empty() {
                String::new()
            } else {
                format!(" ({})", short_list(&limit.slots))
            };
            let check = match (&raise, planned) {
                (Some(raise), _) => raise.clone(),
                (None, Some(planned)) if !limit.high.below(planned) => format!(
                    "look up in the service manual whether the board allows {planned} for this fitting: sources give {} to {}",
                    limit.low.0, limit.high
                ),
                _ => "the plan expects more than this board gives: correct it".to_owned(),
            };
            let likelihood = if limit.open { Likelihood::Possible } else { Likelihood::Likely };
            Cause::new(kind, likelihood, what, format!("{}{at}", limit.text), check)
        })
        .collect()
}

fn by_rating(population: &Population<'_>, expected: Option<TransferRate>) -> Vec<Cause> {
    let slow: Vec<String> = population
        .fitted()
        .filter(|(_, m)| expected.is_some_and(|e| m.rated.is_some_and(|rated| rated.below(e))))
        .map(|(slot, _)| slot.name.to_string())
        .collect();
    let lowest: Option<TransferRate> = population.dimms().filter_map(|(_, module)| module.rated).min();
    let Some(lowest) = lowest.filter(|_| !slow.is_empty()) else { return Vec::new() };
    let check = if slow.len() == population.totals.dimms().fitted {
        "compare the stickers with the plan: all modules are rated below it".to_owned()
    } else {
        format!("replace the slow module in {}", short_list(&slow))
    };
    let why = format!(
        "{} rated {lowest}; all channels run at the speed that the slowest module allows",
        short_list(&slow)
    );
    vec![Cause::likely(CauseKind::SlowModule, "a slower module sets the speed of all", why, check)]
}
