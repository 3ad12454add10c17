//! Findings about the machine as a whole: speed, total, error correction, damage.

use super::Context;
use super::finding::{Finding, FindingKind};
use super::matching::{Match, Matching};
use super::proof::Decision;
use crate::base::words::short_list;
use crate::case::marks;
use crate::evidence::Place;
use crate::plan::agreement::{Outcome, agrees};
use crate::plan::{DemandField, ModuleSpec};
use crate::population::{CheckBits, Module, ModuleKind, Population, SlotState, Tier};
use crate::records::MemoryArray;
use crate::records::enums::ErrorCorrection;
use crate::units::{Bytes, TransferRate};

/// `clocked-down` by the plan.
pub(super) fn clocked_down(context: &Context<'_, '_>) -> Option<Finding> {
    below(context, context.case.plan.expect.speed?, "the plan expects")
}

/// `clocked-down`: one finding for all slots that run below `expected`, since the whole memory of a machine
/// runs at one speed.
pub(super) fn below(context: &Context<'_, '_>, expected: TransferRate, who: &str) -> Option<Finding> {
    let slow: Vec<(usize, TransferRate)> = context
        .dimms()
        .filter_map(|(index, module)| Some((index, module.configured?)))
        .filter(|(_, rate)| rate.below(expected))
        .collect();
    let lowest = slow.iter().map(|(_, rate)| *rate).min()?;
    let all = slow.len() == context.case.population.totals.dimms().fitted;
    let names = slow.iter().map(|(index, _)| context.name(*index)).collect();
    let mut finding = Finding::about(FindingKind::ClockedDown, names);
    finding.fields = vec![DemandField::Speed];
    let which = match (all, slow.len()) {
        (true, count) if count > 1 => format!("all {count} modules run"),
        (_, 1) => format!("{} runs", short_list(&finding.slots)),
        _ => format!("{} run", short_list(&finding.slots)),
    };
    finding.summary = format!("{which} at {lowest}, {who} {expected}");
    finding.expected = expected.to_string();
    finding.found = lowest.to_string();
    let first = slow.iter().find(|(_, rate)| *rate == lowest).map(|(index, _)| context.device(*index));
    finding.evidence = context.evidence([
        first.and_then(|device| device.locator.place()),
        first.and_then(|device| device.speed.place()),
        first.and_then(|device| device.configured_speed.place()),
    ]);
    Some(finding)
}

/// The tiers of which the plan states a total, with what it demands of each.
pub(super) fn stated_totals(context: &Context<'_, '_>) -> impl Iterator<Item = (Tier, Bytes)> {
    let expect = &context.case.plan.expect;
    let stated = [
        (Tier::Main, expect.total),
        (Tier::Hbm, expect.hbm),
        (Tier::Cxl, expect.cxl),
        (Tier::Persistent, expect.persistent),
    ];
    let demanded = |(tier, stated): (Tier, Option<Bytes>)| {
        stated?;
        Some((tier, context.case.planned_of(tier)?))
    };
    stated.into_iter().filter_map(demanded)
}

/// How a total that the plan states is decided.
pub(super) fn total_decision(
    context: &Context<'_, '_>,
    matching: &Matching<'_>,
    (tier, planned): (Tier, Bytes),
) -> Decision {
    let population = &context.case.population;
    if surely(population, tier) >= planned {
        return Decision::Met;
    }
    // What the listing does not show may be the rest.
    let may_hold_more = context.case.listing.may_miss_records()
        || population.slots.is_empty()
        || population.slots.iter().any(|slot| slot.state == SlotState::Unknown)
        || matching.matches.iter().any(|m| m.at.is_none() && m.unseen);
    let counted = population.totals.size_of(tier);
    let open = !is_exact(population, tier) || counted >= planned || may_hold_more;
    if open || with_cache(population, tier) == planned { Decision::Open } else { Decision::Contradicted }
}

fn is_exact(population: &Population<'_>, tier: Tier) -> bool {
    let totals = population.totals;
    totals.detected.is_some() || (tier == Tier::Main && totals.main_is_exact)
}

/// A tier with what someone may have counted with it: that DRAM is a cache in front of persistent modules is common, and
/// no record states it. Only the very sum of both shows that this was meant; a loss must not hide behind the cache.
fn with_cache(population: &Population<'_>, tier: Tier) -> Bytes {
    let totals = population.totals;
    let cache = if tier == Tier::Main { totals.cache() } else { Bytes(0) };
    [totals.size_of(tier), cache].into_iter().sum()
}

/// The least that the modules sum to, without those that may be another one's record printed twice.
fn surely(population: &Population<'_>, tier: Tier) -> Bytes {
    let twice = |(slot, _): &(usize, usize)| {
        let slot = &population.slots[*slot];
        slot.fitted().map(|module| population.part_of(slot, module, tier))
    };
    let doubled: Bytes = population.doubled.iter().filter_map(twice).sum();
    Bytes(population.totals.size_of(tier).0.saturating_sub(doubled.0))
}

/// Whether planned modules that are absent or too small make up for what the total is below plan.
fn is_explained(context: &Context<'_, '_>, matching: &Matching<'_>, (tier, planned): (Tier, Bytes)) -> bool {
    let mut sum = context.case.population.totals.size_of(tier);
    // A persistent module that is lost may have been set up for either.
    let may_be = |wanted: &ModuleSpec| {
        wanted.kind == Some(ModuleKind::Nvdimm) && matches!(tier, Tier::Main | Tier::Persistent)
    };
    let counts = |m: &&Match<'_>| context.case.tier_of(m.planned, m.wanted) == tier || may_be(m.wanted);
    for m in matching.matches.iter().filter(counts) {
        // Without a size in the plan, a lost module may explain any loss.
        let wanted = m.wanted.size;
        let found = m.at.map(|at| context.case.population.slots[at].fitted().and_then(Module::bytes));
        match (wanted, found) {
            (Some(wanted), None) => sum.0 = sum.0.saturating_add(wanted.0),
            (Some(wanted), Some(Some(found))) => {
                sum.0 = sum.0.saturating_add(wanted.0.saturating_sub(found.0));
            }
            (None, None) => return true,
            _ => {}
        }
    }
    sum >= planned
}

/// `short-total`: only where the findings about places do not add up to the loss.
pub(super) fn short_totals(context: &Context<'_, '_>, matching: &Matching<'_>) -> Vec<Finding> {
    let short = |total: &(Tier, Bytes)| {
        total_decision(context, matching, *total) == Decision::Contradicted
            && !is_explained(context, matching, *total)
    };
    stated_totals(context).filter(short).map(|total| short_total(context, total)).collect()
}

fn short_total(context: &Context<'_, '_>, (tier, planned): (Tier, Bytes)) -> Finding {
    let detected = context.case.population.totals.size_of(tier);
    let mut finding = Finding::about(FindingKind::ShortTotal, Vec::new());
    finding.fields = vec![DemandField::Total];
    let short = Bytes(planned.0.saturating_sub(detected.0));
    let what = match tier {
        Tier::Main => "the modules sum".to_owned(),
        tier => format!("{} modules sum", tier.title()),
    };
    (finding.expected, finding.found) = planned.apart(detected);
    finding.summary = format!("{what} to {}, {short} below plan", finding.found);
    let totals = context.case.population.totals;
    if tier == Tier::Main && totals.detected_at_least > detected {
        let others = Tier::ALL.iter().filter(|tier| **tier != Tier::Main && totals.size_of(**tier).0 > 0);
        let others: Vec<String> =
            others.map(|tier| format!("{} {}", totals.size_of(*tier), tier.title())).collect();
        if !others.is_empty() {
            finding.summary.push_str(&format!("; {} beside it is no main memory", others.join(" and ")));
        }
    }
    finding.evidence = context.evidence(sizes(context, tier));
    finding
}

/// The lines that state the sizes of what a tier is made of.
pub(super) fn sizes(context: &Context<'_, '_>, tier: Tier) -> Vec<Option<Place>> {
    let population = &context.case.population;
    let parts = context.fitted().filter(|(index, module)| {
        let slot = &population.slots[*index];
        module.bytes().is_none() && slot.tier == tier || population.part_of(slot, module, tier).0 > 0
    });
    parts
        .map(|(index, module)| {
            let device = context.device(index);
            let volatile = device.volatile_size.place().filter(|_| tier == Tier::Main && module.persistent);
            volatile.or(device.size.place())
        })
        .collect()
}

/// `ecc-off`: ECC modules planned or fitted, and the array states no correction.
pub(super) fn ecc_off(context: &Context<'_, '_>) -> Option<Finding> {
    let wanted = context.case.plan.expect.ecc;
    let population = &context.case.population;
    let array = population.uncorrected(context.case.listing).filter(|_| wanted != Some(false))?;
    let planned =
        wanted == Some(true) || context.case.plan.modules().any(|(_, w)| w.wants_ecc() == Some(true));
    let fitted: Vec<String> = context
        .fitted()
        .filter(|(_, module)| module.check_bits == CheckBits::Present)
        .map(|(index, _)| context.name(index))
        .collect();
    if !planned && fitted.is_empty() {
        return None;
    }
    let mut finding = Finding::about(FindingKind::EccOff, fitted);
    finding.fields = vec![DemandField::Ecc];
    finding.summary = if finding.slots.is_empty() {
        "error correction is planned and the machine states none"
    } else {
        "the modules have check bits and the machine states no error correction"
    }
    .to_owned();
    finding.expected = "error correction on".to_owned();
    finding.found = "the array states no error correction".to_owned();
    finding.evidence = context.evidence([array.error_correction.place()]);
    Some(finding)
}

/// `listing-damaged`: one warning for all damage.
pub(super) fn damaged(context: &Context<'_, '_>) -> Option<Finding> {
    let notes: Vec<_> = context.case.listing.notes.iter().filter(|note| note.kind.hides_records()).collect();
    let first = notes.first()?;
    let mut finding = Finding::about(FindingKind::ListingDamaged, Vec::new());
    finding.summary = first.kind.explanation().to_owned();
    finding.expected = "a complete listing".to_owned();
    finding.found = notes.iter().map(|note| note.kind.explanation()).collect::<Vec<_>>().join("; ");
    finding.evidence = context.evidence(notes.iter().map(|note| note.place));
    Some(finding)
}

/// `unproven`: one finding for each field that the plan demands and the listing leaves open.
pub(super) fn unproven(context: &Context<'_, '_>, matching: &Matching<'_>) -> Vec<Finding> {
    let mut open: Vec<(DemandField, Vec<(usize, &ModuleSpec)>)> = Vec::new();
    for m in &matching.matches {
        // A module that differs anyway is named for that; what else it leaves open is no matter.
        let Some(at) = m.at.filter(|_| agrees(&m.differences)) else { continue };
        for (field, outcome) in &m.differences {
            if *outcome == Outcome::Unproven && !context.case.plan.waived.contains(field) {
                match open.iter_mut().find(|(other, _)| other == field) {
                    Some((_, slots)) => slots.push((at, m.wanted)),
                    None => open.push((*field, vec![(at, m.wanted)])),
                }
            }
        }
    }
    let mut findings: Vec<Finding> =
        open.into_iter().map(|(field, slots)| open_field(context, field, &slots)).collect();
    findings.extend(open_speed(context));
    findings.extend(open_totals(context, matching));
    findings.extend(open_ecc(context));
    findings.extend(open_machine(context));
    findings
}

fn open_field(context: &Context<'_, '_>, field: DemandField, slots: &[(usize, &ModuleSpec)]) -> Finding {
    let mut finding =
        Finding::about(FindingKind::Unproven, slots.iter().map(|(at, _)| context.name(*at)).collect());
    finding.fields = vec![field];
    finding.summary = format!(
        "{}: the listing does not prove the {} of {}",
        short_list(&finding.slots),
        what(field),
        modules(slots.len())
    );
    let mut wanted: Vec<String> =
        slots.iter().map(|(_, wanted)| crate::plan::agreement::wanted_text(wanted, field)).collect();
    wanted.sort_unstable();
    wanted.dedup();
    finding.expected = wanted.join(" or ");
    let first = slots.first().map(|(at, _)| *at);
    finding.found = match first.and_then(|at| context.case.population.slots[at].module()) {
        Some(module) => crate::plan::agreement::found_text(module, field),
        None => "not stated".to_owned(),
    };
    finding.evidence =
        context.evidence([first.and_then(|at| crate::plan::agreement::place_of(context.device(at), field))]);
    finding
}

fn what(field: DemandField) -> &'static str {
    match field {
        DemandField::Width => "chip width",
        DemandField::Type => "generation",
        DemandField::Rated => "rated speed",
        DemandField::Speed => "configured speed",
        DemandField::Part => "part number",
        DemandField::Serial => "serial number",
        DemandField::Ecc => "check bits",
        DemandField::Machine => "identity",
        other => other.word(),
    }
}

fn modules(count: usize) -> String {
    if count == 1 { "1 module".to_owned() } else { format!("{count} modules") }
}

fn open_speed(context: &Context<'_, '_>) -> Option<Finding> {
    let expected = context.case.plan.expect.speed?;
    if context.case.plan.waived.contains(&DemandField::Speed) {
        return None;
    }
    let open: Vec<usize> =
        context.dimms().filter(|(_, m)| m.configured.is_none()).map(|(index, _)| index).collect();
    if context.case.population.totals.dimms().fitted == 0 {
        return Some(no_module_to_run(expected));
    }
    let first = *open.first()?;
    let mut finding = Finding::about(FindingKind::Unproven, open.iter().map(|i| context.name(*i)).collect());
    finding.fields = vec![DemandField::Speed];
    let place = context.device(first).configured_speed.place();
    let run = if open.len() == 1 { "runs" } else { "run" };
    finding.summary = format!("the listing does not state the speed at which {} {run}", modules(open.len()));
    finding.expected = expected.to_string();
    finding.found = match place {
        Some(_) => "no usable configured speed",
        None => "no configured speed (SMBIOS before 2.7, or an old dmidecode)",
    }
    .to_owned();
    finding.evidence = context.evidence([place.or(context.device(first).locator.place())]);
    Some(finding)
}

/// A speed is expected and no module is there to run at it.
fn no_module_to_run(expected: TransferRate) -> Finding {
    let mut finding = Finding::about(FindingKind::Unproven, Vec::new());
    finding.fields = vec![DemandField::Speed];
    finding.summary = "a speed is expected, and the listing shows no module".to_owned();
    finding.expected = expected.to_string();
    finding.found = "no module".to_owned();
    finding
}

/// A total that the listing neither shows nor denies. Planned slots of which it says nothing have findings of their
/// own, which explain it.
fn open_totals(context: &Context<'_, '_>, matching: &Matching<'_>) -> Vec<Finding> {
    if context.case.plan.waived.contains(&DemandField::Total) {
        return Vec::new();
    }
    stated_totals(context).filter_map(|total| open_total(context, matching, total)).collect()
}

fn open_total(context: &Context<'_, '_>, matching: &Matching<'_>, total: (Tier, Bytes)) -> Option<Finding> {
    let waived = &context.case.plan.waived;
    if total_decision(context, matching, total) != Decision::Open {
        return None;
    }
    let (tier, planned) = total;
    let population = &context.case.population;
    let counted = population.totals.size_of(tier);
    let hidden = matching.matches.iter().any(|m| m.at.is_none() && m.unseen);
    if hidden && !waived.contains(&DemandField::Presence) {
        return None;
    }
    let exact = is_exact(population, tier);
    if counted < planned && exact && is_explained(context, matching, total) {
        return None;
    }
    let (open, why) = why_open(context, total);
    let mut finding = Finding::about(FindingKind::Unproven, open.iter().map(|i| context.name(*i)).collect());
    finding.fields = vec![DemandField::Total];
    finding.summary = why;
    finding.expected = planned.to_string();
    finding.found = format!("at least {}", surely(population, tier));
    let damage =
        context.case.listing.notes.iter().filter(|note| open.is_empty() && note.kind.hides_records());
    let places = open.iter().map(|index| context.device(*index).size.place());
    finding.evidence = context.evidence(places.chain(damage.map(|note| note.place)));
    Some(finding)
}

/// The slots that leave a total open, and why.
fn why_open(context: &Context<'_, '_>, (tier, planned): (Tier, Bytes)) -> (Vec<usize>, String) {
    let population = &context.case.population;
    let inexact: Vec<usize> =
        context.fitted().filter(|(_, m)| m.bytes().is_none()).map(|(index, _)| index).collect();
    if population.totals.size_of(tier) >= planned {
        let open = population.doubled.iter().flat_map(|(slot, other)| [*other, *slot]).collect();
        return (
            open,
            "records that say the same may be of one module; without handles nobody can tell".to_owned(),
        );
    }
    if !inexact.is_empty() {
        let why = format!("the total cannot be summed: {} of inexact size", modules(inexact.len()));
        return (inexact, why);
    }
    if population.slots.is_empty() {
        let why = "the listing has no record of a memory slot, so nothing is known of the total";
        return (Vec::new(), why.to_owned());
    }
    if with_cache(population, tier) == planned {
        let other = |index: &usize| {
            let slot = &population.slots[*index];
            let given = |module| population.part_of(slot, module, tier);
            slot.takes_dimms() && slot.fitted().is_some_and(|module| given(module).0 == 0)
        };
        let open = (0..population.slots.len()).filter(other).collect();
        let why = "the planned total is main memory and the DRAM in front of the persistent modules together, which as their cache is no main memory";
        return (open, why.to_owned());
    }
    if context.case.listing.may_miss_records() {
        let why = "the modules sum to less than planned, and the listing may have lost records";
        return (Vec::new(), why.to_owned());
    }
    let unknown = |slot: &usize| population.slots[*slot].state == SlotState::Unknown;
    let open: Vec<usize> = (0..population.slots.len()).filter(unknown).collect();
    let why = "the modules sum to less than planned, and the listing does not say what all slots hold";
    (open, why.to_owned())
}

/// How error correction is decided, where the plan demands it: as stated, or since it plans modules with check bits.
pub(super) fn ecc_decision(context: &Context<'_, '_>) -> Option<Decision> {
    let plan = &context.case.plan;
    let planned = || plan.modules().any(|(_, wanted)| wanted.wants_ecc() == Some(true));
    plan.expect.ecc.unwrap_or_else(planned).then(|| {
        match context.case.population.correction(context.case.listing) {
            Some(true) => Decision::Met,
            Some(false) => Decision::Contradicted,
            None => Decision::Open,
        }
    })
}

fn open_ecc(context: &Context<'_, '_>) -> Option<Finding> {
    if context.case.plan.waived.contains(&DemandField::Ecc) || ecc_decision(context)? != Decision::Open {
        return None;
    }
    let arrays = &context.case.listing.arrays;
    let states = |array: &&MemoryArray| array.error_correction.get().is_some_and(ErrorCorrection::corrects);
    let some = arrays.iter().any(|array| states(&array));
    let mut finding = Finding::about(FindingKind::Unproven, Vec::new());
    finding.fields = vec![DemandField::Ecc];
    finding.summary = if some {
        "the listing states error correction for a part of the memory only"
    } else {
        "the listing does not state whether the machine corrects errors"
    }
    .to_owned();
    finding.expected = "error correction on".to_owned();
    finding.found = "not stated".to_owned();
    finding.evidence = context.evidence(arrays.iter().map(|array| array.error_correction.place()));
    Some(finding)
}

/// Marks of the machine that the plan names and the listing does not state.
fn open_machine(context: &Context<'_, '_>) -> Option<Finding> {
    if context.case.plan.waived.contains(&DemandField::Machine) {
        return None;
    }
    let marks = marks(context.case.listing, &context.case.plan);
    let open: Vec<_> = marks.iter().filter(|mark| mark.agreeing().is_none()).collect();
    let first = open.first()?;
    let mut finding = Finding::about(FindingKind::Unproven, Vec::new());
    finding.fields = vec![DemandField::Machine];
    let keys: Vec<&str> = open.iter().map(|mark| mark_name(mark.key)).collect();
    finding.summary = format!("the listing does not state the {} of the machine", keys.join(" and the "));
    finding.expected = open.iter().map(|mark| mark.wanted).collect::<Vec<_>>().join(", ");
    finding.found = "not stated".to_owned();
    finding.evidence = context.evidence(first.lines.iter().map(|place| Some(*place)));
    Some(finding)
}

fn mark_name(key: &str) -> &str {
    match key {
        "serial" => "serial number",
        "asset_tag" => "asset tag",
        other => other,
    }
}
