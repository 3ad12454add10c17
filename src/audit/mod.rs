//! Fifth stage: the population against the plan. One cause gives one finding; causes are not guessed at here.

mod board;
mod demands;
mod error_records;
mod finding;
mod grouping;
mod machine;
mod matching;
mod pattern;
mod placement;
mod proof;
mod serials;
mod sources;

pub use crate::evidence::Evidence;
pub use finding::{Detail, Finding, FindingInfo, FindingKind, Severity, Verdict};
pub(crate) use matching::distance;
pub use proof::{Decision, Demanded, Proof, Subject};
pub(crate) use sources::accused;

pub use board::{processors, violation_finding};
pub use pattern::Pattern;

use crate::board::{Prediction, Raise};
use crate::case::Case;
use crate::evidence::{Place, Source};
use crate::population::{Module, Population};
use crate::records::MemoryDevice;
use crate::sources::Sources;

/// What all checks look at.
struct Context<'c, 'a> {
    case: &'c Case<'a>,
}

impl<'c, 'a> Context<'c, 'a> {
    fn name(&self, slot: usize) -> String {
        self.case.population.slots[slot].name.to_string()
    }

    fn device(&self, slot: usize) -> &'c MemoryDevice<'a> {
        &self.case.listing.devices[self.case.population.slots[slot].device]
    }

    /// Slots with a module that gives memory, by index.
    fn fitted(&self) -> impl Iterator<Item = (usize, &'c Module<'a>)> {
        self.case
            .population
            .slots
            .iter()
            .enumerate()
            .filter_map(|(index, slot)| slot.fitted().map(|module| (index, module)))
    }

    /// As [`Self::fitted`], of the slots that take DIMMs.
    fn dimms(&self) -> impl Iterator<Item = (usize, &'c Module<'a>)> {
        self.fitted().filter(|(index, _)| self.case.population.slots[*index].takes_dimms())
    }

    fn evidence(&self, places: impl IntoIterator<Item = Option<Place>>) -> Vec<Evidence> {
        let line = |place: Place| Evidence {
            source: Source::Listing,
            line: place.line,
            text: self.case.listing.line(place).to_owned(),
        };
        places.into_iter().flatten().map(line).collect()
    }
}

/// The result of comparing a population with a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Audit {
    /// The verdict that proof and findings give.
    pub verdict: Verdict,
    /// Every demand of the plan, each decided.
    pub proof: Proof,
    /// What deviates or stays open, in the order of [`FindingKind`], then of the slots on the board.
    pub findings: Vec<Finding>,
    /// What the board's rules lead to expect of what is fitted; `None` without a board.
    pub prediction: Option<Prediction>,
    /// Single changes that would let what is fitted run faster; empty without a board.
    pub raises: Vec<Raise>,
    /// Things to know that decide nothing.
    pub notes: Vec<String>,
}

impl Audit {
    /// The number of findings of one severity.
    pub fn count(&self, severity: Severity) -> usize {
        self.findings.iter().filter(|finding| finding.severity() == severity).count()
    }
}

/// Compares what is fitted with what is planned.
pub fn audit(case: &Case<'_>) -> Audit {
    let context = Context { case };
    let Case { population, plan, board, sources, .. } = case;
    let lost = |slot: &str| placement::may_be_lost(&context, slot);
    let matching = matching::match_modules(plan, population, lost);
    let mut findings = placement::findings(&context, &matching);
    let proof = demands::prove(&context, &matching, &findings);
    let placed = findings.is_empty();
    findings.extend(serials::duplicates(&context));
    findings.extend(machine::clocked_down(&context));
    findings.extend(machine::short_totals(&context, &matching));
    findings.extend(machine::ecc_off(&context));
    findings.extend(machine::damaged(&context));
    findings.extend(machine::unproven(&context, &matching));
    let mut notes = Vec::new();
    let (mut prediction, mut raises) = (None, Vec::new());
    if let Some(board) = *board {
        findings.extend(board::broken_rules(&context, board, placed));
        if plan.expect.speed.is_none() {
            let by_listing = board::expectation_by_listing(board, population);
            findings.extend(board::clocked_down(&context, &by_listing));
        }
        let (expected, could) = board::expectation(board, population, plan);
        notes.extend(expected.notes.iter().cloned());
        (prediction, raises) = (Some(expected), could);
    } else if plan.expect.speed.is_none() {
        notes.extend(not_judged(population));
    }
    error_records::add(&context, &mut findings);
    sources::add(&context, &mut findings);
    notes.extend(limited(sources));
    notes.extend(may_be_visible(case));
    notes.extend(sources.not_read.iter().map(|line| format!("not captured: {line}")));
    notes.extend(case.notes.iter().cloned());
    sort(&mut findings, population);
    grouping::join(&mut findings, population, plan);
    Audit { verdict: proof.verdict(&findings), proof, findings, prediction, raises, notes }
}

/// A limit on the kernel's command line, where no other source says what came of it.
fn limited(sources: &Sources) -> Option<String> {
    let (parameter, _) = sources.command_line.as_ref()?.limit()?;
    sources.meminfo.is_none().then(|| format!("the kernel was started with `{}`", parameter.text))
}

/// Other tiers than main memory, which the visible total may count or not.
fn may_be_visible(case: &Case<'_>) -> Option<String> {
    let visible = case.sources.meminfo.as_ref()?.total;
    let totals = case.population.totals;
    let others =
        [("HBM", totals.hbm), ("CXL", totals.cxl), ("DRAM in front of persistent modules", totals.cache())];
    let others: Vec<String> = others
        .iter()
        .filter(|(_, size)| size.0 > 0 && *size != totals.visible_least())
        .map(|(what, size)| format!("{size} {what}"))
        .collect();
    (!others.is_empty()).then(|| {
        format!(
            "{} are visible; whether they include {} depends on settings that no record states, so only what is below {} is a loss",
            visible.rounded(),
            others.join(" and "),
            totals.visible_least()
        )
    })
}

/// Modules below their rating, where neither plan nor board say what to expect.
fn not_judged(population: &Population<'_>) -> Option<String> {
    let below = |module: &Module<'_>| {
        module.configured.zip(module.rated).is_some_and(|(runs, rated)| runs.below(rated))
    };
    let count = population.dimms().filter(|(_, module)| below(module)).count();
    (count > 0).then(|| {
        format!(
            "{count} of {} modules run below their rating; no board description, so not judged",
            population.totals.dimms().fitted
        )
    })
}

fn sort(findings: &mut [Finding], population: &Population<'_>) {
    if findings.len() < 2 {
        return;
    }
    let order = population.in_board_order();
    let rank = |finding: &Finding| {
        let slot = finding.slot.as_deref().and_then(|name| population.slot(name)).map(|(index, _)| index);
        (finding.kind, slot.and_then(|slot| order.iter().position(|index| *index == slot)))
    };
    findings.sort_by_cached_key(rank);
}
