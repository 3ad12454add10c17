//! The campaign for causes: patterns of loss are put into real listings at changing places, and the true cause
//! must be ranked first.

use std::collections::BTreeMap;

use asfitted::audit::{FindingKind, audit};
use asfitted::board;
use asfitted::diagnose::{CauseKind, diagnose};
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::population::{self, CheckBits, Location, SlotState};
use asfitted::records;
use asfitted::records::enums::ErrorCorrection;
use asfitted::sources::Sources;
use asfitted::units::Bytes;

use crate::util::corpus;
use crate::util::faults::{Change, Machine};

/// A pattern put into a listing: the changed text, what other sources state, and the cause that is true.
struct Case {
    pattern: &'static str,
    text: String,
    other: Option<String>,
    kind: FindingKind,
    truth: &'static [CauseKind],
}

struct Places<'m, 'a> {
    machine: &'m Machine<'m, 'a>,
    /// Changes from listing to listing, so that every place gets its turn.
    turn: usize,
}

impl<'a> Places<'_, 'a> {
    /// The text without the modules of `slots`; `None` where that would leave none.
    fn without(&self, slots: &[usize]) -> Option<String> {
        let removed = |slot: &usize| Change::Removed { slot: *slot, like: None };
        let changes: Vec<Change> = slots.iter().map(removed).collect();
        (slots.len() < self.machine.fitted.len()).then(|| self.machine.changed(&changes))
    }

    fn fitted(&self, same: impl Fn(&Location<'a>) -> bool) -> Vec<usize> {
        self.machine.fitted_at(same)
    }

    fn at(&self, slot: usize) -> Location<'a> {
        self.machine.at(slot)
    }

    fn cases(&self) -> Vec<Case> {
        let all = self.fitted(|_| true);
        let pick = all[self.turn % all.len()];
        let mut cases = Vec::new();
        let mut missing = |pattern, slots: &[usize], truth| {
            if let Some(text) = self.without(slots) {
                cases.push(Case { pattern, text, other: None, kind: FindingKind::Missing, truth });
            }
        };
        let same_socket = |l: &Location<'_>| l.socket == self.at(pick).socket;
        let same_channel = |l: &Location<'_>| same_socket(l) && l.channel == self.at(pick).channel;
        missing("one module", &[pick], &[CauseKind::NotSeated]);
        let channel = self.fitted(same_channel);
        let socket = self.fitted(same_socket);
        if channel.len() > 1 && channel.len() < socket.len() {
            missing("a channel", &channel, &[CauseKind::ChannelDown]);
        }
        if socket.len() > 1 {
            missing("a processor", &socket, &[CauseKind::ProcessorDown]);
        }
        // The last position that is filled in every channel in use, in two channels or more.
        let position = all.iter().filter_map(|slot| self.at(*slot).position).max().unwrap_or(0);
        let last = self.fitted(|l| l.position == Some(position));
        let before = |slot: &usize| {
            let here = self.at(*slot);
            let earlier = |l: &Location<'_>| l.position.is_some_and(|p| p < position);
            !self.fitted(|l| earlier(l) && l.socket == here.socket && l.channel == here.channel).is_empty()
        };
        if last.len() > 1 && last.iter().all(before) {
            missing("the last slot of every channel", &last, &[CauseKind::RuleLockOut]);
        }
        // From the second module of a channel on.
        let second = channel.iter().filter_map(|slot| self.at(*slot).position).min();
        let tail: Vec<usize> =
            channel.iter().copied().filter(|slot| self.at(*slot).position > second).collect();
        if tail.len() > 1 {
            missing("a channel from its second slot on", &tail, &[CauseKind::BlockingModule]);
        }
        cases.extend(self.idle(pick));
        cases.extend(self.half());
        cases
    }

    /// The module keeps its identity and gives no memory, as firmware has been seen to print it.
    fn idle(&self, slot: usize) -> Option<Case> {
        let change = self.machine.half_seated(slot)?;
        Some(Case {
            pattern: "a module that is named and gives nothing",
            text: self.machine.changed(&[change]),
            other: None,
            kind: FindingKind::NotRunning,
            truth: &[CauseKind::FailedTraining],
        })
    }

    /// The operating system sees half, less the usual 2 %.
    fn half(&self) -> Option<Case> {
        let totals = self.machine.population.totals;
        // A machine without check bits holds nothing twice, so that mirroring would not be the truth.
        let plain = self.machine.population.fitted().all(|(_, module)| module.check_bits == CheckBits::None);
        if plain && self.machine.population.error_correction == Some(ErrorCorrection::NONE) {
            return None;
        }
        let half = totals.detected.filter(|_| totals.persistent.0 == 0)?.0 / 2;
        // Half of a small machine may also be what a 32-bit system sees.
        (half > Bytes::gib(4).0).then(|| Case {
            pattern: "half of everything",
            text: self.machine.lines.text(),
            other: Some(format!("MemTotal: {} kB\n", half / 100 * 98 / 1024)),
            kind: FindingKind::ShortTotal,
            truth: &[CauseKind::Mirroring],
        })
    }
}

#[derive(Default)]
struct Tally {
    cases: u32,
    first: u32,
    second: u32,
    wrong: Vec<String>,
}

/// Each slot of a pattern must have the true cause first.
fn judge(name: &str, plan: &Plan, case: &Case, tally: &mut Tally) {
    let changed = Text::from_bytes(name, case.text.clone().into_bytes()).unwrap();
    let after = records::read(&changed);
    let mut sources = Sources::default();
    if let Some(other) = &case.other {
        sources.add(&Text::from_bytes("other", other.clone().into_bytes()).unwrap()).unwrap();
    }
    let machine = asfitted::case::Case::of(&changed, &after[0]).plan(plan).sources(sources);
    let built = machine.build().unwrap();
    let audit = audit(&built);
    let diagnosis = diagnose(&built, &audit);
    let findings: Vec<_> = diagnosis.findings.iter().filter(|f| f.finding.kind == case.kind).collect();
    for explained in &findings {
        let rank = explained.causes.iter().position(|cause| case.truth.contains(&cause.kind));
        tally.cases += 1;
        match rank {
            Some(0) => tally.first += 1,
            Some(1) => tally.second += 1,
            _ => {}
        }
        if rank != Some(0) {
            let kinds: Vec<_> = explained.causes.iter().map(|cause| cause.kind).collect();
            tally.wrong.push(format!("{name} {:?}: {kinds:?}", explained.finding.slot));
        }
    }
    if findings.is_empty() {
        tally.cases += 1;
        tally.wrong.push(format!("{name}: no finding"));
    }
}

#[test]
fn the_true_cause_is_ranked_first() {
    let mut tallies: BTreeMap<&str, Tally> = BTreeMap::new();
    for (number, text) in corpus::listings().iter().enumerate() {
        let listings = records::read(text);
        let listing = &listings[0];
        let population = population::rebuild(listing);
        if !board::from_population(text.name(), &population).complete || population.totals.fitted < 2 {
            continue;
        }
        let plan = plan::from_population(listing, &population, false).plan;
        let Some(machine) = Machine::of(text, listing, &population, &plan) else { continue };
        // Three places in each machine.
        let places = [0, 1, 2].map(|turn| Places { machine: &machine, turn: number * 7 + turn * 5 });
        for case in places.iter().flat_map(Places::cases) {
            judge(text.name(), &plan, &case, tallies.entry(case.pattern).or_default());
        }
    }
    println!("{:<44} {:>6} {:>6} {:>7}", "pattern", "cases", "first", "second");
    for (pattern, tally) in &tallies {
        println!("{pattern:<44} {:>6} {:>6} {:>7}", tally.cases, tally.first, tally.second);
    }
    for (pattern, tally) in &tallies {
        let some = &tally.wrong[..tally.wrong.len().min(8)];
        assert!(tally.first * 100 >= tally.cases * 95, "{pattern}: {some:#?}");
        assert_eq!(tally.first + tally.second, tally.cases, "{pattern}: {some:#?}");
        assert!(tally.cases >= 20, "{pattern}: only {} cases", tally.cases);
    }
    assert_eq!(tallies.len(), 7);
}

/// Eight real records name a module in a slot that they call empty; three listings of the data set have them.
/// Those on this side of its split are found, and no other listing gets the finding.
#[test]
fn the_real_modules_that_do_not_run_are_found() {
    let mut found: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let mut plan = plan::from_population(&listings[0], &population, false).plan;
        plan.slots.retain(|planned| planned.demand != plan::Demand::Idle);
        let audit = corpus::audited(text, &listings[0], &plan).unwrap();
        for finding in audit.findings.iter().filter(|f| f.kind == FindingKind::NotRunning) {
            found.entry(text.name()).or_default().extend(finding.slots.iter().cloned());
            let slot = population.slot(finding.slot.as_deref().unwrap()).unwrap().1;
            assert!(matches!(slot.state, SlotState::NotRunning(_)));
        }
    }
    println!("{found:?}");
    assert_eq!(found.keys().copied().collect::<Vec<_>>(), ["6F6DEF6E7D5A"]);
    assert_eq!(found["6F6DEF6E7D5A"].len(), 6);
}
