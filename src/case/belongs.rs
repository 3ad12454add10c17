//! Whether a plan and a listing belong together; a plan for another machine must not judge this one.

use crate::plan::{Plan, PlannedSlot};
use crate::population::{Population, identity, is_on_unlisted_socket};
use crate::records::Listing;
use crate::yaml::{FileError, did_you_mean};

/// Refuses a plan that selects another machine.
pub(super) fn check_machine(listing: &Listing<'_>, plan: &Plan) -> Result<(), FileError> {
    let system = listing.systems.first();
    let board = listing.boards.first();
    let marks = [
        ("serial", &plan.machine.serial, vec![system.map(|s| s.serial), board.map(|b| b.serial)]),
        ("asset_tag", &plan.machine.asset_tag, vec![board.map(|b| b.asset_tag)]),
        ("product", &plan.machine.product, vec![system.map(|s| s.product), board.map(|b| b.product)]),
    ];
    for (key, wanted, fields) in marks {
        let Some(wanted) = wanted else { continue };
        let stated: Vec<_> = fields
            .into_iter()
            .flatten()
            .filter_map(|field| Some((identity::clean(field.get()?)?, field.place()?)))
            .collect();
        let Some((found, place)) = stated.first() else { continue };
        if !stated
            .iter()
            .any(|(text, _)| identity::collapse(text).eq_ignore_ascii_case(&identity::collapse(wanted)))
        {
            return Err(FileError {
                file: plan.source.clone(),
                line: None,
                found: format!("`machine: {key}: {wanted}`"),
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
