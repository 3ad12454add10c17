//! The campaign for causes: patterns of loss are put into real listings at changing places, and the true cause
//! must be ranked first.

use std::collections::BTreeMap;

use asfitted::audit::{FindingKind, audit};
use asfitted::board;
use asfitted::diagnose::{CauseKind, diagnose};
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::population::{self, Location, Population, SlotState};
use asfitted::records::{self, Listing};
use asfitted::sources::Sources;
use asfitted::units::Bytes;

use crate::util::corpus;
use crate::util::edit::Lines;

/// A pattern put into a listing: the changed text, what other sources state, and the cause that is true.
struct Case {
    pattern: &'static str,
    text: String,
    other: Option<String>,
    kind: FindingKind,
    truth: &'static [CauseKind],
}

struct Machine<'m, 'a> {
    listing: &'m Listing<'a>,
    population: &'m Population<'a>,
    lines: Lines,
    /// Changes from listing to listing, so that every place gets its turn.
    turn: usize,
}

impl Machine<'_, '_> {
    fn fitted(&self, same: impl Fn(&Location<'_>) -> bool) -> Vec<usize> {
        let slots = &self.population.slots;
        (0..slots.len())
            .filter(|slot| slots[*slot].fitted().is_some() && same(&slots[*slot].location))
            .collect()
    }

    /// The text without the modules of `slots`; `None` where that would leave none.
    fn without(&self, slots: &[usize]) -> Option<String> {
        if slots.len() == self.population.totals.fitted {
            return None;
        }
        let mut lines = self.lines.clone();
        for slot in slots {
            lines.empty_short(&self.listing.devices[self.population.slots[*slot].device], &self.lines);
        }
        Some(lines.text())
    }

    fn at(&self, slot: usize) -> Location<'_> {
        self.population.slots[slot].location
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
        let device = &self.listing.devices[self.population.slots[slot].device];
        let module = self.population.slots[slot].fitted()?;
        // Only a part number of letters and digits is taken for real in an empty slot.
        let real = |part: &&str| {
            let has = |what: fn(&u8) -> bool| part.as_bytes().iter().any(what);
            part.len() >= 6 && has(u8::is_ascii_alphabetic) && has(u8::is_ascii_digit)
        };
        let part = module.part.as_deref().filter(real)?;
        let twin = self.population.fitted().filter(|(_, m)| m.part.as_deref() == Some(part)).count() > 1;
        if !twin {
            return None;
        }
        let mut lines = self.lines.clone();
        lines.set(device, "Size", "No Module Installed");
        Some(Case {
            pattern: "a module that is named and gives nothing",
            text: lines.text(),
            other: None,
            kind: FindingKind::NotRunning,
            truth: &[CauseKind::FailedTraining],
        })
    }

    /// The operating system sees half, less the usual 2 %.
    fn half(&self) -> Option<Case> {
        let totals = self.population.totals;
        let half = totals.detected.filter(|_| totals.persistent.0 == 0)?.0 / 2;
        // Half of a small machine may also be what a 32-bit system sees.
        (half > Bytes::gib(4).0).then(|| Case {
            pattern: "half of everything",
            text: self.lines.text(),
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
        // Three places in each machine.
        let machines = [0, 1, 2].map(|turn| Machine {
            listing,
            population: &population,
            lines: Lines::of(text.as_str()),
            turn: number * 7 + turn * 5,
        });
        for case in machines.iter().flat_map(Machine::cases) {
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
