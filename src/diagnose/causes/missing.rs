//! Causes of modules that are not detected or not used.
//!
//! Orders of causes: common practice, no source, but for what one maker's guides state about modules that a
//! failing one takes out of use with it.

use std::collections::HashSet;

use super::{Cause, CauseKind, DiagnosisInput};
use crate::audit::{Finding, FindingKind, Pattern};
use crate::base::words::short_list;
use crate::diagnose::guarded::keeps_contents;
use crate::plan::ModuleSpec;
use crate::plan::agreement::could_be;
use crate::population::Slot;
use crate::records::enums::ProcessorStatus;
use crate::sources::{EventKind, State, usual_reservation};

pub(super) fn missing(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let Some(name) = finding.slot.as_deref() else { return Vec::new() };
    let mut result: Vec<Cause> = seen_by_the_system(input).into_iter().chain(logged(finding)).collect();
    match &finding.pattern {
        Pattern::Socket(number) => socket(*number, input, &mut result),
        Pattern::Channel(channel) => whole_channel(name, channel, input, &mut result),
        Pattern::Position { position, socket } => {
            position_locked(finding, (*position, *socket), input, &mut result);
        }
        Pattern::Tail(first) => tail(first, input, &mut result),
        Pattern::Alone => alone(name, finding, input, &mut result),
    }
    result
}

/// The operating system has what was meant although modules are not listed: then the list is wrong (public cases
/// x79-2063 and rr-214).
fn seen_by_the_system(input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let visible = input.sources.meminfo.as_ref()?.total;
    let planned = input.plan.planned_total()?;
    let listed = input.population.totals.detected?;
    let usual = usual_reservation(planned, input.sources.command_line.as_ref());
    let meant = visible <= planned && planned.0 - visible.0 <= usual.0;
    (meant && listed < visible).then(|| {
        Cause::likely(
            CauseKind::ListingWrong,
            "the listing is wrong: the module is there and is used",
            format!("the operating system sees {visible} of {planned} planned, more than the {listed} that are listed"),
            "keep the lid closed; count the modules in the management controller, and update the firmware that makes the list",
        )
    })
}

/// What the management controller states about the slot; it alone distinguishes an absent module from one that is not
/// used.
fn logged(finding: &Finding) -> Option<Cause> {
    let said = |kinds: &[EventKind]| finding.events().iter().find(|event| kinds.contains(event));
    let disabled = said(&[EventKind::DeviceDisabled, EventKind::LoggingLimit, EventKind::UncorrectableEcc])
        .map(|event| format!("the event log states for this slot: {}", event.info().name));
    let disabled = disabled.or_else(|| match finding.state() {
        Some(State::Disabled) => Some("the management controller gives its state as disabled".to_owned()),
        Some(State::UnavailableOffline) => {
            Some("the management controller gives its state as present and not usable".to_owned())
        }
        _ => None,
    });
    if let Some(why) = disabled {
        return Some(Cause::likely(
            CauseKind::Disabled,
            "the firmware has taken the module out of use",
            why,
            "save the log and clear it, reseat the module, enable the slot again in the firmware setup; if the events come back, replace the module",
        ));
    }
    if said(&[EventKind::ConfigurationError]).is_some() {
        return Some(Cause::likely(
            CauseKind::RuleLockOut,
            "the firmware refuses this fitting",
            "the event log states for this slot: memory configuration error",
            "compare the fitting with the population rules in the service manual",
        ));
    }
    let there = said(&[EventKind::PresenceDetected])
        .map(|_| "the event log states for this slot: presence detected")
        .or((finding.state() == Some(State::Enabled))
            .then_some("the management controller has a module there"));
    there.map(|why| {
        Cause::likely(
            CauseKind::FailedTraining,
            "the module is there and is not used",
            why,
            "reseat it; then swap it with one that is detected",
        )
    })
}

fn socket(number: u16, input: &DiagnosisInput<'_, '_>, result: &mut Vec<Cause>) {
    let status = input.population.sockets.iter().find(|s| s.number == Some(number)).and_then(|s| s.status);
    let why = if status == Some(ProcessorStatus::Disabled) {
        format!("every planned module of socket {number} is missing and its processor is disabled")
    } else {
        format!("every planned module of socket {number} is missing, not all of another")
    };
    result.push(Cause::likely(
        CauseKind::ProcessorDown,
        "the processor of this socket does not reach its memory",
        why,
        "look the processor up in the firmware setup and the event log; reseat it and inspect the socket for bent pins",
    ));
    result.push(Cause::possible(
        CauseKind::NotSeated,
        "the modules of this socket were not fitted, or not pressed in",
        "a listing shows an absent and an unseated module alike",
        "look at the slots of this socket: both latches of every module must stand upright",
    ));
}

fn whole_channel(name: &str, channel: &str, input: &DiagnosisInput<'_, '_>, result: &mut Vec<Cause>) {
    let first = first_of_channel(name, input).unwrap_or_else(|| name.to_owned());
    result.push(Cause::likely(
        CauseKind::ChannelDown,
        "the channel is down: contacts or pins at the processor socket, or the board",
        format!("every planned module of channel {channel} is missing, not all of another"),
        format!("fit one known-good module alone in {first}; if it stays unseen, reseat the processor and inspect the socket for bent pins"),
    ));
    result.push(Cause::likely(
        CauseKind::BlockingModule,
        "one module takes its whole channel out of use",
        "a module that fails its training takes the others of its channel with it",
        format!("take all modules of the channel out but the one in {first}; if it is seen, add the others one by one"),
    ));
    result.push(Cause::possible(
        CauseKind::NotSeated,
        "the modules of this channel were not fitted, or not pressed in",
        "a listing shows an absent and an unseated module alike",
        "look at the slots of this channel: both latches of every module must stand upright",
    ));
}

fn first_of_channel(name: &str, input: &DiagnosisInput<'_, '_>) -> Option<String> {
    let (_, slot) = input.population.slot(name)?;
    let here = slot.location;
    let own = input.population.slots.iter().filter(|s| {
        s.location.socket == here.socket && s.location.channel.is_some() && s.location.channel == here.channel
    });
    own.min_by_key(|s| s.location.position).map(|s| s.name.to_string())
}

fn position_locked(
    finding: &Finding,
    (position, socket): (u16, Option<u16>),
    input: &DiagnosisInput<'_, '_>,
    result: &mut Vec<Cause>,
) {
    let quad = input.plan.modules().any(|(_, wanted)| wanted.ranks.is_some_and(|ranks| ranks >= 4));
    let of_socket = socket.map_or_else(String::new, |socket| format!(" on socket {socket}"));
    let before = if is_gone_before(finding, position, input) { "most of those" } else { "those" };
    let why = format!(
        "every planned module at position {position} of its channel{of_socket} is missing, {before} before it are there{}",
        if quad { "; modules with four ranks are planned" } else { "" }
    );
    result.push(Cause::likely(
        CauseKind::RuleLockOut,
        "the platform does not take a module there: too many ranks or modules in a channel",
        why,
        "look up the population rules in the service manual: ranks per channel, and slots that quad-rank modules bar; or name the board with `--board`",
    ));
    result.push(Cause::possible(
        CauseKind::NotSeated,
        "this row of slots was not fitted, or not pressed in",
        "a listing shows an absent and an unseated module alike",
        "look along the row: both latches of every module must stand upright",
    ));
}

/// Whether a module is missing at a lower position in one of the channels of `finding`.
fn is_gone_before(finding: &Finding, position: u16, input: &DiagnosisInput<'_, '_>) -> bool {
    let place = |name: &String| input.population.slot(name).map(|(_, slot)| slot.location);
    let channels: HashSet<_> =
        finding.slots.iter().filter_map(place).map(|place| (place.socket, place.channel)).collect();
    let missing = input.audit.findings.iter().filter(|other| other.kind == FindingKind::Missing);
    let mut lost = missing.flat_map(|other| &other.slots).filter_map(place);
    lost.any(|place| {
        channels.contains(&(place.socket, place.channel)) && place.position.is_some_and(|own| own < position)
    })
}

fn tail(first: &str, input: &DiagnosisInput<'_, '_>, result: &mut Vec<Cause>) {
    result.push(Cause::likely(
        CauseKind::BlockingModule,
        "one module takes those behind it out of use",
        format!(
            "{first} and all planned slots after it in the channel are missing, the slot before it is there"
        ),
        format!("reseat the module in {first}; if nothing changes, {}", exchange(first, input)),
    ));
    result.push(Cause::likely(
        CauseKind::NotSeated,
        "the modules are not fully seated, or were not fitted",
        "a listing shows an absent and an unseated module alike",
        format!("inspect {first} and the slots after it: both latches must stand upright"),
    ));
    result.push(Cause::possible(
        CauseKind::RuleLockOut,
        "the platform does not take so many modules or ranks in this channel",
        "the last slots of the channel are the missing ones",
        "look up the population rules in the service manual",
    ));
}

fn alone(name: &str, finding: &Finding, input: &DiagnosisInput<'_, '_>, result: &mut Vec<Cause>) {
    let only = input.audit.findings.iter().filter(|other| other.kind == FindingKind::Missing).count() == 1;
    let neighbours = match finding.slots.as_slice() {
        [_] if only => format!("{name} alone"),
        [_] => name.to_owned(),
        several => short_list(several),
    };
    result.push(Cause::likely(
        CauseKind::NotSeated,
        "the module is not fully seated, or was not fitted",
        format!(
            "{neighbours} is empty by the listing{}",
            // The controller's statement rules the others out.
            if finding.state() == Some(State::Absent) {
                " and absent by the management controller"
            } else {
                ", which shows an absent, an unseated, a dead and a disabled module alike"
            }
        ),
        format!("inspect {name}: if a module is there, take it out, look at its contacts and press it in until both latches click"),
    ));
    if !result.iter().any(|cause| cause.kind == CauseKind::Disabled) {
        // IBM, tip H195188: modules stay off after the repair.
        result.push(Cause::possible(
            CauseKind::Disabled,
            "the slot was switched off earlier and stays off",
            "firmware remembers a slot that it has switched off, whatever is fitted there since",
            format!("look for {name} in the firmware setup and enable it before a new module is blamed"),
        ));
    }
    result.push(Cause::possible(
        CauseKind::BadModule,
        "the module is defective",
        "it is detected nowhere",
        format!("{}; check the event log for this slot", exchange(name, input)),
    ));
    result.push(Cause::possible(
        CauseKind::BadSlot,
        "the slot or its channel is defective",
        "it is detected nowhere",
        format!("if a module that is detected elsewhere is not seen in {name} either, look for dirt and bent contacts in the slot, then at the processor socket"),
    ));
}

/// The one swap that decides between module and slot.
fn exchange(name: &str, input: &DiagnosisInput<'_, '_>) -> String {
    match partner(name, input) {
        Some(other) => format!(
            "swap it with the module of {other}, which is detected: if the gap moves to {other}, it is the module; if it stays in {name}, it is the slot"
        ),
        None => format!(
            "put a known-good module into {name}: if it is seen, it was the module; if not, it is the slot"
        ),
    }
}

/// A slot whose running module could be the planned one, the nearest of the same position first.
fn partner(name: &str, input: &DiagnosisInput<'_, '_>) -> Option<String> {
    let (_, home) = input.population.slot(name)?;
    let wanted: Option<&ModuleSpec> =
        input.plan.modules().find(|(p, _)| p.slot == name).map(|(_, wanted)| wanted);
    let right = |slot: &&Slot<'_>| {
        // A persistent module is never part of a test.
        slot.fitted().filter(|module| !keeps_contents(module)).is_some_and(|module| {
            // Another serial number is what makes it another module.
            wanted.is_none_or(|wanted| could_be(&ModuleSpec { serial: None, ..wanted.clone() }, module))
        })
    };
    let (a, b) = (home.location, home.device);
    let far = |slot: &&Slot<'_>| {
        let other = slot.location;
        (
            a.socket != other.socket,
            a.position != other.position,
            a.channel != other.channel,
            b.abs_diff(slot.device),
        )
    };
    input.population.slots.iter().filter(right).min_by_key(far).map(|slot| slot.name.to_string())
}

pub(super) fn not_running(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let Some(name) = finding.slot.as_deref() else { return Vec::new() };
    let mut result: Vec<Cause> =
        logged(finding).filter(|cause| cause.kind != CauseKind::FailedTraining).into_iter().collect();
    result.push(Cause::likely(
        CauseKind::FailedTraining,
        "the module is half seated or failed its training",
        "its identity was read over the management bus, which works with poor contact on the data lines",
        format!("reseat the module in {name}; look for dirt on its contacts and in the slot"),
    ));
    if !result.iter().any(|cause| cause.kind == CauseKind::Disabled) {
        result.push(Cause::possible(
            CauseKind::Disabled,
            "the firmware has disabled it after errors, or does not support it here",
            "an identity without memory is also how a mapped-out module reads",
            "read the event log for this slot, save it, then clear it; check whether the module may be mixed with its neighbours",
        ));
    }
    result.push(Cause::possible(
        CauseKind::BadModule,
        "the module or the slot is defective",
        "it is not running",
        exchange(name, input),
    ));
    result
}

pub(super) fn no_cpu() -> Vec<Cause> {
    vec![
        Cause::likely(
            CauseKind::NoProcessor,
            "the processor is not there",
            "the firmware reports the socket as unpopulated; memory slots belong to their own processor",
            "inspect the socket: fit the processor; move modules to the slots of one that is there only once its population rules allow them, and persistent ones never",
        ),
        Cause::possible(
            CauseKind::ProcessorDown,
            "the processor is there and not seen",
            "a processor with poor contact reads as absent",
            "reseat it and inspect the socket for bent pins and dirt",
        ),
    ]
}
