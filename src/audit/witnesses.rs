//! Findings of other witnesses than the listing: memory that the operating system does not see, errors that
//! were counted or logged, and witnesses that contradict each other.

use super::Context;
use super::finding::{Finding, FindingKind, Severity, list};
use crate::board::{Fitting, Mode};
use crate::evidence::Evidence;
use crate::plan::DemandField;
use crate::population::{Population, Slot, identity};
use crate::units::Bytes;
use crate::witness::{EventKind, MemoryEvent, State, Weight, usual_reservation};

/// The share by which two sums may differ before they contradict each other: drivers and firmware round and
/// leave out small regions (common practice, no source).
const SUM_SLACK_PERCENT: u64 = 7;

/// All findings of other witnesses. What they say about a slot that has a finding already is added to that
/// finding's evidence: one cause gives one finding.
pub(super) fn add(context: &Context<'_, '_>, findings: &mut Vec<Finding>) {
    let short = short_visible(context);
    let seen_short = short.is_some();
    findings.extend(short);
    findings.extend(contradictions(context, seen_short));
    let mut rest = Vec::new();
    for trouble in troubles(context) {
        let about = |f: &&mut Finding| {
            let absent =
                matches!(f.kind, FindingKind::Missing | FindingKind::NotRunning | FindingKind::NoCpu);
            absent && trouble.slot.as_ref().is_some_and(|slot| f.slots.contains(slot))
        };
        match findings.iter_mut().find(about) {
            Some(finding) => {
                finding.evidence.extend(trouble.lines);
                finding.events.extend(trouble.events);
                finding.state = finding.state.or(trouble.state);
            }
            None => rest.push(trouble),
        }
    }
    findings.extend(rest.into_iter().filter_map(errors));
}

/// What should be visible of the modules that are detected: none of it is on modules that keep their contents,
/// and a mode may keep part in reserve. `None` where that cannot be told.
fn expected_visible(context: &Context<'_, '_>) -> Option<Bytes> {
    let totals = context.population.totals;
    let ram = Bytes(totals.detected_at_least.0.saturating_sub(totals.persistent.0));
    match context.plan.mode.as_deref().map(Mode::parse) {
        None => Some(ram),
        Some(Some(Mode::Mirroring)) => Some(Bytes(ram.0 / 2)),
        Some(mode) => {
            let fitting = Fitting::of_population(context.board?, context.population);
            mode?.visible(&fitting)
        }
    }
}

/// `short-total`: the operating system sees less than the detected modules by more than is usual. What is not
/// detected at all has its own findings.
fn short_visible(context: &Context<'_, '_>) -> Option<Finding> {
    let meminfo = context.witnesses.meminfo.as_ref()?;
    let command_line = context.witnesses.command_line.as_ref();
    let expected = expected_visible(context)?;
    let usual = usual_reservation(expected, command_line);
    if [meminfo.total, usual].into_iter().sum::<Bytes>() >= expected {
        return None;
    }
    let mut finding = Finding::about(FindingKind::ShortTotal, Vec::new());
    finding.fields = vec![DemandField::Total];
    let lost = Bytes((expected.0 - meminfo.total.0) / Bytes::MIB * Bytes::MIB);
    finding.summary =
        format!("the operating system sees {lost} less than the modules hold; {} is usual", usual.rounded());
    finding.expected = format!("about {}", expected.rounded());
    finding.found = meminfo.total.rounded().to_string();
    finding.evidence = vec![meminfo.line.clone()];
    finding.evidence.extend(meminfo.bad_lines.iter().cloned());
    if let Some(line) = command_line {
        finding.evidence.extend(line.parameters.iter().map(|parameter| line.evidence(parameter)));
    }
    Some(finding)
}

/// Sums that cannot both be true.
fn contradictions(context: &Context<'_, '_>, seen_short: bool) -> Vec<Finding> {
    let mut result = Vec::new();
    let totals = context.population.totals;
    let (Some(detected), witnesses) = (totals.detected, context.witnesses) else { return result };
    let ram = Bytes(detected.0.saturating_sub(totals.persistent.0));
    let slack = |size: Bytes| size.0 / 100 * SUM_SLACK_PERCENT;
    if let Some(meminfo) = &witnesses.meminfo
        && meminfo.total.0 > detected.0.saturating_add(slack(detected))
    {
        result.push(contradiction(
            format!(
                "the operating system sees {}, the listing's modules sum to {detected}: records are missing, or the two are of different machines or times",
                meminfo.total.rounded()
            ),
            detected,
            meminfo.total,
            vec![meminfo.line.clone()],
        ));
    }
    if let Some(edac) = &witnesses.edac
        && let Some(counted) = edac.total()
    {
        let more = counted.0 > detected.0.saturating_add(slack(detected));
        // A memory that is short anyway has its finding.
        let less = counted.0.saturating_add(slack(ram)) < ram.0 && !seen_short;
        if more || less {
            let why = if more {
                "records are missing, or the two are of different machines or times"
            } else {
                "a module may not be in use, or a controller has no driver"
            };
            result.push(contradiction(
                format!(
                    "the kernel's driver manages {counted}, the listing's modules sum to {detected}: {why}"
                ),
                detected,
                counted,
                edac.total_lines(),
            ));
        }
    }
    result
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

/// What speaks against one module, or against memory that no witness ties to a slot.
#[derive(Debug, Default)]
struct Trouble {
    slot: Option<String>,
    corrected: u64,
    uncorrected: u64,
    events: Vec<EventKind>,
    state: Option<State>,
    unwell: bool,
    lines: Vec<Evidence>,
}

fn troubles(context: &Context<'_, '_>) -> Vec<Trouble> {
    let mut all: Vec<Trouble> = Vec::new();
    let mut of = |slot: Option<String>, add: &dyn Fn(&mut Trouble)| {
        let at = all.iter().position(|trouble| trouble.slot == slot).unwrap_or_else(|| {
            all.push(Trouble { slot, ..Trouble::default() });
            all.len() - 1
        });
        add(&mut all[at]);
    };
    if let Some(edac) = &context.witnesses.edac {
        for module in edac.modules.iter().filter(|m| m.corrected + m.uncorrected > 0) {
            let slot = module.label.as_deref().and_then(|label| slot_labelled(context, label));
            of(slot, &|trouble| {
                trouble.corrected += module.corrected;
                trouble.uncorrected += module.uncorrected;
                trouble.lines.extend(module.lines.iter().cloned());
            });
        }
        for controller in &edac.controllers {
            // The controller's counters hold those of its modules too.
            let own = edac.modules.iter().filter(|m| m.controller == controller.id);
            let (corrected, uncorrected) =
                own.fold((0, 0), |sum, m| (sum.0 + m.corrected, sum.1 + m.uncorrected));
            let rest = (
                controller.corrected.saturating_sub(corrected),
                controller.uncorrected.saturating_sub(uncorrected),
            );
            if rest != (0, 0) {
                of(None, &|trouble| {
                    trouble.corrected += rest.0;
                    trouble.uncorrected += rest.1;
                    let counts = controller.lines.iter().filter(|line| line.text.contains("e_count"));
                    trouble.lines.extend(counts.cloned());
                });
            }
        }
    }
    for event in open_events(context) {
        of(slot_in_text(context.population, &event.line.text), &|trouble| {
            if !trouble.events.contains(&event.kind) {
                trouble.events.push(event.kind);
            }
            trouble.lines.push(event.line.clone());
        });
    }
    for resource in context.witnesses.redfish.iter().flat_map(|redfish| &redfish.modules) {
        let Some(slot) = resource.label.as_deref().and_then(|label| slot_labelled(context, label)) else {
            continue;
        };
        of(Some(slot), &|trouble| {
            trouble.state = resource.state;
            trouble.unwell |= resource.unwell;
            trouble.lines.push(resource.line.clone());
        });
    }
    all
}

/// Events that came and did not go again.
fn open_events<'c>(context: &'c Context<'_, '_>) -> Vec<&'c MemoryEvent> {
    let events = context.witnesses.events.as_ref().map_or(&[][..], |log| &log.events);
    let mut open: Vec<&MemoryEvent> = Vec::new();
    for event in events {
        if event.asserted {
            open.push(event);
        } else {
            let place = |e: &MemoryEvent| (e.kind, e.sensor, e.module);
            open.retain(|earlier| place(earlier) != place(event));
        }
    }
    open
}

/// The one slot that is labelled so: by its name, or by both labels of its record.
fn slot_labelled(context: &Context<'_, '_>, label: &str) -> Option<String> {
    let label = identity::collapse(label);
    let same = |slot: &&Slot<'_>| {
        let device = &context.listing.devices[slot.device];
        let locator = identity::collapse(device.locator.get().unwrap_or_default());
        let bank = identity::collapse(device.bank_locator.get().unwrap_or_default());
        slot.name == label || (!locator.is_empty() && label == format!("{bank} {locator}"))
    };
    let mut slots = context.population.slots.iter().filter(same);
    match (slots.next(), slots.next()) {
        (Some(slot), None) => Some(slot.name.to_string()),
        _ => None,
    }
}

/// The one slot whose name stands in `text` as a word. A name must have a letter and a digit to be told from
/// other words.
fn slot_in_text(population: &Population<'_>, text: &str) -> Option<String> {
    let is_word = |name: &str| {
        text.match_indices(name).any(|(at, _)| {
            let inside = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '.' || c == '_');
            !inside(text[..at].chars().next_back()) && !inside(text[at + name.len()..].chars().next())
        })
    };
    let telling = |name: &str| {
        name.bytes().any(|b| b.is_ascii_alphabetic()) && name.bytes().any(|b| b.is_ascii_digit())
    };
    let named = population.slots.iter().map(|slot| slot.name.as_ref());
    let mut named: Vec<&str> = named.filter(|name| telling(name) && is_word(name)).collect();
    // `A1` is a word of `A1 B` as well; the longest name is meant.
    named.sort_by_key(|name| std::cmp::Reverse(name.len()));
    match named.as_slice() {
        [one] => Some((*one).to_owned()),
        [first, second, ..] if first.len() > second.len() => Some((*first).to_owned()),
        _ => None,
    }
}

/// `memory-errors`. Errors that were counted since the last boot without being corrected are a fault; a log
/// may be from before the module was fitted, so what it says is a doubt.
fn errors(trouble: Trouble) -> Option<Finding> {
    let Trouble { slot, corrected, uncorrected, mut events, state, unwell, lines } = trouble;
    events.retain(|event| event.info().weight > Weight::None);
    events.sort_by_key(|event| std::cmp::Reverse(event.info().weight));
    let grave = unwell
        || matches!(state, Some(State::Disabled | State::UnavailableOffline))
        || events.iter().any(|event| event.info().weight == Weight::Grave);
    let mut parts = Vec::new();
    for (count, what) in [(uncorrected, "uncorrected"), (corrected, "corrected")] {
        if count > 0 {
            parts.push(format!("{count} {what} {} counted", if count == 1 { "error" } else { "errors" }));
        }
    }
    let logged: Vec<&str> = events.iter().map(|event| event.info().name).collect();
    if !logged.is_empty() {
        parts.push(format!("logged: {}", logged.join(", ")));
    }
    let unused = state.filter(|state| matches!(state, State::Disabled | State::UnavailableOffline));
    if unused.is_some() {
        parts.push("the management controller says it is not in use".to_owned());
    } else if unwell {
        parts.push("the management controller says it is not well".to_owned());
    }
    if parts.is_empty() {
        return None;
    }
    let mut finding = Finding::about(FindingKind::MemoryErrors, slot.into_iter().collect());
    finding.severity = match (uncorrected, grave) {
        (1.., _) => Severity::Fault,
        (0, true) => Severity::Unproven,
        (0, false) => Severity::Warning,
    };
    let place = if finding.slots.is_empty() {
        "memory that no witness ties to a slot".to_owned()
    } else {
        list(&finding.slots)
    };
    finding.found = parts.join("; ");
    finding.summary = format!("{place}: {}", finding.found);
    finding.expected = "no errors".to_owned();
    finding.evidence = lines;
    finding.events = events;
    finding.state = state;
    Some(finding)
}
