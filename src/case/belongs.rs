//! Whether a plan and a listing belong together; a plan for another machine must not judge this one.

use crate::evidence::Place;
use crate::plan::{Plan, PlannedSlot};
use crate::population::{Population, identity, is_on_unlisted_socket};
use crate::records::{Field, Listing};
use crate::yaml::{FileError, did_you_mean};

/// What a plan recognises its machine by, and what the listing states of it.
pub(crate) struct Mark<'c, 'a> {
    /// The key in the plan.
    pub(crate) key: &'static str,
    /// What the plan says.
    pub(crate) wanted: &'c str,
    /// What the listing states, without placeholders.
    stated: Vec<(&'a str, Place)>,
    /// Where the listing has a line for it, whatever it says.
    pub(crate) lines: Vec<Place>,
}

impl Mark<'_, '_> {
    /// The line that states what the plan says.
    pub(crate) fn agreeing(&self) -> Option<Place> {
        let wanted = identity::collapse(self.wanted);
        let same = |text: &str| identity::collapse(text).eq_ignore_ascii_case(&wanted);
        self.stated.iter().find(|(text, _)| same(text)).map(|(_, place)| *place)
    }
}

/// The marks of the machine that a plan names and a listing can state.
pub(crate) fn marks<'c, 'a>(listing: &Listing<'a>, plan: &'c Plan) -> Vec<Mark<'c, 'a>> {
    let system = listing.systems.first();
    let board = listing.boards.first();
    let marks = [
        ("serial", &plan.machine.serial, [system.map(|s| s.serial), board.map(|b| b.serial)]),
        ("asset_tag", &plan.machine.asset_tag, [board.map(|b| b.asset_tag), None]),
        ("product", &plan.machine.product, [system.map(|s| s.product), board.map(|b| b.product)]),
    ];
    marks
        .into_iter()
        .filter_map(|(key, wanted, fields)| {
            let fields = || fields.iter().flatten();
            Some(Mark {
                key,
                wanted: wanted.as_deref()?,
                stated: fields().filter_map(|f| Some((identity::clean(f.get()?)?, f.place()?))).collect(),
                lines: fields().filter_map(Field::place).collect(),
            })
        })
        .collect()
}

/// Refuses a plan that selects another machine.
pub(super) fn check_machine(listing: &Listing<'_>, plan: &Plan) -> Result<(), FileError> {
    for mark in marks(listing, plan) {
        let Some((found, place)) = mark.stated.first() else { continue };
        if mark.agreeing().is_none() {
            return Err(FileError {
                file: plan.source.clone(),
                line: None,
                found: format!("`machine: {}: {}`", mark.key, mark.wanted),
                expected: format!("`{found}`, which the listing states in line {}", place.line),
                advice: "Take the plan of this machine, or the listing of the other one.".to_owned(),
            });
        }
    }
    Ok(())
}

/// Every slot that the plan names must be one of the listing, unless the listing can explain its absence:
/// damage, a socket whose slots it does not list at all, or a firmware that gives an empty slot no label.
pub(super) fn check_slots(
    listing: &Listing<'_>,
    population: &Population<'_>,
    plan: &Plan,
) -> Result<(), FileError> {
    let known = plan.slots.iter().filter(|planned| population.slot(&planned.slot).is_some()).count();
    // One in four: a plan for the right machine has a name or two mistyped.
    if known * 4 < plan.slots.len() && plan.slots.len() > 3 && !listing.may_miss_records() {
        let unknown = plan.slots.iter().find(|planned| {
            population.slot(&planned.slot).is_none() && !is_on_unlisted_socket(population, &planned.slot)
        });
        if let Some(planned) = unknown.filter(|_| population.slots.iter().all(|slot| !slot.is_nameless())) {
            return Err(hardly_any(population, plan, planned, known));
        }
    }
    let mut nameless = population.slots.iter().filter(|slot| slot.is_nameless()).count();
    for planned in &plan.slots {
        if population.slot(&planned.slot).is_some()
            || listing.may_miss_records()
            || is_on_unlisted_socket(population, &planned.slot)
        {
            continue;
        }
        if nameless == 0 {
            return Err(no_such_slot(population, plan, planned));
        }
        nameless -= 1;
    }
    Ok(())
}

fn hardly_any(population: &Population<'_>, plan: &Plan, planned: &PlannedSlot, known: usize) -> FileError {
    let shown: Vec<&str> = population.slots.iter().map(|slot| slot.name.as_ref()).take(4).collect();
    FileError {
        file: plan.source.clone(),
        line: planned.line,
        found: format!(
            "slot `{}`; hardly any slot of this plan is on this machine: {known} of {}",
            planned.slot,
            plan.slots.len()
        ),
        expected: format!("slots of the listing, such as {}", shown.join(", ")),
        advice: "Take the plan of this machine, or start from `asfitted plan from LISTING`.".to_owned(),
    }
}

fn no_such_slot(population: &Population<'_>, plan: &Plan, planned: &PlannedSlot) -> FileError {
    let names = population.slots.iter().map(|slot| slot.name.as_ref());
    let suggestion = did_you_mean(&planned.slot, names.clone());
    let shown: Vec<&str> = names.take(8).collect();
    let more = population.slots.len().saturating_sub(shown.len());
    let expected = match (shown.len(), more) {
        (0, _) => "a slot of the listing, which has none for memory".to_owned(),
        (_, 0) => format!("one of {}", shown.join(", ")),
        _ => format!("one of {} and {more} more", shown.join(", ")),
    };
    let advice = if suggestion.is_empty() {
        "Correct the name; `asfitted show LISTING` prints all slots.".to_owned()
    } else {
        suggestion
    };
    FileError {
        file: plan.source.clone(),
        line: planned.line,
        found: format!("slot `{}`", planned.slot),
        expected,
        advice,
    }
}
