//! What a result comes to, in one line.

use std::cmp::Ordering;

use super::mark::Mark;
use super::slots::demand;
use super::words::count_of;
use crate::audit::{Finding, FindingKind, Severity, Verdict};
use crate::base::words::comma_list;
use crate::check::PlanCheck;
use crate::compare::Comparison;
use crate::diagnose::{Agreement, Diagnosis, Shortfall, Station};
use crate::plan::Demand;

/// A claim, and what it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Headline {
    pub(crate) mark: Mark,
    /// The claim as a sentence without its stop.
    claim: Vec<Part>,
    /// What follows the claim, with the sign that parts them.
    rest: String,
}

/// A part of a claim.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    /// Words, which can be set in capitals.
    Words(String),
    /// A number with its unit, which is the same in capitals: `16 GiB`.
    Fixed(String),
}

impl Headline {
    pub(super) fn new(mark: Mark, claim: impl Into<String>) -> Self {
        Self { mark, claim: vec![Part::Words(claim.into())], rest: String::new() }
    }

    fn with(self, rest: impl Into<String>) -> Self {
        Self { rest: rest.into(), ..self }
    }

    /// All of it as a sentence.
    pub(crate) fn sentence(&self) -> String {
        self.worded(ToOwned::to_owned)
    }

    /// All of it with the claim in capitals.
    pub(crate) fn in_capitals(&self) -> String {
        self.worded(str::to_uppercase)
    }

    /// The claim alone, as a sentence.
    pub(crate) fn claim(&self) -> String {
        Self { rest: String::new(), ..self.clone() }.sentence()
    }

    fn worded(&self, set: impl Fn(&str) -> String) -> String {
        let claim = self.claim.iter().map(|part| match part {
            Part::Words(words) => set(words),
            Part::Fixed(text) => text.clone(),
        });
        claim.chain([self.rest.clone()]).collect()
    }

    /// The verdict of an audit, with what is wrong and the numbers of other findings.
    pub(super) fn of_audit(diagnosis: &Diagnosis<'_>) -> Self {
        let audit = diagnosis.audit;
        let mark = Mark::from(audit.verdict);
        let others =
            [(Severity::Warning, "warning", "warnings"), (Severity::Unproven, "unproven", "unproven")]
                .map(|(severity, one, many)| (audit.count(severity), one, many));
        let others = others.into_iter().filter(|(count, ..)| *count > 0);
        let others = others.map(|(count, one, many)| count_of(count, one, many));
        let counts = comma_list(wrong(diagnosis).into_iter().chain(others));
        // A plan can be fulfilled with modules left over; that must not be overlooked behind the verdict.
        let more = match audit.findings.iter().filter(|f| f.kind == FindingKind::Unplanned).count() {
            0 => String::new(),
            count => format!(", and {} more than planned", count_of(count, "module", "modules")),
        };
        let detail = if counts.is_empty() { String::new() } else { format!(": {counts}") };
        match audit.verdict {
            Verdict::AsPlanned => Self::new(mark, format!("As planned{more}")).with(detail),
            Verdict::Deviates => Self::new(mark, "Deviates from the plan").with(detail),
            Verdict::Unproven => Self::new(mark, "Unproven")
                .with(format!(": nothing deviates, something is not shown{more} ({counts})")),
        }
    }

    /// Where the memory of a server is lost.
    pub(super) fn of_shortfall(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> Self {
        let verdict = diagnosis.audit.verdict;
        let unlike = shortfall.contradiction().is_some_and(|stated| stated.unlike);
        let lost = shortfall.first_loss().filter(|stage| !unlike || stage.station != Station::Detected);
        if let Some(stage) = lost {
            let claim = vec![
                Part::Fixed(stage.lost.rounded().to_string()),
                Part::Words(format!(" are not {}", stage.station.info().title)),
            ];
            return Self { claim, ..Self::new(Mark::Fault, "") };
        }
        if shortfall.contradiction().is_some() {
            return Self::new(Mark::Fault, "What was stated and what is detected do not agree");
        }
        if let Some(missing) = shortfall.stated.as_ref().map(|stated| stated.missing.len()).filter(|n| *n > 0)
        {
            return Self::new(
                Mark::Fault,
                format!("{} not detected", count_of(missing, "module is", "modules are")),
            );
        }
        let no_loss = "No loss is shown by this evidence";
        let more = shortfall.stated.as_ref().is_some_and(|stated| stated.agreement == Agreement::More);
        match verdict {
            Verdict::Deviates => Self::new(Mark::Fault, "The fitting has faults").with(": see the findings"),
            Verdict::Unproven => {
                Self::new(Mark::Unproven, format!("{no_loss}, and not everything is proven"))
            }
            Verdict::AsPlanned if more => {
                Self::new(Mark::Warning, format!("{no_loss}, and more is detected than was stated"))
            }
            Verdict::AsPlanned => Self::new(Mark::Good, no_loss),
        }
    }

    /// How many slots differ.
    pub(super) fn of_comparison(comparison: &Comparison) -> Self {
        let headline = match comparison.changes.len() {
            0 => Self::new(Mark::Good, "No difference"),
            count => Self::new(Mark::Fault, count_of(count, "slot differs", "slots differ")),
        };
        headline.with(format!(", {} the same", comparison.same))
    }

    /// The same with `more` in the claim, which makes it a warning.
    pub(super) fn doubted(&self, more: &str) -> Self {
        let mut doubted = self.clone();
        doubted.mark = Mark::Warning;
        doubted.claim.push(Part::Words(more.to_owned()));
        doubted
    }

    /// Whether a plan keeps the rules.
    pub(super) fn of_check(check: &PlanCheck) -> Self {
        match check.verdict {
            Verdict::Deviates => Self::new(Mark::Fault, "The plan breaks rules of the board"),
            Verdict::AsPlanned | Verdict::Unproven => {
                Self::new(Mark::Good, "The plan keeps the rules of the board")
            }
        }
    }
}

/// What is wrong, in a few words for each kind: a total that is as planned must not hide that one module is missing and
/// another is too large.
fn wrong(diagnosis: &Diagnosis<'_>) -> Vec<String> {
    let mut counts: Vec<(&'static str, usize)> = Vec::new();
    let faults = diagnosis.audit.findings.iter().filter(|finding| finding.severity() == Severity::Fault);
    for finding in faults {
        let slots = finding.slots.len().max(1);
        let (words, count) = match finding.kind {
            FindingKind::NoCpu => ("behind an absent processor", slots),
            FindingKind::NotRunning => ("not running", slots),
            FindingKind::Missing => ("missing", slots),
            FindingKind::WrongSlot => ("in a wrong slot", slots),
            FindingKind::WrongModule => (differs(finding, diagnosis), slots),
            FindingKind::Unplanned => ("in a slot planned empty", slots),
            FindingKind::ClockedDown => ("too slow", 0),
            FindingKind::ShortTotal => ("less memory than planned", 0),
            FindingKind::DuplicateSerial => ("a serial number twice", 0),
            FindingKind::EccOff => ("ECC off", 0),
            FindingKind::RankLimit => ("more in a channel than it takes", 0),
            FindingKind::SlotOrder => ("slots filled out of order", 0),
            FindingKind::MixedKinds => ("modules that do not mix", 0),
            FindingKind::MemoryErrors => ("memory errors", 0),
            kind => (kind.word(), 0),
        };
        match counts.iter_mut().find(|(own, _)| *own == words) {
            Some((_, own)) => *own += count,
            None => counts.push((words, count)),
        }
    }
    let text = |(words, count)| if count == 0 { String::from(words) } else { format!("{count} {words}") };
    counts.into_iter().map(text).collect()
}

/// In what a module differs from the planned one, as far as the total depends on it.
fn differs(finding: &Finding, diagnosis: &Diagnosis<'_>) -> &'static str {
    let sizes = finding.slots.iter().filter_map(|name| {
        let Demand::Module(planned) = demand(name, diagnosis)? else { return None };
        let slot = diagnosis.case.population.slots.iter().find(|slot| slot.name == name.as_str())?;
        Some(slot.module()?.bytes()?.cmp(&planned.size?))
    });
    let orders: Vec<Ordering> = sizes.collect();
    match orders.as_slice() {
        all if all.len() < finding.slots.len() => "other than planned",
        all if all.iter().all(|order| order.is_lt()) => "too small",
        all if all.iter().all(|order| order.is_gt()) => "too large",
        _ => "other than planned",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_no_shouting() {
        let claim = vec![Part::Fixed("16 GiB".to_owned()), Part::Words(" are not detected".to_owned())];
        let headline = Headline { mark: Mark::Fault, claim, rest: ": see the findings".to_owned() };
        assert_eq!(headline.in_capitals(), "16 GiB ARE NOT DETECTED: see the findings");
        assert_eq!(headline.sentence(), "16 GiB are not detected: see the findings");
        assert_eq!(headline.claim(), "16 GiB are not detected");
    }
}
