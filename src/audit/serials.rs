//! `duplicate-serial`: one serial number on two modules of one machine.

use std::collections::BTreeMap;

use super::Context;
use super::finding::{Finding, FindingKind};
use crate::base::words::short_list;
use crate::plan::{Demand, DemandField};
use crate::population::{Module, Tier};

/// One finding for each serial number that two modules of one make state.
///
/// A serial number that more than two modules state is the firmware's, not a module's, and modules with other part
/// numbers or makers are not one module: neither is a finding. Nor is what the plan itself demands twice, nor a record
/// that may have been printed twice.
pub(super) fn duplicates(context: &Context<'_, '_>) -> Vec<Finding> {
    let mut by_serial: BTreeMap<String, Vec<(usize, &Module<'_>)>> = BTreeMap::new();
    let slots = &context.case.population.slots;
    // Stacks on one package may state the package's number.
    for (slot, module) in context.fitted().filter(|(slot, _)| slots[*slot].tier != Tier::Hbm) {
        if let Some(serial) = module.serial {
            by_serial.entry(serial.to_ascii_uppercase()).or_default().push((slot, module));
        }
    }
    let pair = |slots: Vec<(usize, &Module<'_>)>| match slots.as_slice() {
        [(a, first), (b, second)] => {
            let one = first.part.is_some() && first.part == second.part && first.maker == second.maker;
            let doubled = context.case.population.doubled.contains(&(*b, *a));
            (one && !doubled && !is_planned_twice(context, *a, *b)).then(|| finding(context, *a, *b))
        }
        _ => None,
    };
    by_serial.into_values().filter_map(pair).collect()
}

/// Whether the plan pins the same serial number to both slots.
fn is_planned_twice(context: &Context<'_, '_>, a: usize, b: usize) -> bool {
    let pinned = |slot: usize| match &context.case.plan.demand(&context.name(slot))?.demand {
        Demand::Module(wanted) => wanted.serial.as_deref().map(str::to_ascii_uppercase),
        Demand::Empty | Demand::Idle => None,
    };
    pinned(a).is_some_and(|serial| pinned(b) == Some(serial))
}

fn finding(context: &Context<'_, '_>, a: usize, b: usize) -> Finding {
    let mut finding = Finding::about(FindingKind::DuplicateSerial, vec![context.name(a), context.name(b)]);
    let serial =
        context.case.population.slots[a].fitted().and_then(|module| module.serial).unwrap_or_default();
    finding.fields = vec![DemandField::Serial];
    finding.summary =
        format!("{}: both modules state the serial number {serial}", short_list(&finding.slots));
    finding.expected = "a serial number of its own for each module".to_owned();
    finding.found = format!("serial {serial} twice");
    let devices = [context.device(a), context.device(b)];
    finding.evidence = context.evidence(devices.iter().flat_map(|d| [d.locator.place(), d.serial.place()]));
    finding
}
