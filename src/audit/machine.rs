//! Findings about the machine as a whole: speed, total, error correction, damage.

use super::Context;
use super::finding::{Finding, FindingKind};
use super::matching::Matching;
use crate::base::words::short_list;
use crate::plan::agreement::{Outcome, agrees};
use crate::plan::{DemandField, ModuleSpec};
use crate::population::{CheckBits, Module};
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

/// `short-total`: only where the findings about places do not add up to the loss.
pub(super) fn short_total(context: &Context<'_, '_>, matching: &Matching<'_>) -> Option<Finding> {
    let planned = context.case.plan.planned_total()?;
    let detected = context.case.population.totals.detected?;
    if detected >= planned {
        return None;
    }
    let mut explained = Bytes(0);
    for m in &matching.matches {
        // Without a size in the plan, a lost module may explain any loss.
        let wanted = m.wanted.size;
        let found = m.at.map(|at| context.case.population.slots[at].fitted().and_then(Module::bytes));
        match (wanted, found) {
            (Some(wanted), None) => explained.0 += wanted.0,
            (Some(wanted), Some(Some(found))) => explained.0 += wanted.0.saturating_sub(found.0),
            (None, None) => return None,
            _ => {}
        }
    }
    if [detected, explained].into_iter().sum::<Bytes>() >= planned {
        return None;
    }
    let mut finding = Finding::about(FindingKind::ShortTotal, Vec::new());
    finding.fields = vec![DemandField::Total];
    let short = Bytes(planned.0 - detected.0);
    finding.summary = format!("the modules sum to {detected}, {short} below plan");
    finding.expected = planned.to_string();
    finding.found = detected.to_string();
    finding.evidence =
        context.evidence(context.fitted().map(|(index, _)| context.device(index).size.place()));
    Some(finding)
}

/// `ecc-off`: ECC modules planned or fitted, and the array states no correction.
pub(super) fn ecc_off(context: &Context<'_, '_>) -> Option<Finding> {
    let wanted = context.case.plan.expect.ecc;
    let population = &context.case.population;
    if wanted == Some(false) || population.error_correction != Some(ErrorCorrection::NONE) {
        return None;
    }
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
    let arrays = context.case.population.slots.iter().filter_map(|slot| slot.array);
    let array = arrays
        .map(|index| &context.case.listing.arrays[index])
        .find(|array| array.error_correction.get() == Some(ErrorCorrection::NONE));
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
    finding.evidence = context.evidence([array.and_then(|array| array.error_correction.place())]);
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
    findings.extend(open_total(context));
    findings.extend(open_ecc(context));
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

fn open_total(context: &Context<'_, '_>) -> Option<Finding> {
    let planned = context.case.plan.expect.total?;
    if context.case.population.totals.detected.is_some()
        || context.case.plan.waived.contains(&DemandField::Total)
    {
        return None;
    }
    let open: Vec<usize> =
        context.fitted().filter(|(_, m)| m.bytes().is_none()).map(|(index, _)| index).collect();
    let mut finding = Finding::about(FindingKind::Unproven, open.iter().map(|i| context.name(*i)).collect());
    finding.fields = vec![DemandField::Total];
    finding.summary = format!("the total cannot be summed: {} of inexact size", modules(open.len()));
    finding.expected = planned.to_string();
    finding.found = format!("at least {}", context.case.population.totals.detected_at_least);
    finding.evidence = context.evidence(open.iter().map(|index| context.device(*index).size.place()));
    Some(finding)
}

fn open_ecc(context: &Context<'_, '_>) -> Option<Finding> {
    let corrects =
        context.case.population.error_correction.is_some_and(|c| c.corrects() || c == ErrorCorrection::NONE);
    if context.case.plan.expect.ecc != Some(true)
        || corrects
        || context.case.plan.waived.contains(&DemandField::Ecc)
    {
        return None;
    }
    let mut finding = Finding::about(FindingKind::Unproven, Vec::new());
    finding.fields = vec![DemandField::Ecc];
    finding.summary = "the listing does not state whether the machine corrects errors".to_owned();
    finding.expected = "error correction on".to_owned();
    finding.found = "not stated".to_owned();
    finding.evidence =
        context.evidence(context.case.listing.arrays.iter().map(|array| array.error_correction.place()));
    Some(finding)
}
