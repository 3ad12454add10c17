//! Which step the work must begin with.
//!
//! What needs no open lid comes first, in the order of the findings: second slots that are all gone are looked up in the
//! population rules, a plan that nearly every slot contradicts is compared with the machine, a speed is looked for in the
//! settings, but only once no module is in a wrong place. With the lid open, what takes several modules away comes
//! before single ones: the socket, the channel. Then the order of docs/diagnosis.md: reseat, remove, move, replace, fit.

use asfitted::audit::FindingKind;
use asfitted::diagnose::{Step, StepKind, holds_persistent};

use super::draw::{Combination, Pattern};
use crate::util::faults::{Change, Expected, Machine, Told};

/// A step that is expected first: one of these kinds, about all of these slots or, for hands that move modules, about
/// some of them.
#[derive(Debug)]
struct Wanted {
    kinds: Vec<StepKind>,
    slots: Vec<String>,
    all: bool,
}

impl Wanted {
    fn is(&self, step: &Step) -> bool {
        let mut slots = step.slots.clone();
        slots.sort();
        let right = if self.all {
            slots == self.slots
        } else {
            slots.iter().all(|slot| self.slots.contains(slot)) && !slots.is_empty()
        };
        self.kinds.contains(&step.kind) && right && !step.findings.is_empty()
    }
}

/// What is wrong with the steps, if anything is.
pub fn complaint(
    machine: &Machine<'_, '_>,
    combination: &Combination,
    reading: &[Expected],
    told: &Told,
) -> Option<String> {
    let of_pattern: &[String] = combination.pattern.as_ref().map_or(&[], |(_, slots)| slots);
    let single = |expected: &&Expected| {
        expected.kind != FindingKind::Missing || !of_pattern.contains(&expected.slots[0])
    };
    let singles: Vec<&Expected> = reading.iter().filter(single).collect();
    let (free, hands) = (without_hands(machine, combination, &singles), with_hands(combination, &singles));
    // Modules that keep their contents have an order of their own, see `truth::persistent`.
    if holds_persistent(machine.population) {
        return None;
    }
    let steps = told.steps.as_slice();
    let first = steps.first().filter(|step| !step.hands());
    match (&free, first) {
        (None, None) => {}
        (Some(wanted), Some(step)) if wanted.is(step) => {}
        _ => return Some(format!("first without hands: expected {free:?}, got {first:#?}")),
    }
    let first = steps.iter().find(|step| step.hands());
    match (&hands, first) {
        (None, None) => {}
        (Some(wanted), Some(step)) if wanted.is(step) => {}
        _ => return Some(format!("first with hands: expected {hands:?}, got {first:#?}")),
    }
    let late = steps
        .iter()
        .skip_while(|step| !step.hands())
        .find(|step| !step.hands() && !step.text.starts_with("only if") && step.kind != StepKind::Check);
    if let Some(step) = late {
        return Some(format!("needs no hands and comes after those that do: {step:#?}"));
    }
    // One step for one cause, not for each slot.
    let taken_out = reading.iter().filter(|expected| expected.kind == FindingKind::NoCpu);
    let causes = taken_out.map(|expected| expected.slots.as_slice()).chain([of_pattern]);
    for slots in causes.filter(|slots| !slots.is_empty()) {
        let about = steps.iter().filter(|step| step.slots.iter().any(|slot| slots.contains(slot)));
        if about.count() != 1 {
            return Some(format!("more or less than one step about {slots:?}: {steps:#?}"));
        }
    }
    None
}

fn sorted(slots: &[String]) -> Vec<String> {
    let mut slots = slots.to_vec();
    slots.sort();
    slots
}

fn without_hands(
    machine: &Machine<'_, '_>,
    combination: &Combination,
    singles: &[&Expected],
) -> Option<Wanted> {
    if let Some((Pattern::SecondSlots | Pattern::SecondSlotsOfOneSocket, slots)) = &combination.pattern {
        return Some(Wanted { kinds: vec![StepKind::Check], slots: sorted(slots), all: true });
    }
    let wrong = singles.iter().filter(|expected| expected.kind == FindingKind::WrongModule);
    for fields in wrong.clone().map(|expected| &expected.fields) {
        let alike = wrong.clone().filter(|expected| expected.fields == *fields);
        let slots: Vec<String> = alike.flat_map(|expected| expected.slots.clone()).collect();
        // As many as docs/findings.md has, `wrong-module`.
        if slots.len() >= 4 && slots.len() * 4 >= machine.plan.modules().count() * 3 {
            return Some(Wanted { kinds: vec![StepKind::Check], slots: sorted(&slots), all: true });
        }
    }
    let moves = singles
        .iter()
        .any(|expected| !matches!(expected.kind, FindingKind::NoCpu | FindingKind::ClockedDown));
    let slowed = singles.iter().find(|expected| expected.kind == FindingKind::ClockedDown);
    slowed.filter(|_| !moves).map(|expected| Wanted {
        kinds: vec![StepKind::Check, StepKind::Setting],
        slots: expected.slots.clone(),
        all: true,
    })
}

fn with_hands(combination: &Combination, singles: &[&Expected]) -> Option<Wanted> {
    let of = |kind: FindingKind| singles.iter().filter(move |expected| expected.kind == kind);
    if let Some(expected) = of(FindingKind::NoCpu).next() {
        return Some(Wanted { kinds: vec![StepKind::Inspect], slots: expected.slots.clone(), all: true });
    }
    if let Some((Pattern::Channel | Pattern::Socket, slots)) = &combination.pattern {
        return Some(Wanted { kinds: vec![StepKind::Inspect], slots: sorted(slots), all: true });
    }
    // In the order in which they are done; a module may go another way than a finding says, with fewer movements.
    let places: [(FindingKind, &[StepKind]); 5] = [
        (FindingKind::NotRunning, &[StepKind::Reseat]),
        (FindingKind::Unplanned, &[StepKind::Remove]),
        (FindingKind::WrongSlot, &[StepKind::Move, StepKind::Swap, StepKind::Pull]),
        (FindingKind::WrongModule, &[StepKind::Replace]),
        (FindingKind::Missing, &[StepKind::Fit]),
    ];
    let (kind, kinds) = places.iter().find(|(kind, _)| of(*kind).next().is_some())?;
    let mut kinds = kinds.to_vec();
    // A ring of modules is opened with fewer movements where one of their kind is replaced anyway.
    if *kind == FindingKind::WrongSlot && of(FindingKind::WrongModule).next().is_some() {
        kinds.push(StepKind::Remove);
    }
    let about = singles.iter().filter(|expected| places.iter().any(|(kind, _)| *kind == expected.kind));
    let slots = about.flat_map(|expected| expected.slots.iter().chain(&expected.other).cloned()).collect();
    Some(Wanted { kinds, slots, all: false })
}

/// The family of each change that is not the pattern's.
pub fn families(combination: &Combination) -> Vec<&'static str> {
    let of_pattern = if combination.pattern.is_some() { combination.changes.len() } else { 0 };
    let slots = combination.pattern.as_ref().map_or(0, |(_, slots)| slots.len());
    let singles = &combination.changes[slots.min(of_pattern)..];
    let mut families: Vec<&str> = singles.iter().map(Change::family).collect();
    families.sort_unstable();
    families
}
