//! Causes that the time before tells: an earlier listing of the machine, or what someone says was done.

use super::{Cause, CauseKind, DiagnosisInput};
use crate::audit::{Finding, FindingKind};
use crate::base::words::short_list;
use crate::case::WorkDone;
use crate::population::Population;

/// Slots of all findings of these kinds.
fn lost<'s>(kinds: &[FindingKind], input: &DiagnosisInput<'s, '_>) -> Vec<&'s str> {
    let findings = input.audit.findings.iter().filter(|finding| kinds.contains(&finding.kind));
    findings.flat_map(|finding| finding.slots.iter().map(String::as_str)).collect()
}

/// How the firmware is known to have changed.
fn change(input: &DiagnosisInput<'_, '_>) -> Option<String> {
    let stated = input.history.firmware_change(input.listing).map(|(before, after)| {
        format!("the firmware was {before} in the earlier listing and is {after} now")
    });
    stated.or_else(|| {
        input.history.has(WorkDone::Firmware).then(|| "the firmware was changed before that".to_owned())
    })
}

const BACK: &str = "load the defaults of the firmware setup and list again; then go back to the version before, or on to a newer one, before any module is touched";

/// Several modules that go after a change of the firmware are no row of dying modules (public cases of servers whose
/// training code was changed; HP, System memory troubleshooting best practices: firmware before parts; Sun Fire X4140
/// diagnostics guide: where several modules have errors, other causes are ruled out first).
pub(super) fn changed_firmware(input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let mut lost = lost(&[FindingKind::Missing, FindingKind::NotRunning], input);
    if let Some(earlier) = &input.history.earlier {
        // What was missing before has another reason.
        lost.retain(|slot| earlier.had(slot) != Some(false));
    }
    let change = change(input).filter(|_| lost.len() > 1)?;
    Some(Cause::likely(
        CauseKind::Firmware,
        "the firmware does not start these modules since it was changed",
        format!("{} modules went at once; {change}", lost.len()),
        BACK,
    ))
}

/// The same of memory that is listed and not visible: stored training of the time before, or a defect of the new version.
pub(super) fn firmware_hides(input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    change(input).map(|change| {
        Cause::likely(
            CauseKind::Firmware,
            "the firmware does not start all of the memory since it was changed",
            format!("every module is listed; {change}"),
            BACK,
        )
    })
}

/// Firmware where it is no more than possible: a single module went with a change, or several went and one listing cannot
/// tell why, which says what to ask for.
pub(super) fn perhaps_firmware(input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    const WHAT: &str = "the firmware does not start these modules since it was changed";
    if let Some(change) = change(input) {
        return Some(Cause::possible(CauseKind::Firmware, WHAT, change, BACK));
    }
    // An earlier listing has answered.
    let open = input.history.earlier.is_none() && input.history.done.is_empty();
    (lost(&[FindingKind::Missing], input).len() > 1 && open).then(|| {
        Cause::possible(
            CauseKind::Firmware,
            WHAT,
            "more than one is missing; one listing cannot tell since when",
            "ask whether the firmware was changed since all were seen; give `asfitted diagnose` a listing from before with `--earlier`, or say so with `--after firmware`",
        )
    })
}

/// The set that is missing changes between two listings although nobody says that anything was done (public cases: modules
/// that are read before their supply is stable, and coolers that bend the board).
pub(super) fn unsteady(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let earlier = input.history.earlier.as_ref().filter(|_| input.history.done.is_empty())?;
    let came: Vec<String> = input
        .plan
        .modules()
        .map(|(planned, _)| planned.slot.as_str())
        .filter(|slot| earlier.had(slot) == Some(false) && is_fitted(input.population, slot))
        .map(str::to_owned)
        .collect();
    (!came.is_empty()).then(|| {
        Cause::likely(
            CauseKind::Unsteady,
            "what is missing changes from start to start: poor contact, or modules that are read too early",
            format!(
                "{} missing in the earlier listing and there now, {} missing now; unless somebody moved modules in between",
                short_list(&came),
                short_list(&finding.slots)
            ),
            "start the machine twice more and list each time; if the set changes again, update the firmware first, then look at the contacts, the processor socket and the tension of its cooler",
        )
    })
}

fn is_fitted(population: &Population<'_>, slot: &str) -> bool {
    population.slot(slot).is_some_and(|(_, slot)| slot.fitted().is_some())
}

const REMEMBERED: &str = "the slot was switched off earlier and stays off";

fn enable(name: &str) -> String {
    format!("look for {name} in the firmware setup and enable it before a new module is blamed")
}

/// After a module was changed, its slot is enabled first (IBM, tip H195188; Lenovo, Flex System x240, Installing a DIMM;
/// Intel, SE8500HW4: the setting that retests all; Oracle, SPARC T1000 service manual: the list of components that are
/// off survives the repair).
pub(super) fn stays_off(name: &str, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    input.history.has(WorkDone::Module).then(|| {
        Cause::likely(
            CauseKind::Disabled,
            REMEMBERED,
            "a module was replaced or fitted, and firmware remembers which slots it has switched off",
            enable(name),
        )
    })
}

/// The same where nobody says that a module was changed.
pub(super) fn may_stay_off(name: &str) -> Cause {
    Cause::possible(
        CauseKind::Disabled,
        REMEMBERED,
        "firmware remembers a slot that it has switched off, whatever is fitted there since",
        enable(name),
    )
}
