//! Where it is: sockets, their channels, and the slots of each channel in order.

use super::mark::Mark;
use super::slots::{demand, planned, planned_in_brief, there, there_in_brief};
use crate::audit::{Finding, FindingKind};
use crate::diagnose::Diagnosis;
use crate::plan::Demand;
use crate::population::{Location, Population, Slot, SlotState};
use crate::records::enums::ProcessorStatus;

/// A machine's slots as they are laid out on its board.
#[derive(Debug, Clone)]
pub(crate) struct Map<T> {
    pub(crate) sockets: Vec<Socket<T>>,
    /// Slots of which no place is known, with their title.
    pub(crate) unlisted: Option<(&'static str, Vec<T>)>,
}

/// One socket with its channels, or slots of which no socket is proven.
#[derive(Debug, Clone)]
pub(crate) struct Socket<T> {
    /// What it is called, with its processor's state.
    pub(crate) title: String,
    /// Its short name; none where no socket is proven.
    pub(crate) short: Option<String>,
    pub(crate) rows: Vec<Row<T>>,
}

/// The slots of one channel, or those of a socket whose channel is not known.
#[derive(Debug, Clone)]
pub(crate) struct Row<T> {
    /// What the channel is called; none where it is not known.
    pub(crate) title: Option<String>,
    pub(crate) slots: Vec<T>,
}

/// What a slot looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// A module is there.
    Filled,
    /// Nothing is there.
    Empty,
    /// Nothing is seen of what should be there.
    Lost,
}

/// One slot on the map.
#[derive(Debug, Clone)]
pub(crate) struct Drawn {
    pub(crate) name: String,
    /// What it holds, in a word or two.
    pub(crate) there: String,
    /// Whether it is stated to be empty.
    pub(crate) is_empty: bool,
    pub(crate) look: Look,
    /// The mark of what was found about it.
    pub(crate) mark: Option<Mark>,
    /// Where there is room: what is written below its name.
    pub(crate) lines: Vec<String>,
    /// Where there is room: a mark with what it says; suspects have one too.
    pub(crate) says: Option<(Mark, String)>,
    /// Spoken label: all of this for those who do not see it.
    pub(crate) spoken: String,
    /// The number of the row that says more of it.
    pub(crate) row: Option<usize>,
}

/// Puts slots, given in the order of the board, into sockets and channels.
pub(crate) fn arrange<T>(
    slots: impl IntoIterator<Item = (Option<u16>, Option<String>, T)>,
    title: impl Fn(Option<u16>) -> String,
) -> Vec<Socket<T>> {
    let mut sockets: Vec<Socket<T>> = Vec::new();
    let mut before: Option<(Option<u16>, Option<String>)> = None;
    for (number, channel, slot) in slots {
        let same_socket = before.as_ref().is_some_and(|(last, _)| *last == number);
        let same_row = same_socket && before.as_ref().is_some_and(|(_, last)| *last == channel);
        if !same_socket {
            let short = number.map(|number| format!("socket {number}"));
            sockets.push(Socket { title: title(number), short, rows: Vec::new() });
        }
        let Some(socket) = sockets.last_mut() else { continue };
        match socket.rows.last_mut() {
            Some(row) if same_row => row.slots.push(slot),
            _ => {
                let title = channel.as_ref().map(|channel| format!("ch {channel}"));
                socket.rows.push(Row { title, slots: vec![slot] });
            }
        }
        before = Some((number, channel));
    }
    sockets
}

/// The map of a population, each slot drawn by `draw`.
fn of<T>(population: &Population<'_>, draw: impl Fn(usize, &Slot<'_>) -> T) -> Map<T> {
    let slots = population.in_board_order().into_iter().map(|index| {
        let slot = &population.slots[index];
        let Location { socket, channel, .. } = slot.location;
        (socket, channel.map(|channel| channel.to_string()), draw(index, slot))
    });
    Map { sockets: arrange(slots, |socket| socket_title(socket, population)), unlisted: None }
}

/// Of a machine that was measured against a plan.
pub(super) fn of_diagnosis(
    diagnosis: &Diagnosis<'_>,
    suspects: &[String],
    unlisted: &[(usize, &str)],
) -> Map<Drawn> {
    let population = &diagnosis.case.population;
    let mut map = of(population, |index, slot| audited(index, &slot.name, Some(slot), diagnosis, suspects));
    if !unlisted.is_empty() {
        let slots = unlisted.iter().map(|(index, name)| audited(*index, name, None, diagnosis, suspects));
        map.unlisted = Some(("planned, and not in the listing", slots.collect()));
    }
    map
}

/// Of a population by itself.
pub(super) fn of_population(population: &Population<'_>) -> Map<Drawn> {
    of(population, fitted)
}

/// Of a comparison: the later state, `change` being the number and the word of what happened to a slot.
pub(super) fn of_comparison(
    population: &Population<'_>,
    change: impl Fn(&str) -> Option<(usize, &'static str)>,
) -> Map<Drawn> {
    of(population, |_, slot| {
        let change = change(&slot.name);
        let there = there_in_brief(Some(slot));
        let what = change.map_or("the same", |(_, word)| word);
        Drawn {
            spoken: format!("{}: {what}; there: {there}", slot.name),
            lines: vec![there],
            mark: change.map(|_| Mark::Fault),
            says: change.map(|(_, word)| (Mark::Fault, word.to_owned())),
            look: if slot.module().is_some() { Look::Filled } else { Look::Empty },
            row: change.map(|(at, _)| at),
            ..Drawn::plain(slot)
        }
    })
}

impl Drawn {
    /// A slot of which nothing is said but what it holds.
    fn plain(slot: &Slot<'_>) -> Self {
        Self {
            name: slot.name.to_string(),
            there: there_in_brief(Some(slot)),
            is_empty: slot.state == SlotState::Empty,
            look: Look::Filled,
            mark: None,
            lines: Vec::new(),
            says: None,
            spoken: String::new(),
            row: None,
        }
    }
}

/// A slot of the listing, or one that only the plan names.
fn audited(
    index: usize,
    name: &str,
    slot: Option<&Slot<'_>>,
    diagnosis: &Diagnosis<'_>,
    suspects: &[String],
) -> Drawn {
    let demand = demand(name, diagnosis);
    let is_planned = diagnosis.case.is_planned();
    let findings = &diagnosis.audit.findings;
    let look = match (slot.map(|slot| &slot.state), demand) {
        (Some(SlotState::Fitted(_) | SlotState::NotRunning(_)), _) => Look::Filled,
        (_, None | Some(Demand::Empty)) => Look::Empty,
        (_, Some(_)) => Look::Lost,
    };
    let brief = there_in_brief(slot);
    // What does not run is there; one word less keeps it in one line.
    let does_not_run = slot.is_some_and(|slot| matches!(slot.state, SlotState::NotRunning(_)));
    let mut lines = vec![if does_not_run { brief.clone() } else { format!("there {brief}") }];
    if is_planned {
        lines.push(format!("plan {}", planned_in_brief(demand)));
    }
    let is_suspect = suspects.iter().any(|own| own == name);
    // What concerns the whole machine is no mark on each of its slots.
    let at = || findings.iter().filter(|finding| finding.is_at(name));
    let marking: Vec<&Finding> = at().filter(|finding| finding.kind != FindingKind::ClockedDown).collect();
    let mark = marking.iter().map(|finding| finding.severity()).min().map(Mark::from);
    let says = match mark {
        Some(mark) => Some((mark, words(marking))),
        None if is_suspect => Some((Mark::Unproven, "suspect".to_owned())),
        None => None,
    };
    // More is said of it than marked: what slows the whole machine is at all slots.
    let mut label = words(at().collect());
    if label.is_empty() {
        label = if is_suspect { "suspect" } else { "no finding" }.to_owned();
    }
    let mut spoken = format!("{name}: {label}; there: {}", there(slot));
    if is_planned {
        spoken.push_str("; planned: ");
        spoken.push_str(&planned(demand));
    }
    Drawn {
        name: name.to_owned(),
        there: brief,
        is_empty: slot.is_some_and(|slot| slot.state == SlotState::Empty),
        look,
        mark,
        lines,
        says,
        spoken,
        row: Some(index),
    }
}

/// The words of findings, the gravest first, each once.
fn words(mut findings: Vec<&Finding>) -> String {
    findings.sort_by_key(|finding| finding.severity());
    let mut words: Vec<&str> = Vec::new();
    for finding in findings {
        let word = finding.kind.word();
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words.join(", ")
}

/// A slot of which only the listing speaks.
fn fitted(index: usize, slot: &Slot<'_>) -> Drawn {
    let (look, says) = match slot.state {
        SlotState::Empty => (Look::Empty, None),
        SlotState::Unknown => (Look::Empty, Some((Mark::Unproven, "unknown".to_owned()))),
        SlotState::NotRunning(_) => (Look::Filled, Some((Mark::Fault, "not running".to_owned()))),
        SlotState::Fitted(_) => (Look::Filled, None),
    };
    let brief = there_in_brief(Some(slot));
    let lines = match slot.state {
        SlotState::Fitted(_) => {
            let speed = slot.module().and_then(|module| module.configured);
            [Some(brief), speed.map(|rate| rate.to_string())].into_iter().flatten().collect()
        }
        SlotState::Empty => vec![brief],
        SlotState::NotRunning(_) | SlotState::Unknown => Vec::new(),
    };
    Drawn {
        look,
        mark: says.as_ref().map(|(mark, _)| *mark),
        lines,
        says,
        spoken: format!("{}: {}", slot.name, there(Some(slot))),
        row: Some(index),
        ..Drawn::plain(slot)
    }
}

/// What a socket is called, with its processor's state.
fn socket_title(number: Option<u16>, population: &Population<'_>) -> String {
    let Some(number) = number else {
        let others = population.slots.iter().any(|slot| slot.location.socket.is_some());
        return if others {
            "socket unproven by the labels"
        } else {
            "all slots; the labels prove no socket"
        }
        .to_owned();
    };
    let socket = population.sockets.iter().find(|socket| socket.number == Some(number));
    match socket.and_then(|socket| socket.status) {
        Some(status) => format!("socket {number}, processor {}", processor_word(status)),
        None => format!("socket {number}"),
    }
}

/// The word for a processor's state.
pub(crate) fn processor_word(status: ProcessorStatus) -> &'static str {
    match status {
        ProcessorStatus::Unpopulated => "unpopulated",
        ProcessorStatus::Running => "running",
        ProcessorStatus::Disabled => "disabled",
        ProcessorStatus::Populated => "populated",
    }
}
