//! What sources hold against memory: errors that were counted or logged, states, and modules that are out of use.

mod counts;

use std::collections::BTreeMap;

use super::super::Context;
use super::super::finding::{Finding, FindingKind, Severity};
use super::places::Places;
use crate::base::words::{comma_list, short_list};
use crate::case::Case;
use crate::evidence::Evidence;
use crate::population::Mention;
use crate::sources::{Edac, EventKind, EventLog, Meminfo, MemoryEvent, Redfish, State, Weight};
use crate::units::Bytes;

/// Evidence against one module, or against memory that no source ties to a slot.
#[derive(Debug, Default)]
struct Trouble {
    slot: Option<String>,
    /// What the sources call the slot, where that is not its name.
    called: Vec<String>,
    /// The slots that are meant, where it is not said which.
    perhaps: Vec<String>,
    corrected: u64,
    uncorrected: u64,
    events: Vec<EventKind>,
    state: Option<State>,
    unwell: bool,
    /// A counter holds no number.
    unreadable: bool,
    /// Logged events that are not understood: nobody knows that they are harmless.
    unread: usize,
    bad: Bytes,
    lines: Vec<Evidence>,
}

/// All of it: one for each slot, in the order in which they come up.
#[derive(Debug, Default)]
pub(super) struct Troubles(Vec<Trouble>);

impl Troubles {
    fn of(&mut self, mention: &Mention) -> &mut Trouble {
        let (slot, perhaps) = match mention {
            Mention::None => (None, &[][..]),
            Mention::Slot(slot) | Mention::Likely { slot, .. } => (Some(slot), &[][..]),
            Mention::Several(slots) => (None, slots.as_slice()),
        };
        let same = |trouble: &Trouble| trouble.slot.as_ref() == slot && trouble.perhaps == perhaps;
        let at = self.0.iter().position(same).unwrap_or_else(|| {
            let (slot, perhaps) = (slot.cloned(), perhaps.to_vec());
            self.0.push(Trouble { slot, perhaps, ..Trouble::default() });
            self.0.len() - 1
        });
        let trouble = &mut self.0[at];
        if let Mention::Likely { called, .. } = mention
            && !trouble.called.contains(called)
        {
            trouble.called.push(called.clone());
        }
        trouble
    }

    /// What remains to be found, after what is known of a slot was added to the finding that it has already.
    pub(super) fn findings(self, known: &mut [Finding]) -> Vec<Finding> {
        self.not_added_to(known).into_iter().filter_map(errors).collect()
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
    pub(super) fn count(&mut self, places: &Places<'_, '_>, edac: &Edac) {
        for controller in edac.ids() {
            for (mention, counts) in counts::of(places, edac, controller) {
                let trouble = self.of(&mention);
                trouble.corrected = trouble.corrected.saturating_add(counts.corrected);
                trouble.uncorrected = trouble.uncorrected.saturating_add(counts.uncorrected);
                trouble.unreadable |= counts.unreadable;
                trouble.lines.extend(counts.lines);
            }
        }
    }

    /// What the event log has.
    pub(super) fn log(&mut self, places: &Places<'_, '_>, log: &EventLog) {
        for (event, mention) in open_events(places, &log.events) {
            let trouble = self.of(&mention);
            if !trouble.events.contains(&event.kind) {
                trouble.events.push(event.kind);
            }
            trouble.lines.push(event.line.clone());
        }
        for line in &log.unread {
            // A record has no names, only bytes.
            let is_row = line.text.contains('|');
            let trouble = self.of(&if is_row { places.in_text(&line.text) } else { Mention::None });
            trouble.unread += 1;
            trouble.lines.push(line.clone());
        }
    }

    /// What the kernel has found bad and taken out of use.
    pub(super) fn take_out(&mut self, meminfo: &Meminfo) {
        if meminfo.bad.0 > 0 {
            let trouble = self.of(&Mention::None);
            trouble.bad = meminfo.bad;
            trouble.lines.extend(meminfo.bad_lines.iter().cloned());
        }
    }

    /// What the management controller states.
    pub(super) fn state(&mut self, places: &Places<'_, '_>, redfish: &Redfish) {
        for resource in &redfish.modules {
            let mention = places.labelled(resource.label.as_deref());
            let is_tied = matches!(mention, Mention::Slot(_) | Mention::Likely { .. });
            // A healthy resource that belongs to no slot is no evidence.
            if !is_tied && !resource.unwell && !resource.state.is_some_and(State::is_out_of_use) {
                continue;
            }
            let trouble = self.of(&mention);
            trouble.state = trouble.state.max(resource.state);
            trouble.unwell |= resource.unwell;
            trouble.lines.push(resource.line.clone());
        }
    }
}

/// Events that came and did not go again, with the slot that each is tied to. An event takes back earlier ones of
/// its own place only.
fn open_events<'e>(places: &Places<'_, '_>, events: &'e [MemoryEvent]) -> Vec<(&'e MemoryEvent, Mention)> {
    type EventTarget = (EventKind, Option<u8>, Option<u8>, Mention);
    let mut open: BTreeMap<EventTarget, Vec<(usize, &MemoryEvent)>> = BTreeMap::new();
    for (number, event) in events.iter().enumerate() {
        let slot = places.of_event(event);
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

/// Slots that the event log names, or is likely to mean, with something grave.
pub(crate) fn accused(case: &Case<'_>, log: &EventLog) -> Vec<String> {
    let context = Context { case };
    let places = Places::new(&context);
    let grave = |(event, mention): (&MemoryEvent, Mention)| match mention {
        Mention::Slot(slot) | Mention::Likely { slot, .. } if event.kind.info().weight == Weight::Grave => {
            Some(slot)
        }
        _ => None,
    };
    open_events(&places, &log.events).into_iter().filter_map(grave).collect()
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
    let place = place_in_words(&finding.slots, &trouble.perhaps);
    finding.found = parts.join("; ");
    finding.summary = format!("{place}: {}", finding.found);
    finding.expected = "no errors".to_owned();
    finding.evidence = trouble.lines;
    finding.report(trouble.events, trouble.state, trouble.corrected);
    Some(finding)
}

/// Where it is; a source that may mean several slots ties it to none of them.
fn place_in_words(slots: &[String], perhaps: &[String]) -> String {
    match (slots, perhaps) {
        ([], []) => "memory that no source of evidence ties to a slot".to_owned(),
        ([], several) => format!("memory in one of {}, which one is not said", short_list(several)),
        (slots, _) => short_list(slots),
    }
}

fn weigh(trouble: &Trouble) -> Severity {
    let open = trouble.unwell
        || trouble.unreadable
        || trouble.unread > 0
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
    match trouble.unread {
        0 => {}
        1 => parts.push("1 logged event about memory cannot be read here".to_owned()),
        count => parts.push(format!("{count} logged events about memory cannot be read here")),
    }
    if trouble.bad.0 > 0 {
        parts.push(format!("{} found bad and taken out of use by the kernel", trouble.bad));
    }
    if trouble.state.is_some_and(State::is_out_of_use) {
        parts.push("the management controller reports it not in use".to_owned());
    } else if trouble.unwell {
        parts.push("the management controller reports health not OK".to_owned());
    }
    if !parts.is_empty() && !trouble.called.is_empty() {
        parts.push(format!("its source says {}, likely the same slot", comma_list(&trouble.called)));
    }
    parts
}
