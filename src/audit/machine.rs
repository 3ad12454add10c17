//! Findings about the machine as a whole: speed, total, error correction, damage.

use super::Context;
use super::finding::{Finding, FindingKind};
use super::matching::Matching;
use super::proof::Decision;
use crate::base::words::short_list;
use crate::case::marks;
use crate::plan::agreement::{Outcome, agrees};
use crate::plan::{DemandField, ModuleSpec};
use crate::population::{CheckBits, Module, Population, SlotState};
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
        .fitted()
        .filter_map(|(index, module)| Some((index, module.configured?)))
        .filter(|(_, rate)| rate.below(expected))
        .collect();
    let lowest = slow.iter().map(|(_, rate)| *rate).min()?;
    let all = slow.len() == context.case.population.totals.fitted;
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

/// How the total that the plan states is decided.
pub(super) fn total_decision(context: &Context<'_, '_>, matching: &Matching<'_>) -> Option<Decision> {
    let planned = context.case.plan.expect.total?;
    let population = &context.case.population;
    let counted = population.totals.detected_at_least;
    if surely(population) >= planned {
        return Some(Decision::Met);
    }
    // What the listing does not show may be the rest.
    let may_hold_more = context.case.listing.may_miss_records()
        || population.slots.is_empty()
        || population.slots.iter().any(|slot| slot.state == SlotState::Unknown)
        || matching.matches.iter().any(|m| m.at.is_none() && m.unseen);
    let open = population.totals.detected.is_none() || counted >= planned || may_hold_more;
    Some(if open { Decision::Open } else { Decision::Contradicted })
}

/// The least that the modules sum to, without those that may be another one's record printed twice.
fn surely(population: &Population<'_>) -> Bytes {
    let twice = |(slot, _): &(usize, usize)| population.slots[*slot].fitted().and_then(Module::bytes);
    let doubled: Bytes = population.doubled.iter().filter_map(twice).sum();
    Bytes(population.totals.detected_at_least.0.saturating_sub(doubled.0))
}

/// Whether planned modules that are absent or too small make up for what the total is below plan.
fn is_explained(context: &Context<'_, '_>, matching: &Matching<'_>, planned: Bytes) -> bool {
    let mut sum = context.case.population.totals.detected_at_least;
    for m in &matching.matches {
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
pub(super) fn short_total(context: &Context<'_, '_>, matching: &Matching<'_>) -> Option<Finding> {
    if total_decision(context, matching)? != Decision::Contradicted {
        return None;
    }
    let planned = context.case.plan.expect.total?;
    let detected = context.case.population.totals.detected?;
    if is_explained(context, matching, planned) {
        return None;
    }
    let mut finding = Finding::about(FindingKind::ShortTotal, Vec::new());
    finding.fields = vec![DemandField::Total];
    let short = Bytes(planned.0.saturating_sub(detected.0));
    (finding.expected, finding.found) = planned.apart(detected);
    finding.summary = format!("the modules sum to {}, {short} below plan", finding.found);
    finding.evidence =
        context.evidence(context.fitted().map(|(index, _)| context.device(index).size.place()));
    Some(finding)
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
    findings.extend(open_total(context, matching));
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
        context.fitted().filter(|(_, m)| m.configured.is_none()).map(|(index, _)| index).collect();
    if context.case.population.totals.fitted == 0 {
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
fn open_total(context: &Context<'_, '_>, matching: &Matching<'_>) -> Option<Finding> {
    let waived = &context.case.plan.waived;
    if waived.contains(&DemandField::Total) || total_decision(context, matching)? != Decision::Open {
        return None;
    }
    let planned = context.case.plan.expect.total?;
    let population = &context.case.population;
    let counted = population.totals.detected_at_least;
    let hidden = matching.matches.iter().any(|m| m.at.is_none() && m.unseen);
    if hidden && !waived.contains(&DemandField::Presence) {
        return None;
    }
    if counted < planned && population.totals.detected.is_some() && is_explained(context, matching, planned) {
        return None;
    }
    let unknown = |slot: &usize| population.slots[*slot].state == SlotState::Unknown;
    let inexact: Vec<usize> =
        context.fitted().filter(|(_, m)| m.bytes().is_none()).map(|(index, _)| index).collect();
    let (open, why): (Vec<usize>, String) = if counted >= planned {
        let open = population.doubled.iter().flat_map(|(slot, other)| [*other, *slot]).collect();
        (open, "records that say the same may be of one module; without handles nobody can tell".to_owned())
    } else if !inexact.is_empty() {
        let why = format!("the total cannot be summed: {} of inexact size", modules(inexact.len()));
        (inexact, why)
    } else if population.slots.is_empty() {
        (
            Vec::new(),
            "the listing has no record of a memory slot, so nothing is known of the total".to_owned(),
        )
    } else if context.case.listing.may_miss_records() {
        (Vec::new(), "the modules sum to less than planned, and the listing may have lost records".to_owned())
    } else {
        let open: Vec<usize> = (0..population.slots.len()).filter(unknown).collect();
        let why = "the modules sum to less than planned, and the listing does not say what all slots hold";
        (open, why.to_owned())
    };
    let mut finding = Finding::about(FindingKind::Unproven, open.iter().map(|i| context.name(*i)).collect());
    finding.fields = vec![DemandField::Total];
    finding.summary = why;
    finding.expected = planned.to_string();
    finding.found = format!("at least {}", surely(population));
    let damage =
        context.case.listing.notes.iter().filter(|note| open.is_empty() && note.kind.hides_records());
    let places = open.iter().map(|index| context.device(*index).size.place());
    finding.evidence = context.evidence(places.chain(damage.map(|note| note.place)));
    Some(finding)
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
