//! Causes of modules that are not detected or not used.
//!
//! Orders of causes: common practice, no source, but for what one maker's guides state about modules that a
//! failing one takes out of use with it.

use std::collections::HashSet;

use super::other::other_size;
use super::{Cause, CauseKind, DiagnosisInput, Likelihood, before, checks, group};
use crate::audit::{Finding, FindingKind, Pattern};
use crate::base::words::short_list;
use crate::diagnose::guarded::keeps_contents;
use crate::plan::ModuleSpec;
use crate::plan::agreement::could_be;
use crate::population::{Slot, Trace};
use crate::records::enums::ProcessorStatus;
use crate::sources::{EventKind, State, usual_reservation};

pub(super) fn missing(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let Some(name) = finding.slot.as_deref() else { return Vec::new() };
    let told = [
        seen_by_the_system(input),
        before::changed_firmware(input),
        logged(finding, input),
        group::bad_member(finding, input),
        before::unsteady(finding, input),
    ];
    let mut result: Vec<Cause> = told.into_iter().flatten().collect();
    if !result.iter().any(|cause| cause.kind == CauseKind::Disabled) {
        result.extend(before::stays_off(name, input));
    }
    let trace =
        traced(finding, input).filter(|_| !result.iter().any(|c| c.kind == CauseKind::FailedTraining));
    let (sure, open): (Vec<Cause>, Vec<Cause>) =
        trace.into_iter().partition(|cause| cause.likelihood == Likelihood::Likely);
    result.extend(sure);
    match &finding.pattern {
        Pattern::Socket(number) => socket(*number, input, &mut result),
        Pattern::Channel(channel) => whole_channel(name, channel, input, &mut result),
        Pattern::Position { position, socket } => {
            position_locked(finding, (*position, *socket), input, &mut result);
        }
        Pattern::Tail(first) => tail(first, input, &mut result),
        Pattern::Group(group) => named_group(group, finding, &mut result),
        Pattern::Alone => alone(name, finding, input, &mut result),
    }
    result.extend(open);
    result.extend(finding.slots.iter().find_map(|slot| other_size(slot, input)));
    checks::arrange(&mut result);
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

/// Errors of a running machine after which makers have the module replaced, whoever took it out of use: IBM,
/// Troubleshooting memory issues (System x), steps 1 and 2.
const WORN: [EventKind; 2] = [EventKind::LoggingLimit, EventKind::UncorrectableEcc];

/// Whether the log tells of a module that goes from errors to being left out.
pub(in crate::diagnose) fn is_worn(finding: &Finding) -> bool {
    finding.events().iter().any(|event| WORN.contains(event))
}

/// The firmware's complaint about the fitting, which comes before what it says of single modules: a module in a slot
/// against the rules fails its test as well (IBM/Lenovo, tip H213780).
pub(super) fn refused(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let complains = |other: &&Finding| other.events().contains(&EventKind::ConfigurationError);
    let failed = finding.events().iter().any(|event| group::is_against_module(*event));
    let why = if complains(&finding) {
        "the event log states for this slot: memory configuration error"
    } else {
        // One that names another slot is about this one only if both failed together. Where a module died, what is left of
        // its group may be what the firmware complains about (public case of a POWER8 server).
        let meant = |other: &&Finding| complains(other) && (other.slots.is_empty() || failed);
        let all = &input.audit.findings;
        all.iter().find(meant).filter(|_| !all.iter().any(is_worn))?;
        "the event log has a memory configuration error beside it"
    };
    (!is_worn(finding)).then(|| {
        Cause::likely(
            CauseKind::RuleLockOut,
            "the firmware refuses this fitting",
            why,
            "compare the fitting with the population rules in the service manual; judge no module before it keeps them",
        )
    })
}

/// What the management controller states about the slot; it alone distinguishes an absent module from one that is not
/// used.
fn logged(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let said = |kinds: &[EventKind]| finding.events().iter().find(|event| kinds.contains(event));
    let name = finding.slot.as_deref().unwrap_or("the slot");
    if let Some(refused) = refused(finding, input) {
        return Some(refused);
    }
    if let Some(event) = said(&WORN) {
        return Some(Cause::likely(
            CauseKind::BadModule,
            "the module is defective, and the firmware has taken it out of use",
            format!("the event log states for this slot: {}", event.info().name),
            format!(
                "save the log, replace the module in {name}, and enable the slot again in the firmware setup; if the events come back, it is the slot or its channel"
            ),
        ));
    }
    if let (Some(scrub), Some(_)) = (said(&[EventKind::ScrubFailed]), said(&[EventKind::DeviceDisabled])) {
        // IBM, tip H204935: the two beside each other, at the clock's start, are a failure at the start of memory.
        return Some(Cause::likely(
            CauseKind::FailedTraining,
            "the module failed its training when the machine was started",
            format!("the event log states for this slot that it was disabled, and: {}", scrub.info().name),
            format!("reseat the module in {name}; then {}", exchange(name, input)),
        ));
    }
    let disabled = said(&[EventKind::DeviceDisabled])
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

/// The record of a slot without a size states of a module what another empty slot's does not (public case osm-962).
fn traced(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let traces: Vec<(&String, &Trace)> = finding
        .slots
        .iter()
        .filter_map(|name| Some((name, input.population.slot(name)?.1.trace.as_ref()?)))
        .collect();
    let (_, first) = traces.first()?;
    let names: Vec<String> = traces.iter().map(|(name, _)| (*name).clone()).collect();
    let names = short_list(&names);
    let text = "a module is there: it is half seated, failed its training or is switched off";
    let check = format!(
        "reseat the module in {names}; look for dirt on its contacts and in the slot, and for the slot in the firmware setup"
    );
    let stated = format!("the record of {names} states no size, and yet {}", first.words());
    Some(if first.compared {
        let why = format!("{stated}, as that of another empty slot does not: something answered there");
        Cause::likely(CauseKind::FailedTraining, text, why, check)
    } else {
        let why = format!(
            "{stated}; without another empty slot nobody can tell whether this firmware always states it"
        );
        Cause::possible(CauseKind::FailedTraining, text, why, check)
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
    let more = may_be_more(true, input, result);
    result.extend(more);
}

/// All of a card or bank, as far as the names of its slots show it: one reason has taken all of them.
fn named_group(group: &str, finding: &Finding, result: &mut Vec<Cause>) {
    let all = short_list(&finding.slots);
    if !result.iter().any(|cause| cause.kind == CauseKind::GroupDisabled) {
        result.push(group::whole(group));
    }
    result.push(Cause::possible(
        CauseKind::NotSeated,
        "the card with these slots is not fully seated, or its modules were not fitted",
        "a listing shows an absent and an unseated module alike",
        format!("inspect {all}: the card, and both latches of every module"),
    ));
    result.push(Cause::possible(
        CauseKind::ProcessorDown,
        "the processor of these slots does not reach its memory",
        "names that begin alike may stand for a processor as well as for a card",
        "look the processor up in the firmware setup and the event log",
    ));
    result.push(Cause::possible(
        CauseKind::BadSlot,
        "the card, or its connector, is defective",
        "nothing on it is detected",
        "exchange it with another card of the machine, with its modules: if the loss moves, it is the card or one of its modules",
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
    // What has answered was fitted.
    let answered =
        input.population.slot(name).is_some_and(|(_, slot)| slot.trace.as_ref().is_some_and(|t| t.compared));
    result.extend((!answered).then(|| Cause::likely(
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
    )));
    if !result.iter().any(|cause| cause.kind == CauseKind::Disabled) {
        result.push(before::may_stay_off(name));
    }
    if !result.iter().any(|cause| cause.kind == CauseKind::BadModule) {
        result.push(Cause::possible(
            CauseKind::BadModule,
            "the module is defective",
            "it is detected nowhere",
            format!("{}; check the event log for this slot", exchange(name, input)),
        ));
    }
    result.push(Cause::possible(
        CauseKind::BadSlot,
        "the slot or its channel is defective",
        "it is detected nowhere",
        format!("if a module that is detected elsewhere is not seen in {name} either, look for dirt and bent contacts in the slot, then at the processor socket"),
    ));
    result.extend(mixed(name, input));
    let more = may_be_more(false, input, result);
    result.extend(more);
}

/// Modules of several sizes or ranks in one channel, which some platforms list and do not use (IBM, tip H212714).
fn mixed(name: &str, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let (_, slot) = input.population.slot(name)?;
    let here = slot.location;
    here.channel?;
    let wanted = input.plan.modules().find(|(planned, _)| planned.slot == name).map(|(_, wanted)| wanted)?;
    let beside = input.plan.modules().filter(|(planned, _)| {
        let other = input.population.slot(&planned.slot).map(|(_, slot)| slot.location);
        other.is_some_and(|other| (other.socket, other.channel) == (here.socket, here.channel))
    });
    let differs = |other: &ModuleSpec| {
        let sizes = wanted.size.zip(other.size).is_some_and(|(a, b)| a != b);
        sizes || wanted.ranks.zip(other.ranks).is_some_and(|(a, b)| a != b)
    };
    let (other, _) = beside.into_iter().find(|(_, other)| differs(other))?;
    Some(Cause::possible(
        CauseKind::RuleLockOut,
        "the platform does not use modules of different sizes or ranks in one channel",
        format!("the module planned for {} is in the same channel and of another size or rank", other.slot),
        "look up in the service manual what may be mixed in a channel, or name the board with `--board`",
    ))
}

/// Where several are lost: what may have taken all of them.
fn may_be_more(is_whole: bool, input: &DiagnosisInput<'_, '_>, known: &[Cause]) -> Vec<Cause> {
    let more = [before::perhaps_firmware(input), group::may_be_group(is_whole, input)];
    let new = |cause: &Cause| !known.iter().any(|own| own.kind == cause.kind);
    more.into_iter().flatten().filter(new).collect()
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
    let told = [
        before::changed_firmware(input),
        logged(finding, input).filter(|cause| cause.kind != CauseKind::FailedTraining),
    ];
    let mut result: Vec<Cause> = told.into_iter().flatten().collect();
    if !result.iter().any(|cause| cause.kind == CauseKind::Disabled) {
        result.extend(before::stays_off(name, input));
    }
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
            "read the event log for this slot, save it, then clear it; enable the slot in the firmware setup; check whether the module may be mixed with its neighbours",
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
