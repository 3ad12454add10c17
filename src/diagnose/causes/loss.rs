//! Causes of memory that is detected and not visible.

use std::collections::BTreeMap;

use super::{Cause, CauseKind, DiagnosisInput, Likelihood, before};
use crate::audit::{Detail, Finding};
use crate::population::{CheckBits, Population};
use crate::records::enums::{ErrorCorrection, FormFactor};
use crate::sources::{Meminfo, Sources, usual_reservation};
use crate::units::Bytes;

pub(super) fn short_total(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    match &finding.detail {
        Detail::Visible(seen) => visible(input, *seen),
        Detail::None | Detail::CutCapture | Detail::Reported { .. } => vec![Cause::likely(
            CauseKind::PlanSum,
            "the plan's total and its lines do not agree, or slots are not named in the plan",
            "every planned module is there with its planned size",
            "sum the plan's lines; name every slot that should be filled",
        )],
    }
}

/// Why so little of what is detected is visible, by all that is known: what the numbers prove, then what was changed, then
/// what the numbers fit.
pub(in crate::diagnose) fn visible(input: &DiagnosisInput<'_, '_>, seen: Bytes) -> Vec<Cause> {
    let mut result = visible_loss(input.population, seen, input.sources);
    let proven = |cause: &Cause| matches!(cause.kind, CauseKind::CommandLine | CauseKind::BadMemory);
    let mut at = result.iter().take_while(|cause| proven(cause)).count();
    if let Some(cause) = before::firmware_hides(input) {
        result.insert(at, cause);
        at += 1;
    }
    if is_soldered(input)
        && let Some(setting) = result.iter().position(|cause| cause.kind == CauseKind::Setting)
    {
        result[at..=setting].rotate_right(1);
    }
    result
}

/// Whether all modules are chips on the board: none of them is taken out of use by itself, and what is missing is a share
/// that a setting gives away (public cases: graphics).
fn is_soldered(input: &DiagnosisInput<'_, '_>) -> bool {
    let forms =
        input.population.fitted().map(|(slot, _)| input.listing.devices[slot.device].form_factor.get());
    let mut forms = forms.peekable();
    forms.peek().is_some() && forms.all(|form| form == Some(FormFactor::ROW_OF_CHIPS))
}

/// Why so little of what is detected is visible, the likeliest first.
pub fn visible_loss(population: &Population<'_>, visible: Bytes, sources: &Sources) -> Vec<Cause> {
    let totals = population.totals;
    let ram = totals.visible_least();
    let mut result: Vec<Cause> =
        [limited(ram, visible, sources), found_bad(sources), thirty_two_bit(ram, visible, sources)]
            .into_iter()
            .flatten()
            .collect();
    // Whether `visible` is what remains of `of` after the usual.
    let command_line = sources.command_line.as_ref();
    let is = |of: Bytes| visible <= of && of.0 - visible.0 <= usual_reservation(of, command_line).0;
    if may_keep_back(population) {
        result.extend(kept_back(population, ram, &is));
    }
    let unused = population
        .fitted()
        .filter_map(|(_, module)| module.bytes())
        .find(|size| size.0 > 0 && (1..=4).any(|count: u64| is(Bytes(ram.0.saturating_sub(size.0 * count)))));
    if let Some(size) = unused {
        let other = if result.is_empty() { Likelihood::Likely } else { Likelihood::Possible };
        result.push(Cause::new(
            CauseKind::ModuleUnused,
            other,
            "a module is detected and not used: it, its slot or its channel does not work, or the firmware does not start it",
            format!(
                "the shortfall is a whole number of modules of {size}; a module that can be read need not work"
            ),
            "read the event log and the firmware setup for disabled modules; then try each module alone in the first slot",
        ));
    }
    result.extend(share(ram, visible));
    result.push(Cause::possible(
        CauseKind::Setting,
        "a setting of the firmware keeps memory back: mirroring, sparing, windows for devices, graphics",
        "more is missing than the kernel usually takes",
        "look at the memory settings in the firmware setup; set them to their defaults",
    ));
    result
}

/// The kernel was started with a limit below what there is.
fn limited(ram: Bytes, visible: Bytes, sources: &Sources) -> Option<Cause> {
    let (parameter, limit) = sources.command_line.as_ref()?.limit()?;
    (limit < ram && visible <= limit).then(|| {
        Cause::likely(
            CauseKind::CommandLine,
            "the kernel was instructed to use less",
            format!("`{}` on its command line", parameter.text),
            "take the parameter out of the boot loader's configuration and boot again",
        )
    })
}

fn found_bad(sources: &Sources) -> Option<Cause> {
    let meminfo = sources.meminfo.as_ref().filter(|meminfo| meminfo.bad.0 > 0)?;
    Some(Cause::likely(
        CauseKind::BadMemory,
        "memory was found bad and taken out of use",
        format!("{} by the kernel's own count", meminfo.bad),
        "read the kernel's log and the event log for the module; replace it",
    ))
}

/// What a 32-bit system sees of 4 GiB and more: all below the windows for devices, which take 2 GiB of the address space at
/// most (common practice, no source), less what the kernel takes; or without upper memory 887 to 896 MiB, less the same (`LOWMEM available` in the kernel logs of
/// three public cases).
fn thirty_two_bit(ram: Bytes, visible: Bytes, sources: &Sources) -> Option<Cause> {
    if sources.meminfo.as_ref().is_some_and(Meminfo::is_wide) {
        return None;
    }
    let below_windows = visible >= Bytes::mib(1792) && visible <= Bytes::gib(4) && ram >= Bytes::gib(4);
    let lower_only = visible >= Bytes::mib(760) && visible <= Bytes::mib(896) && ram >= Bytes::gib(2);
    let what =
        if below_windows { "no more than 4 GiB are visible" } else { "no more than 896 MiB are visible" };
    (below_windows || lower_only).then(|| {
        Cause::likely(
            CauseKind::ThirtyTwoBit,
            "a 32-bit system, or one started without its upper memory",
            what,
            "look at the system's architecture: `uname -m`",
        )
    })
}

/// A system that has a share of the machine sees less than half of it, as a rule far less (public cases of hypervisors'
/// control domains).
fn share(ram: Bytes, visible: Bytes) -> Option<Cause> {
    (visible.0 < ram.0 / 2).then(|| {
        Cause::possible(
            CauseKind::Share,
            "the system has only its share of the machine: a guest, or the control domain of a hypervisor",
            "less than half of the modules is visible",
            "ask whether this system is the whole machine; compare with the total that the hypervisor states",
        )
    })
}

/// Whether the machine can hold anything twice or in reserve: modes for that are of memory with check bits (common
/// practice, no source).
fn may_keep_back(population: &Population<'_>) -> bool {
    let plain = population.fitted().all(|(_, module)| module.check_bits == CheckBits::None);
    !(plain && population.error_correction == Some(ErrorCorrection::NONE))
}

/// Memory modes that leave as much as `is` visible.
fn kept_back(population: &Population<'_>, ram: Bytes, is: &dyn Fn(Bytes) -> bool) -> Vec<Cause> {
    let mut result = Vec::new();
    if is(Bytes(ram.0 / 2)) {
        let mapped =
            population.totals.mapped.is_some_and(|mapped| mapped.0.abs_diff(ram.0 / 2) <= ram.0 / 50);
        let also = if mapped { ", and half is mapped" } else { "" };
        result.push(Cause::likely(
            CauseKind::Mirroring,
            "mirroring: every byte is held twice",
            format!("half of the detected memory is visible{also}"),
            "look at the memory mode in the firmware setup; write `mode: mirroring` into the plan if it is wanted",
        ));
    }
    if let Some(ranks) =
        spare_ranks(population).into_iter().find(|ranks| is(Bytes(ram.0 / ranks * (ranks - 1))))
    {
        result.push(Cause::likely(
            CauseKind::RankSparing,
            "rank sparing: one rank of each channel is kept in reserve",
            format!("{} of {ranks} parts of the detected memory are visible", ranks - 1),
            "look at the memory mode in the firmware setup; write `mode: rank sparing` into the plan if it is wanted",
        ));
    }
    result
}

/// How many ranks a channel may have, by the modules' ranks: sparing takes one of them. By channel where the
/// labels prove it, else by module.
fn spare_ranks(population: &Population<'_>) -> Vec<u64> {
    let mut channels: BTreeMap<(Option<u16>, String), u64> = BTreeMap::new();
    for (slot, module) in population.fitted() {
        let Some(ranks) = module.ranks else { return Vec::new() };
        let place = slot.location;
        let key = match place.channel {
            Some(channel) => (place.socket, channel.to_string()),
            None => (None, slot.name.to_string()),
        };
        *channels.entry(key).or_default() += u64::from(ranks);
    }
    let mut counts: Vec<u64> = channels.into_values().filter(|ranks| *ranks > 1).collect();
    counts.sort_unstable();
    counts.dedup();
    counts
}
