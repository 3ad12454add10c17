//! Findings about where modules are: missing, wrong-slot, wrong-module, unplanned, not-running, no-cpu.

use std::collections::HashSet;

use super::Context;
use super::finding::{Finding, FindingKind, Severity};
use super::matching::{Match, Matching};
use crate::base::words::short_list;
use crate::evidence::Evidence;
use crate::plan::agreement::{
    Outcome, agrees, compare, describe_found, describe_wanted, found_text, place_of, wanted_text,
};
use crate::plan::{Demand, DemandField};
use crate::population::{SlotState, Socket, is_on_unlisted_socket, socket_by_analogy};
use crate::records::enums::ProcessorStatus;

/// All findings about places.
pub(super) fn findings(context: &Context<'_, '_>, matching: &Matching<'_>) -> Vec<Finding> {
    let mut result = Vec::new();
    let (found, absent): (Vec<&Match<'_>>, Vec<&Match<'_>>) =
        matching.matches.iter().partition(|m| m.at.is_some());
    let mut idle = idle_slots(context);
    let absent = not_running(context, absent, &mut idle, &mut result);
    let absent = without_cpu(context, absent, &mut result);
    for m in absent {
        if m.unseen {
            if !context.case.plan.waived.contains(&DemandField::Presence) {
                result.push(hidden(context, m));
            }
        } else {
            result.push(missing(context, m));
        }
    }
    for m in found {
        if let Some(at) = m.at {
            if m.home != Some(at) {
                result.push(wrong_slot(context, m, at));
            } else if !agrees(&m.differences) {
                result.push(wrong_module(context, m, at));
            }
        }
    }
    result.extend(unproven_slots(context));
    // A plan that names no slot says nothing about what belongs where.
    if !context.case.plan.slots.is_empty() {
        result.extend(matching.unplanned.iter().map(|slot| unplanned(context, *slot)));
    }
    result
}

/// Whether the record of a slot that is not listed may have been lost: to damage, or, where the form of the
/// listing has no mark at its end, with all slots of its processor.
pub(super) fn may_be_lost(context: &Context<'_, '_>, slot: &str) -> bool {
    context.case.listing.may_miss_records()
        || (!context.case.listing.has_end && is_on_unlisted_socket(&context.case.population, slot))
}

/// Whether the listing leaves open what a slot holds.
pub(super) fn is_unseen(context: &Context<'_, '_>, slot: &str) -> bool {
    match context.case.population.slot(slot) {
        Some((_, slot)) => slot.state == SlotState::Unknown,
        None => may_be_lost(context, slot),
    }
}

/// Slots that should be empty and are not shown to be, and slots whose module need not run and that are not shown at
/// all: the listing says nothing of them, or may have lost their records.
fn unproven_slots(context: &Context<'_, '_>) -> Vec<Finding> {
    if context.case.plan.waived.contains(&DemandField::Presence) {
        return Vec::new();
    }
    let open = |demand: &Demand, is_open: &dyn Fn(&str) -> bool| -> Vec<String> {
        let planned = context.case.plan.slots.iter().filter(|planned| planned.demand == *demand);
        planned.map(|planned| planned.slot.clone()).filter(|slot| is_open(slot)).collect()
    };
    let empty = open(&Demand::Empty, &|slot| is_unseen(context, slot));
    let idle = open(&Demand::Idle, &|slot| {
        context.case.population.slot(slot).is_none() && may_be_lost(context, slot)
    });
    let finding = |slots: Vec<String>, what: &str, expected: &str| {
        let mut finding = Finding::about(FindingKind::Unproven, slots);
        finding.fields = vec![DemandField::Presence];
        finding.summary = format!(
            "{}: the listing does not show whether these slots are {what}",
            short_list(&finding.slots)
        );
        finding.expected = expected.to_owned();
        finding.found = "not stated".to_owned();
        let records = finding.slots.iter().filter_map(|name| context.case.population.slot(name));
        let labels: Vec<_> = records.map(|(index, _)| context.device(index).locator.place()).collect();
        finding.evidence = context.evidence(labels);
        finding
    };
    [(empty, "empty", "empty slots"), (idle, "there", "slots whose modules need not run")]
        .into_iter()
        .filter(|(slots, ..)| !slots.is_empty())
        .map(|(slots, what, expected)| finding(slots, what, expected))
        .collect()
}

/// Slots with a module that is not running, without those that the plan accepts.
fn idle_slots(context: &Context<'_, '_>) -> Vec<usize> {
    let accepted: HashSet<&str> = context
        .case
        .plan
        .slots
        .iter()
        .filter(|p| p.demand == Demand::Idle)
        .map(|p| p.slot.as_str())
        .collect();
    let slots = &context.case.population.slots;
    (0..slots.len())
        .filter(|index| matches!(slots[*index].state, SlotState::NotRunning(_)))
        .filter(|index| !accepted.contains(slots[*index].name.as_ref()))
        .collect()
}

/// Takes the planned modules that the firmware names without using them out of the absent ones: those in
/// their own slot first, then those in another. Others that are not running are reported too.
fn not_running<'m, 'p>(
    context: &Context<'_, '_>,
    absent: Vec<&'m Match<'p>>,
    idle: &mut Vec<usize>,
    result: &mut Vec<Finding>,
) -> Vec<&'m Match<'p>> {
    let mut left = Vec::new();
    for m in absent {
        match idle.iter().position(|slot| m.home == Some(*slot)) {
            Some(at) => result.push(idle_finding(context, idle.remove(at), Some(m))),
            None => left.push(m),
        }
    }
    left.retain(|m| {
        let same = idle.iter().position(|slot| {
            context.case.population.slots[*slot].module().is_some_and(|module| {
                let differences = compare(m.wanted, module);
                // An idle module's size is not stated; its part number must speak for it.
                agrees(&differences)
                    && m.wanted.part.is_some()
                    && m.wanted.part.as_deref() == module.part.as_deref()
            })
        });
        match same {
            Some(at) => {
                let slot = idle.remove(at);
                result.push(idle_finding(context, slot, Some(m)));
                false
            }
            None => true,
        }
    });
    for slot in idle.drain(..) {
        result.push(idle_finding(context, slot, None));
    }
    left
}

fn idle_finding(context: &Context<'_, '_>, slot: usize, m: Option<&Match<'_>>) -> Finding {
    let name = context.name(slot);
    let mut finding = Finding::about(FindingKind::NotRunning, vec![name.clone()]);
    let module = context.case.population.slots[slot].module().map(describe_found).unwrap_or_default();
    finding.summary = format!("{name}: the firmware names a module here that is not running");
    finding.expected = m.map_or_else(|| "nothing planned here".to_owned(), |m| describe_wanted(m.wanted));
    finding.other_slot = m.filter(|m| m.home != Some(slot)).map(|m| m.planned.slot.clone());
    finding.found = format!("{module}; by its size the slot is empty");
    let device = context.device(slot);
    finding.evidence = context.evidence([
        device.locator.place(),
        device.size.place(),
        device.part_number.place(),
        device.speed.place(),
    ]);
    finding
}

/// Takes the planned modules whose socket has no processor out of the absent ones, as one finding a socket.
fn without_cpu<'m, 'p>(
    context: &Context<'_, '_>,
    absent: Vec<&'m Match<'p>>,
    result: &mut Vec<Finding>,
) -> Vec<&'m Match<'p>> {
    let sockets = &context.case.population.sockets;
    let mut by_socket: Vec<(usize, Vec<String>)> = Vec::new();
    let mut left = Vec::new();
    for m in absent {
        let socket = empty_socket(context, m);
        match socket {
            Some(socket) => match by_socket.iter_mut().find(|(other, _)| *other == socket) {
                Some((_, slots)) => slots.push(m.planned.slot.clone()),
                None => by_socket.push((socket, vec![m.planned.slot.clone()])),
            },
            None => left.push(m),
        }
    }
    for (index, slots) in by_socket {
        let socket = &sockets[index];
        let label = socket.label.unwrap_or("a socket");
        let mut finding = Finding::about(FindingKind::NoCpu, slots);
        finding.summary = format!(
            "{label} holds no processor, so the modules planned for {} cannot be seen",
            short_list(&finding.slots)
        );
        finding.expected = format!("{} modules on {label}", finding.slots.len());
        finding.found = format!("{label} is unpopulated");
        let record = &context.case.listing.processors[socket.record];
        finding.evidence = context.evidence([record.socket.place(), record.status.place()]);
        result.push(finding);
    }
    left
}

/// The unpopulated socket that a planned slot belongs to, if that is sure: no module runs in that socket's
/// slots, since some boards number labels and processors in opposite directions.
fn empty_socket(context: &Context<'_, '_>, m: &Match<'_>) -> Option<usize> {
    let population = &context.case.population;
    let number = match m.home {
        Some(home) => population.slots[home].location.socket?,
        // What runs there may be in the records that are lost.
        None if context.case.listing.may_miss_records() => return None,
        None => socket_by_analogy(population, &m.planned.slot)?,
    };
    let runs = |n: u16| population.fitted().any(|(slot, _)| slot.location.socket == Some(n));
    if runs(number) {
        return None;
    }
    let empty = |socket: &Socket<'_>| socket.status == Some(ProcessorStatus::Unpopulated);
    let by_number =
        population.sockets.iter().position(|socket| empty(socket) && socket.number == Some(number));
    by_number.or_else(|| {
        // Slots of an empty socket are often not listed, and then the numbers cannot be matched; a single
        // empty socket leaves no doubt.
        let mut empties = population.sockets.iter().enumerate().filter(|(_, socket)| empty(socket));
        let only = empties.next().filter(|_| m.home.is_none())?;
        empties.next().is_none().then_some(only.0)
    })
}

fn missing(context: &Context<'_, '_>, m: &Match<'_>) -> Finding {
    let slot = &m.planned.slot;
    let mut finding = Finding::about(FindingKind::Missing, vec![slot.clone()]);
    finding.expected = describe_wanted(m.wanted);
    match m.home {
        Some(home) => {
            finding.found = match &context.case.population.slots[home].state {
                SlotState::Empty => format!("an empty slot{}", traced(context, home)),
                SlotState::Unknown => "nothing stated".to_owned(),
                SlotState::Fitted(other) => format!("another module: {}", describe_found(other)),
                SlotState::NotRunning(other) => {
                    format!("a module that is not running: {}", describe_found(other))
                }
            };
            finding.summary = format!("{slot}: the planned module is detected nowhere");
            finding.evidence = evidence_of_nothing(context, home);
        }
        None => {
            finding.found = "no record of this slot".to_owned();
            finding.summary =
                format!("{slot}: the listing has no record of this slot, nor the module elsewhere");
        }
    }
    finding
}

/// What the record of a slot without a size states of a module all the same.
fn traced(context: &Context<'_, '_>, slot: usize) -> String {
    match &context.case.population.slots[slot].trace {
        None => String::new(),
        Some(trace) if trace.compared => {
            format!(" by its size, yet its record states {}: something answered there", trace.words())
        }
        Some(trace) => format!(
            " by its size, yet its record states {}; there is no other empty slot to tell whether this firmware always does",
            trace.words()
        ),
    }
}

/// The lines of a slot that holds no module by its record.
fn evidence_of_nothing(context: &Context<'_, '_>, slot: usize) -> Vec<Evidence> {
    let device = context.device(slot);
    let trace = context.case.population.slots[slot].trace.iter().flat_map(|trace| &trace.fields);
    let places = trace.map(|(_, place)| Some(*place));
    context.evidence([device.locator.place(), device.size.place()].into_iter().chain(places))
}

/// A planned slot whose record may be among those that were lost, or of which the listing says nothing.
fn hidden(context: &Context<'_, '_>, m: &Match<'_>) -> Finding {
    let slot = &m.planned.slot;
    if let Some(home) = m.home {
        let mut finding = Finding::about(FindingKind::Unproven, vec![slot.clone()]);
        finding.fields = vec![DemandField::Presence];
        finding.summary = format!("{slot}: the listing does not say whether a module is there");
        finding.expected = describe_wanted(m.wanted);
        finding.found = format!("nothing stated{}", traced(context, home));
        finding.evidence = evidence_of_nothing(context, home);
        return finding;
    }
    let damaged = context.case.listing.may_miss_records();
    let why = if damaged { "the listing is damaged" } else { "the listing has no end record" };
    let mut finding = Finding::about(FindingKind::Unproven, vec![slot.clone()]);
    finding.fields = vec![DemandField::Presence];
    finding.summary = format!("{slot}: no record of this slot; {why}, so it may have been lost");
    finding.expected = describe_wanted(m.wanted);
    finding.found = format!("no record of this slot; {why}");
    finding
}

fn wrong_slot(context: &Context<'_, '_>, m: &Match<'_>, at: usize) -> Finding {
    let (name, home) = (context.name(at), &m.planned.slot);
    let mut finding = Finding::about(FindingKind::WrongSlot, vec![name.clone()]);
    finding.other_slot = Some(home.clone());
    finding.summary = format!("{name}: this module belongs in {home}");
    finding.expected = format!("{} in {home}", describe_wanted(m.wanted));
    let module = context.case.population.slots[at].module().map(describe_found).unwrap_or_default();
    finding.found = format!("{module} in {name}");
    let device = context.device(at);
    let target = m.home.map(|home| context.device(home));
    finding.evidence = context.evidence([
        device.locator.place(),
        device.size.place(),
        device.part_number.place(),
        device.serial.stated().and(device.serial.place()),
        target.and_then(|d| d.locator.place()),
        target.and_then(|d| d.size.place()),
    ]);
    finding
}

fn wrong_module(context: &Context<'_, '_>, m: &Match<'_>, at: usize) -> Finding {
    let name = context.name(at);
    let mut finding = Finding::about(FindingKind::WrongModule, vec![name.clone()]);
    finding.fields = m
        .differences
        .iter()
        .filter(|(_, outcome)| *outcome == Outcome::Differs)
        .map(|(field, _)| *field)
        .collect();
    let words: Vec<&str> = finding.fields.iter().map(|field| field.word()).collect();
    finding.summary = format!("{name}: the module differs from the plan in {}", words.join(", "));
    let text = |of: &dyn Fn(DemandField) -> String| {
        finding.fields.iter().map(|f| of(*f)).collect::<Vec<_>>().join(", ")
    };
    let expected = text(&|field| wanted_text(m.wanted, field));
    let found =
        context.case.population.slots[at].module().map(|module| text(&|field| found_text(module, field)));
    finding.expected = expected;
    finding.found = found.unwrap_or_default();
    let device = context.device(at);
    let places = finding.fields.iter().map(|field| place_of(device, *field));
    finding.evidence = context.evidence(std::iter::once(device.locator.place()).chain(places));
    finding
}

fn unplanned(context: &Context<'_, '_>, slot: usize) -> Finding {
    let name = context.name(slot);
    let mut finding = Finding::about(FindingKind::Unplanned, vec![name.clone()]);
    let empty = context.case.plan.demand(&name).is_some_and(|planned| planned.demand == Demand::Empty);
    let module = context.case.population.slots[slot].module().map(describe_found).unwrap_or_default();
    finding.summary = format!("{name}: a module that the plan does not call for");
    if empty {
        finding.severity = Severity::Fault;
        finding.summary = format!("{name}: a module in a slot that the plan demands empty");
    }
    finding.expected = if empty { "an empty slot" } else { "no other module" }.to_owned();
    finding.found = module;
    let device = context.device(slot);
    finding.evidence =
        context.evidence([device.locator.place(), device.size.place(), device.part_number.place()]);
    finding
}
