//! Findings of other sources than the listing: memory that the operating system does not see, errors that were counted
//! or logged (`troubles.rs`), and sources that contradict each other. Which slot a source means, says `places.rs`.

mod places;
mod troubles;

use places::Places;
use troubles::Troubles;

pub(crate) use troubles::accused;

use super::Context;
use super::finding::{Detail, Finding, FindingKind};
use crate::board::{Fitting, Mode};
use crate::evidence::Evidence;
use crate::plan::{DemandField, NamedMode};
use crate::sources::{CommandLine, Edac, Meminfo, Redfish, Resource, Sources, State, usual_reservation};
use crate::units::Bytes;

/// The share by which two sums may differ before they contradict each other: drivers and firmware round and
/// leave out small regions (common practice, no source).
const SUM_SLACK_PERCENT: u64 = 7;

/// All findings of other sources. What they state about a slot that has a finding already is added to that
/// finding's evidence: one cause gives one finding.
pub(super) fn add(context: &Context<'_, '_>, findings: &mut Vec<Finding>) {
    // Taken apart in full, so that a source that is added does not compile before it is looked at here.
    let Sources { meminfo, command_line, edac, events, redfish, cut, not_read: _ } = context.case.sources;
    let (meminfo, edac, redfish) = (meminfo.as_ref(), edac.as_ref(), redfish.as_ref());
    let short = meminfo.and_then(|meminfo| short_visible(context, meminfo, command_line.as_ref()));
    let seen_short = short.is_some();
    findings.extend(short);
    findings.extend(contradicted_totals(context, meminfo, edac, seen_short));
    // A listing that leaves the size of a module open is compared with nothing.
    let compared = redfish.filter(|_| context.case.population.totals.detected.is_some());
    let places = Places::new(context);
    findings.extend(compared.into_iter().flat_map(|redfish| contradicted_slots(context, &places, redfish)));
    let mut troubles = Troubles::default();
    if let Some(edac) = edac {
        troubles.count(&places, edac);
    }
    if let Some(log) = events {
        troubles.log(&places, log);
    }
    if let Some(meminfo) = meminfo {
        troubles.take_out(meminfo);
    }
    if let Some(redfish) = redfish {
        troubles.state(&places, redfish);
    }
    let rest = troubles.findings(findings);
    findings.extend(rest);
    if *cut {
        let mut finding = Finding::about(FindingKind::Unproven, Vec::new());
        finding.summary = "the capture was cut off, or a section of it cannot be read".to_owned();
        finding.expected = "a whole capture".to_owned();
        finding.found = "what it would have said of visible memory and errors is not known".to_owned();
        finding.detail = Detail::CutCapture;
        findings.push(finding);
    }
}

/// The least and the most that should be visible of the modules that are detected: nothing of those that keep their
/// contents, and a mode may keep part in reserve. How much a spared rank holds is only known with a board; it is
/// never more than half.
fn expected_visible(context: &Context<'_, '_>) -> (Bytes, Bytes) {
    let totals = context.case.population.totals;
    let ram = totals.visible_least();
    let half = Bytes(ram.0 / 2);
    match context.case.plan.mode.as_ref().and_then(NamedMode::known) {
        // A mode that is not known keeps nothing back that could be counted on.
        None => (ram, ram),
        Some(Mode::Mirroring) => (half, half),
        Some(mode @ Mode::RankSparing) => {
            let board =
                context.case.board.map(|board| Fitting::of_population(board, &context.case.population));
            match board.and_then(|fitting| mode.visible(&fitting)) {
                Some(visible) => (visible, visible),
                None => (half, ram),
            }
        }
    }
}

/// `short-total`: the operating system sees less than the detected modules by more than is usual. What is not
/// detected at all has its own findings. `unproven` where a mode may explain it and cannot be counted.
fn short_visible(
    context: &Context<'_, '_>,
    meminfo: &Meminfo,
    command_line: Option<&CommandLine>,
) -> Option<Finding> {
    let (least, most) = expected_visible(context);
    let enough = |expected: Bytes| {
        [meminfo.total, usual_reservation(expected, command_line)].into_iter().sum::<Bytes>() >= expected
    };
    if enough(most) {
        return None;
    }
    let kind = if enough(least) { FindingKind::Unproven } else { FindingKind::ShortTotal };
    let expected = if kind == FindingKind::Unproven { most } else { least };
    let mut finding = Finding::about(kind, Vec::new());
    finding.fields = vec![DemandField::Total];
    finding.detail = Detail::Visible(meminfo.total);
    let lost = Bytes((expected.0 - meminfo.total.0) / Bytes::MIB * Bytes::MIB);
    finding.summary = if kind == FindingKind::Unproven {
        format!(
            "the operating system sees {lost} less than the modules hold; without a board nobody can say how much the planned mode keeps back"
        )
    } else {
        let usual = usual_reservation(expected, command_line).rounded();
        format!("the operating system sees {lost} less than the modules should leave; {usual} is usual")
    };
    finding.expected = format!("about {}", expected.rounded());
    finding.found = meminfo.total.rounded().to_string();
    finding.evidence = vec![meminfo.line.clone()];
    finding.evidence.extend(meminfo.bad_lines.iter().cloned());
    if let Some(line) = command_line {
        finding.evidence.extend(line.parameters.iter().map(|parameter| line.evidence(parameter)));
    }
    Some(finding)
}

/// The sum that a share of this size may be off by.
fn slack(size: Bytes) -> u64 {
    size.0 / 100 * SUM_SLACK_PERCENT
}

/// Sums that cannot both be true.
fn contradicted_totals(
    context: &Context<'_, '_>,
    meminfo: Option<&Meminfo>,
    edac: Option<&Edac>,
    seen_short: bool,
) -> Vec<Finding> {
    let mut result = Vec::new();
    let totals = context.case.population.totals;
    let Some(detected) = totals.detected else { return result };
    let ram = totals.visible_least();
    let (_, most) = expected_visible(context);
    // Other tiers may be visible as well.
    let others = totals.visible_most().0 - ram.0;
    let visible = |summary: String, expected: Bytes, meminfo: &Meminfo| {
        let finding = contradiction(summary, expected, meminfo.total, vec![meminfo.line.clone()]);
        Finding { detail: Detail::Visible(meminfo.total), ..finding }
    };
    if let Some(meminfo) = meminfo {
        let seen = meminfo.total.rounded();
        if most < ram && meminfo.total.0 > most.0.saturating_add(slack(most)).saturating_add(others) {
            let summary = format!("{seen} are visible, more than the planned mode leaves: it is not on");
            result.push(visible(summary, most, meminfo));
        }
        if meminfo.total.0 > detected.0.saturating_add(slack(detected)) {
            let summary = format!(
                "the operating system sees {seen}, the listing's modules sum to {detected}: records are missing, or the two are of different machines or times"
            );
            result.push(visible(summary, detected, meminfo));
        }
    }
    result.extend(edac.and_then(|edac| managed_total(edac, detected, ram, seen_short)));
    result
}

/// What the memory controllers manage, against the modules of the listing and those that are visible memory.
fn managed_total(edac: &Edac, detected: Bytes, ram: Bytes, seen_short: bool) -> Option<Finding> {
    let counted = edac.total()?;
    let more = counted.0 > detected.0.saturating_add(slack(detected));
    // Memory that is short anyway has its own finding.
    let less = counted.0.saturating_add(slack(ram)) < ram.0 && !seen_short;
    let why = if more {
        "records are missing, or the two are of different machines or times"
    } else if less {
        "a module may not be in use, or a controller has no driver"
    } else {
        return None;
    };
    Some(contradiction(
        format!("the kernel's driver manages {counted}, the listing's modules sum to {detected}: {why}"),
        detected,
        counted,
        edac.total_lines(),
    ))
}

/// Slots about which the listing and the management controller do not agree.
fn contradicted_slots(context: &Context<'_, '_>, places: &Places<'_, '_>, redfish: &Redfish) -> Vec<Finding> {
    redfish.modules.iter().filter_map(|resource| contradicted_slot(context, places, resource)).collect()
}

fn contradicted_slot(
    context: &Context<'_, '_>,
    places: &Places<'_, '_>,
    resource: &Resource,
) -> Option<Finding> {
    // A slot that is only likely the same contradicts nothing.
    let name = places.exactly(resource.label.as_deref()?)?;
    let module = context.case.population.slot(&name)?.1.fitted()?;
    let (what, theirs) = if resource.state == Some(State::Absent) {
        ("a module", "no module there".to_owned())
    } else {
        let (own, theirs) = module.bytes().zip(resource.size.filter(|size| size.0 > 0))?;
        if own == theirs {
            return None;
        }
        ("this size", theirs.to_string())
    };
    let mut finding = Finding::about(FindingKind::Contradiction, vec![name.clone()]);
    finding.summary = format!("{name}: the listing has {what}, the management controller says {theirs}");
    finding.expected = module.bytes().map_or_else(|| "a module".to_owned(), |size| size.to_string());
    finding.found = theirs;
    finding.evidence = vec![resource.line.clone()];
    Some(finding)
}

fn contradiction(summary: String, expected: Bytes, found: Bytes, evidence: Vec<Evidence>) -> Finding {
    let mut finding = Finding::about(FindingKind::Contradiction, Vec::new());
    finding.fields = vec![DemandField::Total];
    finding.summary = summary;
    (finding.expected, finding.found) = expected.apart(found.rounded());
    finding.evidence = evidence;
    finding
}
