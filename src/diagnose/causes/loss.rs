//! Causes of memory that is detected and not visible.

use std::collections::BTreeMap;

use super::{Cause, CauseKind, DiagnosisInput};
use crate::audit::{Detail, Finding};
use crate::population::Population;
use crate::sources::{Sources, usual_reservation};
use crate::units::Bytes;

pub(super) fn short_total(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    match &finding.detail {
        Detail::Visible(visible) => visible_loss(input.population, *visible, input.sources),
        Detail::None | Detail::CutCapture | Detail::Reported { .. } => vec![Cause::likely(
            CauseKind::PlanSum,
            "the plan's total and its lines do not agree, or slots are not named in the plan",
            "every planned module is there with its planned size",
            "sum the plan's lines; name every slot that should be filled",
        )],
    }
}

/// Why so little of what is detected is visible, the likeliest first.
pub fn visible_loss(population: &Population<'_>, visible: Bytes, sources: &Sources) -> Vec<Cause> {
    let totals = population.totals;
    let ram = totals.visible_least();
    let mut result: Vec<Cause> =
        [limited(ram, visible, sources), found_bad(sources), thirty_two_bit(ram, visible)]
            .into_iter()
            .flatten()
            .collect();
    // Whether `visible` is what remains of `of` after the usual.
    let command_line = sources.command_line.as_ref();
    let is = |of: Bytes| visible <= of && of.0 - visible.0 <= usual_reservation(of, command_line).0;
    result.extend(kept_back(population, ram, &is));
    let unused = population
        .fitted()
        .filter_map(|(_, module)| module.bytes())
        .find(|size| size.0 > 0 && (1..=4).any(|count: u64| is(Bytes(ram.0.saturating_sub(size.0 * count)))));
    if let Some(size) = unused.filter(|_| result.is_empty()) {
        result.push(Cause::likely(
            CauseKind::ModuleUnused,
            "a module is detected and not used",
            format!("the shortfall is a whole number of modules of {size}"),
            "read the event log and the firmware setup for disabled modules; reseat them one after the other",
        ));
    }
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

fn thirty_two_bit(ram: Bytes, visible: Bytes) -> Option<Cause> {
    (visible <= Bytes::gib(4) && ram > Bytes::gib(4)).then(|| {
        Cause::likely(
            CauseKind::ThirtyTwoBit,
            "a 32-bit system, or one started without its upper memory",
            "no more than 4 GiB are visible",
            "look at the system's architecture: `uname -m`",
        )
    })
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
