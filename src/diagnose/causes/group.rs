//! One bad module that takes its group out of use.
//!
//! Firmware switches off more than the module that failed: a pair (Sun Fire X4140, X4240 and X4440 Servers Diagnostics
//! Guide), a bank (IBM, tip H212293; Intel, SE8500HW4), a memory card (IBM, tip for x3950 M2), half of the memory
//! (Oracle, SPARC T5-4 service manual), or all of a processor whose rest is no legal group any more (firmware for POWER8).

use super::{Cause, CauseKind, DiagnosisInput};
use crate::audit::{Finding, FindingKind, Pattern};
use crate::population::Location;
use crate::sources::{EventKind, Weight};

/// Pairs, quads and banks of eight: the groups of those guides.
const GROUPS: [usize; 3] = [2, 4, 8];

/// Whether an event speaks against the module that it names, and not against the fitting as a whole.
pub(super) fn is_against_module(event: EventKind) -> bool {
    let about_all = matches!(
        event,
        EventKind::ConfigurationError
            | EventKind::NoMemoryInstalled
            | EventKind::NoUsableMemory
            | EventKind::InitializationHang
            | EventKind::LoggingDisabled
            | EventKind::RedundancyLost
    );
    event.info().weight == Weight::Grave && !about_all
}

/// Another slot of the same group that the log names, while it says nothing of those of `finding`.
pub(super) fn bad_member(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let name = finding.slot.as_deref().filter(|_| finding.events().is_empty())?;
    let here = location(name, input)?;
    let same = |other: &Finding, slot: &str| {
        location(slot, input).is_some_and(|place| match &finding.pattern {
            Pattern::Channel(_) | Pattern::Tail(_) => {
                (place.socket, place.channel) == (here.socket, here.channel)
            }
            Pattern::Socket(_) => place.socket == here.socket,
            Pattern::Alone => place.socket == here.socket && GROUPS.contains(&count(input, is_lost)),
            Pattern::Group(_) => other.pattern == finding.pattern,
            Pattern::Position { .. } => false,
        })
    };
    let member = input
        .audit
        .findings
        .iter()
        .filter(|other| is_lost(other) && other.events().iter().any(|event| is_against_module(*event)))
        .flat_map(|other| other.slots.iter().map(move |slot| (other, slot)))
        .find(|(other, slot)| !finding.slots.contains(slot) && same(other, slot))
        .map(|(_, slot)| slot)?;
    Some(Cause::likely(
        CauseKind::GroupDisabled,
        "one bad module takes its group out of use",
        format!("the event log names {member} alone, and the others of its group went with it"),
        format!(
            "take the module of {member} out, enable the others in the firmware setup and list again; if they come back, replace only that one"
        ),
    ))
}

/// All slots whose names begin alike are lost, and no log says which of them is to blame.
pub(super) fn whole(group: &str) -> Cause {
    Cause::likely(
        CauseKind::GroupDisabled,
        WHOLE,
        format!(
            "every planned module of {group} is missing, not all of another: as much as a group, not as a module"
        ),
        FIND,
    )
}

const WHOLE: &str =
    "one bad module takes its group out of use: a pair, a quad, a card, or all of a processor";

const FIND: &str = "look for the one slot that has a light or an entry in the event log; without one, start with half of the group, then with the other half";

/// The same where no log says which; all of a socket is a group, whatever its number.
pub(super) fn may_be_group(is_whole: bool, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    // What is switched off together reads alike.
    let silent = |finding: &Finding| finding.kind == FindingKind::Missing;
    (is_whole || GROUPS.contains(&count(input, silent))).then(|| {
        Cause::possible(
            CauseKind::GroupDisabled,
            WHOLE,
            "firmware switches off more than the module that failed",
            FIND,
        )
    })
}

/// How many modules are lost in findings of that kind.
fn count(input: &DiagnosisInput<'_, '_>, kind: fn(&Finding) -> bool) -> usize {
    input.audit.findings.iter().filter(|finding| kind(finding)).map(|finding| finding.slots.len()).sum()
}

fn is_lost(finding: &Finding) -> bool {
    matches!(finding.kind, FindingKind::Missing | FindingKind::NotRunning)
}

fn location<'s>(slot: &str, input: &DiagnosisInput<'s, '_>) -> Option<Location<'s>> {
    input.population.slot(slot).map(|(_, slot)| slot.location)
}
