//! Findings of other sources than the listing: memory that the operating system does not see, errors that were counted
//! or logged, and sources that contradict each other.

use std::collections::BTreeMap;

use super::Context;
use super::finding::{Detail, Finding, FindingKind, Severity};
use crate::base::words::short_list;
use crate::board::{Fitting, Mode};
use crate::evidence::Evidence;
use crate::plan::{DemandField, NamedMode};
use crate::population::{Population, Slot, identity};
use crate::sources::{
    CommandLine, Edac, EventKind, EventLog, Meminfo, MemoryEvent, Redfish, Resource, Sources, State, Weight,
    usual_reservation,
};
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
    findings.extend(compared.into_iter().flat_map(|redfish| contradicted_slots(context, redfish)));
    let mut troubles = Troubles::default();
    if let Some(edac) = edac {
        troubles.count(context, edac);
    }
    if let Some(log) = events {
        troubles.log(context, log);
    }
    if let Some(meminfo) = meminfo {
        troubles.take_out(meminfo);
    }
    if let Some(redfish) = redfish {
        troubles.state(context, redfish);
    }
    let rest = troubles.not_added_to(findings);
    findings.extend(rest.into_iter().filter_map(errors));
    findings.extend(events.as_ref().and_then(unread_events));
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
fn contradicted_slots(context: &Context<'_, '_>, redfish: &Redfish) -> Vec<Finding> {
    redfish.modules.iter().filter_map(|resource| contradicted_slot(context, resource)).collect()
}

fn contradicted_slot(context: &Context<'_, '_>, resource: &Resource) -> Option<Finding> {
    let name = slot_labelled(context, resource.label.as_deref()?)?;
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
    finding.expected = expected.to_string();
    finding.found = found.rounded().to_string();
    finding.evidence = evidence;
    finding
}

/// Evidence against one module, or against memory that no source ties to a slot.
#[derive(Debug, Default)]
struct Trouble {
    slot: Option<String>,
    corrected: u64,
    uncorrected: u64,
    events: Vec<EventKind>,
    state: Option<State>,
    unwell: bool,
    /// A counter holds no number.
    unreadable: bool,
    bad: Bytes,
    lines: Vec<Evidence>,
}

/// All of it: one for each slot, in the order in which they come up.
#[derive(Debug, Default)]
struct Troubles(Vec<Trouble>);

impl Troubles {
    fn of(&mut self, slot: Option<String>) -> &mut Trouble {
        let at = self.0.iter().position(|trouble| trouble.slot == slot).unwrap_or_else(|| {
            self.0.push(Trouble { slot, ..Trouble::default() });
            self.0.len() - 1
        });
        &mut self.0[at]
    }

    /// Adds what is known of a slot to the finding that it has already; the rest is left.
    fn not_added_to(self, findings: &mut [Finding]) -> Vec<Trouble> {
        let mut rest = Vec::new();
        for trouble in self.0 {
            let about = |f: &&mut Finding| {
                let absent =
                    matches!(f.kind, FindingKind::Missing | FindingKind::NotRunning | FindingKind::NoCpu);
                absent && trouble.slot.as_ref().is_some_and(|slot| f.slots.contains(slot))
            };
            match findings.iter_mut().find(about) {
                Some(finding) => {
                    finding.evidence.extend(trouble.lines);
                    finding.report(trouble.events, trouble.state, trouble.corrected);
                }
                None => rest.push(trouble),
            }
        }
        rest
    }

    /// What the kernel has counted.
    fn count(&mut self, context: &Context<'_, '_>, edac: &Edac) {
        for module in edac.modules.iter().filter(|m| m.corrected > 0 || m.uncorrected > 0 || m.unreadable) {
            let slot = module.label.as_deref().and_then(|label| slot_labelled(context, label));
            let trouble = self.of(slot);
            trouble.corrected = trouble.corrected.saturating_add(module.corrected);
            trouble.uncorrected = trouble.uncorrected.saturating_add(module.uncorrected);
            trouble.unreadable |= module.unreadable;
            trouble.lines.extend(module.lines.iter().cloned());
        }
        for controller in &edac.controllers {
            // The controller's counters hold those of its modules too.
            let own = edac.modules.iter().filter(|m| m.controller == controller.id);
            let (corrected, uncorrected) = own.fold((0u64, 0u64), |sum, m| {
                (sum.0.saturating_add(m.corrected), sum.1.saturating_add(m.uncorrected))
            });
            let rest = (
                controller.corrected.saturating_sub(corrected),
                controller.uncorrected.saturating_sub(uncorrected),
            );
            if rest != (0, 0) || controller.unreadable {
                let trouble = self.of(None);
                trouble.unreadable |= controller.unreadable;
                trouble.corrected = trouble.corrected.saturating_add(rest.0);
                trouble.uncorrected = trouble.uncorrected.saturating_add(rest.1);
                let counts = controller.lines.iter().filter(|line| line.text.contains("e_count"));
                trouble.lines.extend(counts.cloned());
            }
        }
    }

    /// What the event log has.
    fn log(&mut self, context: &Context<'_, '_>, log: &EventLog) {
        for (event, slot) in open_events(&context.case.population, &log.events) {
            let trouble = self.of(slot);
            if !trouble.events.contains(&event.kind) {
                trouble.events.push(event.kind);
            }
            trouble.lines.push(event.line.clone());
        }
    }

    /// What the kernel has found bad and taken out of use.
    fn take_out(&mut self, meminfo: &Meminfo) {
        if meminfo.bad.0 > 0 {
            let trouble = self.of(None);
            trouble.bad = meminfo.bad;
            trouble.lines.extend(meminfo.bad_lines.iter().cloned());
        }
    }

    /// What the management controller states.
    fn state(&mut self, context: &Context<'_, '_>, redfish: &Redfish) {
        for resource in &redfish.modules {
            let slot = resource.label.as_deref().and_then(|label| slot_labelled(context, label));
            // A healthy resource that belongs to no slot is no evidence.
            if slot.is_none() && !resource.unwell && !resource.state.is_some_and(State::is_out_of_use) {
                continue;
            }
            let trouble = self.of(slot);
            trouble.state = trouble.state.max(resource.state);
            trouble.unwell |= resource.unwell;
            trouble.lines.push(resource.line.clone());
        }
    }
}

/// Rows of the log about memory that are not understood: nobody knows that they are harmless.
fn unread_events(log: &EventLog) -> Option<Finding> {
    let count = log.unread.len();
    if count == 0 {
        return None;
    }
    let mut finding = Finding::about(FindingKind::MemoryErrors, Vec::new());
    finding.severity = Severity::Unproven;
    let rows = if count == 1 { "1 event".to_owned() } else { format!("{count} events") };
    finding.summary = format!("the event log has {rows} about memory that cannot be read here");
    finding.expected = "no errors".to_owned();
    finding.found = format!("{rows} about memory, not understood");
    finding.evidence = log.unread.clone();
    Some(finding)
}

/// Events that came and did not go again, with the slot that each is tied to. An event takes back earlier ones of
/// its own place only.
fn open_events<'e>(
    population: &Population<'_>,
    events: &'e [MemoryEvent],
) -> Vec<(&'e MemoryEvent, Option<String>)> {
    type EventTarget = (EventKind, Option<u8>, Option<u8>, Option<String>);
    let mut open: BTreeMap<EventTarget, Vec<(usize, &MemoryEvent)>> = BTreeMap::new();
    for (number, event) in events.iter().enumerate() {
        let slot = slot_in_text(population, event);
        let place = (event.kind, event.sensor, event.module, slot);
        // An error that is taken back has happened all the same, even where the log has lost its beginning.
        if event.asserted || event.kind.has_happened() {
            open.entry(place).or_default().push((number, event));
        } else {
            open.remove(&place);
        }
    }
    let mut all: Vec<_> = open
        .into_iter()
        .flat_map(|((.., slot), events)| {
            events.into_iter().map(move |(number, event)| (number, event, slot.clone()))
        })
        .collect();
    all.sort_by_key(|(number, ..)| *number);
    all.into_iter().map(|(_, event, slot)| (event, slot)).collect()
}

/// The one slot that is labelled so: by its name, or by both labels of its record.
fn slot_labelled(context: &Context<'_, '_>, label: &str) -> Option<String> {
    let label = identity::collapse(label);
    let same = |slot: &&Slot<'_>| {
        let device = &context.case.listing.devices[slot.device];
        let locator = identity::collapse(device.locator.get().unwrap_or_default());
        let bank = identity::collapse(device.bank_locator.get().unwrap_or_default());
        slot.name == label || (!locator.is_empty() && label == format!("{bank} {locator}"))
    };
    let mut slots = context.case.population.slots.iter().filter(same);
    match (slots.next(), slots.next()) {
        (Some(slot), None) => Some(slot.name.to_string()),
        _ => None,
    }
}

/// The one slot whose name is a word of an event's line. A name must have a letter and a digit to be distinguished from
/// other words; the bytes of a record are no words.
fn slot_in_text(population: &Population<'_>, event: &MemoryEvent) -> Option<String> {
    if event.is_record {
        return None;
    }
    let text = event.line.text.as_str();
    let inside = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-'));
    let place = |name: &str| {
        text.match_indices(name).map(|(at, _)| at).find(|at| {
            !inside(text[..*at].chars().next_back()) && !inside(text[at + name.len()..].chars().next())
        })
    };
    let telling = |name: &&str| {
        name.bytes().any(|b| b.is_ascii_alphabetic()) && name.bytes().any(|b| b.is_ascii_digit())
    };
    let names = population.slots.iter().map(|slot| slot.name.as_ref()).filter(telling);
    let mut there: Vec<(std::ops::Range<usize>, &str)> =
        names.filter_map(|name| place(name).map(|at| (at..at + name.len(), name))).collect();
    there.sort_by_key(|(range, _)| std::cmp::Reverse(range.len()));
    // `A1` is a word of `A1 B` as well; names that lie inside the longest one are not meant.
    let (longest, name) = there.first()?.clone();
    let within = |range: &std::ops::Range<usize>| range.start >= longest.start && range.end <= longest.end;
    there.iter().all(|(range, _)| within(range)).then(|| name.to_owned())
}

/// `memory-errors`. Errors that were counted since the last boot without being corrected are a fault; a log
/// may be from before the module was fitted, so what it states is left open.
fn errors(mut trouble: Trouble) -> Option<Finding> {
    trouble.events.retain(|event| event.info().weight > Weight::None);
    trouble.events.sort_by_key(|event| std::cmp::Reverse(event.info().weight));
    let parts = in_words(&trouble);
    if parts.is_empty() {
        return None;
    }
    let severity = weigh(&trouble);
    let mut finding = Finding::about(FindingKind::MemoryErrors, trouble.slot.into_iter().collect());
    finding.severity = severity;
    let place = if finding.slots.is_empty() {
        "memory that no source of evidence ties to a slot".to_owned()
    } else {
        short_list(&finding.slots)
    };
    finding.found = parts.join("; ");
    finding.summary = format!("{place}: {}", finding.found);
    finding.expected = "no errors".to_owned();
    finding.evidence = trouble.lines;
    finding.report(trouble.events, trouble.state, trouble.corrected);
    Some(finding)
}

fn weigh(trouble: &Trouble) -> Severity {
    let open = trouble.unwell
        || trouble.unreadable
        || trouble.state.is_some_and(State::is_out_of_use)
        || trouble.events.iter().any(|event| event.info().weight == Weight::Grave);
    if trouble.bad.0 > 0 || trouble.uncorrected > 0 {
        Severity::Fault
    } else if open {
        Severity::Unproven
    } else {
        Severity::Warning
    }
}

/// Each thing that is wrong, worded; none where nothing is.
fn in_words(trouble: &Trouble) -> Vec<String> {
    let mut parts = Vec::new();
    for (count, what) in [(trouble.uncorrected, "uncorrected"), (trouble.corrected, "corrected")] {
        if count > 0 {
            parts.push(format!("{count} {what} {} counted", if count == 1 { "error" } else { "errors" }));
        }
    }
    if trouble.unreadable {
        parts.push("an error counter holds no number, so errors are not ruled out".to_owned());
    }
    let logged: Vec<&str> = trouble.events.iter().map(|event| event.info().name).collect();
    if !logged.is_empty() {
        parts.push(format!("logged: {}", logged.join(", ")));
    }
    if trouble.bad.0 > 0 {
        parts.push(format!("{} found bad and taken out of use by the kernel", trouble.bad));
    }
    if trouble.state.is_some_and(State::is_out_of_use) {
        parts.push("the management controller reports it not in use".to_owned());
    } else if trouble.unwell {
        parts.push("the management controller reports health not OK".to_owned());
    }
    parts
}
