//! The campaign with several faults at once: each real listing is taken as the truth, its plan derived, and two, three
//! and four things are changed in its text, or all modules of a channel, of a socket or in the second slots are taken
//! out, alone and with one more fault elsewhere. Every fault must be found, nothing else be blamed, what has one cause be
//! one finding and one step, and the work begin with the step that the pattern asks for.
//!
//! One combination of each number of faults and one place of each pattern for each listing by default, eight of each when
//! asked to be thorough.

mod draw;
mod steps;

use std::collections::{BTreeMap, HashSet};
use std::fmt::Write;

use asfitted::audit::{Finding, FindingKind};
use asfitted::diagnose::{CauseKind, StepKind, holds_persistent};
use asfitted::plan;
use asfitted::population;
use asfitted::records;

use self::draw::{Combination, Draw, Pattern};
use self::steps::{complaint, families};
use crate::util::corpus;
use crate::util::faults::{FIELDS, Machine, Told, judge, tell};
use crate::util::random::Random;

/// Rounds over the listings when asked to be thorough.
const ROUNDS: u64 = 8;

#[derive(Default)]
struct Tally {
    cases: u32,
    found: u32,
    blamed: u32,
    first: u32,
    failures: Vec<String>,
}

impl Tally {
    fn count(&mut self, name: &str, machine: &Machine<'_, '_>, combination: &Combination) {
        self.cases += 1;
        let told = match tell(name, machine.changed(&combination.changes), machine.plan) {
            Ok(told) => told,
            Err(error) => {
                self.failures.push(format!("{name}: {:?}\nrefused: {error}", combination.changes));
                return;
            }
        };
        let judged = combination.readings.iter().map(|reading| (judge(&told.findings, reading), reading));
        // Of readings that take equal work the one that was found, if it is among them.
        let Some(((found, blamed), reading)) = judged.min_by_key(|((found, blamed), _)| (!found, *blamed))
        else {
            panic!("{name}: {:?}: no reading", combination.changes);
        };
        let twice = not_joined(&told, combination);
        let step = complaint(machine, combination, reading, &told);
        self.found += u32::from(found && twice.is_none());
        self.blamed += blamed;
        self.first += u32::from(step.is_none());
        if !found || blamed > 0 || twice.is_some() || step.is_some() {
            self.failures.push(format!(
                "{name}: {:?}\nexpected {reading:#?}\n{twice:?} {}\ngot {:#?}",
                combination.changes,
                step.unwrap_or_default(),
                told.findings
            ));
        }
    }
}

/// A cause that is not one finding, if there is one: the pattern, or modules that differ alike.
fn not_joined(told: &Told, combination: &Combination) -> Option<String> {
    let mut known = HashSet::new();
    let alike = told.findings.iter().filter(|finding| finding.kind == FindingKind::WrongModule);
    let twice = alike.clone().find(|f| !known.insert((&f.fields, &f.expected, &f.found)));
    if let Some(twice) = twice {
        return Some(format!("twice: {}", twice.summary));
    }
    let (_, slots) = combination.pattern.as_ref()?;
    let own: Vec<&Finding> = told
        .findings
        .iter()
        .filter(|finding| finding.kind == FindingKind::Missing)
        .filter(|finding| finding.slots.iter().any(|slot| slots.contains(slot)))
        .collect();
    let whole = own.len() == 1 && own[0].slots.len() == slots.len();
    (!whole).then(|| format!("the pattern is {} findings, of {} slots", own.len(), slots.len()))
}

/// The combinations for one listing and round.
fn combinations(draw: &mut Draw<'_, '_, '_>) -> Vec<(String, Combination)> {
    let mut result = Vec::new();
    for (count, word) in [(2, "two"), (3, "three"), (4, "four")] {
        if let Some(combination) = draw.several(count) {
            let families = families(&combination);
            let name = if count == 2 { families.join(" + ") } else { format!("{word} faults") };
            result.push((format!("{count} {name}"), combination));
        }
    }
    for pattern in Pattern::ALL {
        let Some(base) = draw.pattern(pattern) else { continue };
        if let Some(more) = draw.with_one_more(&base) {
            result.push((format!("{} + {}", pattern.name(), families(&more).join(" + ")), more));
        }
        result.push((format!("{} alone", pattern.name()), base));
    }
    result
}

#[test]
fn several_faults_are_all_found_and_the_work_begins_with_the_right_one() {
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    let rounds = if std::env::var_os("ASFITTED_THOROUGH").is_some() { ROUNDS } else { 1 };
    for (number, text) in corpus::listings().iter().enumerate() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let plan = plan::from_population(&listings[0], &population, false).plan;
        let Some(machine) = Machine::of(text, &listings[0], &population, &plan) else { continue };
        for round in 0..rounds {
            let random = Random(u64::try_from(number).unwrap() * ROUNDS + round);
            let mut draw = Draw { machine: &machine, random };
            for (name, combination) in combinations(&mut draw) {
                tallies.entry(name).or_default().count(text.name(), &machine, &combination);
            }
        }
    }
    let mut table = format!(
        "{:<44} {:>6} {:>6} {:>12} {:>11}\n",
        "combination", "cases", "found", "false blame", "first step"
    );
    for (name, tally) in &tallies {
        let Tally { cases, found, blamed, first, .. } = tally;
        let _ = writeln!(table, "{name:<44} {cases:>6} {found:>6} {blamed:>12} {first:>11}");
    }
    println!("{table}");
    for (name, tally) in &tallies {
        let failures = &tally.failures[..tally.failures.len().min(2)];
        assert!(
            failures.is_empty(),
            "{name}: {} failures: {}\n{table}",
            tally.failures.len(),
            failures.join("\n")
        );
    }
    let cases = |start: &str| {
        tallies.iter().filter(|(name, _)| name.starts_with(start)).map(|(_, tally)| tally.cases).sum::<u32>()
    };
    for start in ["2 ", "3 ", "4 ", "a channel", "a socket", "second slots of a socket", "all second slots"] {
        assert!(cases(start) > 50, "{start}: only {} cases\n{table}", cases(start));
    }
}

/// All modules of a machine changed in one field: what differs alike is one finding, and before any module is touched
/// the plan is doubted.
#[test]
fn a_plan_that_nearly_every_slot_contradicts_alike_is_doubted_first() {
    let mut cases = [0; FIELDS.len()];
    for (number, text) in corpus::listings().iter().enumerate() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let plan = plan::from_population(&listings[0], &population, false).plan;
        let Some(machine) = Machine::of(text, &listings[0], &population, &plan) else { continue };
        let mut wanted: Vec<_> = machine.fitted.iter().map(|slot| machine.planned(*slot)).collect();
        wanted.dedup();
        // Modules of one kind, so that none of them is another's after the change.
        if machine.fitted.len() < 4 || wanted.len() > 1 || holds_persistent(&population) {
            continue;
        }
        let field = number % FIELDS.len();
        let changes = machine.fitted.iter().map(|slot| machine.other_field(field, *slot));
        let Some(changes) = changes.collect::<Option<Vec<_>>>() else { continue };
        let told = tell(text.name(), machine.changed(&changes), &plan).unwrap();
        let wrong = told.findings.iter().position(|f| f.kind == FindingKind::WrongModule);
        let wrong = wrong.unwrap_or_else(|| panic!("{}: {:#?}", text.name(), told.findings));
        let about = told.findings.iter().filter(|f| f.kind != FindingKind::ListingDamaged);
        assert_eq!(about.count(), 1, "{}: {:#?}", text.name(), told.findings);
        assert_eq!(told.findings[wrong].slots.len(), machine.fitted.len(), "{}", text.name());
        assert_eq!(told.first[wrong], Some(CauseKind::OtherPlan), "{}", text.name());
        let first = told.steps.first().map(|step| (step.kind, step.findings.as_slice()));
        assert_eq!(first, Some((StepKind::Check, [wrong].as_slice())), "{}: {:#?}", text.name(), told.steps);
        cases[field] += 1;
    }
    println!("{:?} {cases:?}", FIELDS.map(|(name, _)| name));
    assert!(cases.iter().all(|cases| *cases > 20), "{cases:?}");
}
