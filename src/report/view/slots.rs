//! The rows of the table of slots, and what is said of what a slot holds and should hold.

use super::findings::Group;
use crate::case::Case;
use crate::diagnose::Diagnosis;
use crate::plan::Demand;
use crate::plan::agreement::{describe_found, describe_wanted};
use crate::population::{ModuleSize, Slot, SlotState};

/// What is there where no record is.
const UNLISTED: &str = "not in the listing";

const NO_PLACE: &str = "unproven";

/// All slots of a machine.
#[derive(Debug)]
pub(crate) struct SlotTable {
    /// Titles of the columns, those left out that no row has.
    pub(crate) columns: Vec<&'static str>,
    /// Whether findings lead here and are led to.
    pub(crate) has_findings: bool,
    /// In the order of the board, then those that are planned and not listed.
    pub(crate) rows: Vec<SlotRow>,
}

/// One slot, with its columns in this order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SlotRow {
    /// The number of its record; those without a record are numbered on.
    pub(crate) number: usize,
    pub(crate) name: String,
    /// Socket, channel and position as far as they are proven.
    pub(crate) place: String,
    /// What should be there; `None` where no plan was given.
    pub(crate) planned: Option<String>,
    pub(crate) there: String,
    /// Where its record is.
    pub(crate) shown_by: String,
    /// Numbers and kinds of what was found about it; `None` where nothing was looked for.
    pub(crate) findings: Option<Vec<(usize, &'static str)>>,
}

impl SlotRow {
    fn new(number: usize, name: &str, slot: Option<&Slot<'_>>, case: &Case<'_>) -> Self {
        Self {
            number,
            name: name.to_owned(),
            place: slot.map_or_else(|| NO_PLACE.to_owned(), place),
            planned: None,
            there: there(slot),
            shown_by: slot.map_or_else(String::new, |slot| shown_by(slot, case)),
            findings: None,
        }
    }
}

/// Planned slots that no record is about, with numbers beyond those of the records.
pub(super) fn unlisted<'d>(diagnosis: &'d Diagnosis<'_>) -> Vec<(usize, &'d str)> {
    let population = &diagnosis.case.population;
    let planned = diagnosis.case.plan.slots.iter().map(|planned| planned.slot.as_str());
    (population.slots.len()..).zip(planned.filter(|name| population.slot(name).is_none())).collect()
}

impl SlotTable {
    fn new(has_planned: bool, has_findings: bool, rows: Vec<SlotRow>) -> Self {
        let columns = [
            ("slot", true),
            ("place", true),
            ("planned", has_planned),
            ("there", true),
            ("shown by", true),
            ("findings", has_findings),
        ];
        let columns = columns.into_iter().filter_map(|(title, has)| has.then_some(title)).collect();
        Self { columns, has_findings, rows }
    }
}

/// Of a population by itself.
pub(super) fn of_population(case: &Case<'_>) -> SlotTable {
    SlotTable::new(false, false, listed(case))
}

fn listed(case: &Case<'_>) -> Vec<SlotRow> {
    let slots = case.population.in_board_order().into_iter().map(|index| {
        let slot = &case.population.slots[index];
        SlotRow::new(index, &slot.name, Some(slot), case)
    });
    slots.collect()
}

/// Of a machine that was measured against a plan.
pub(super) fn of_diagnosis(
    diagnosis: &Diagnosis<'_>,
    groups: &[Group<'_>],
    unlisted: &[(usize, &str)],
) -> SlotTable {
    let case = diagnosis.case;
    let is_at = |group: &Group<'_>, name: &str| {
        group.finding.slots.iter().any(|slot| slot == name) || group.finding.other_slot == Some(name)
    };
    let unlisted = unlisted.iter().map(|(number, name)| SlotRow::new(*number, name, None, case));
    let mut rows: Vec<SlotRow> = listed(case).into_iter().chain(unlisted).collect();
    for row in &mut rows {
        row.planned = case.is_planned().then(|| planned(demand(&row.name, diagnosis)));
        let about = groups.iter().filter(|group| is_at(group, &row.name));
        row.findings = Some(about.map(|group| (group.number, group.kind)).collect());
    }
    SlotTable::new(case.is_planned(), true, rows)
}

pub(super) fn demand<'d>(name: &str, diagnosis: &'d Diagnosis<'_>) -> Option<&'d Demand> {
    diagnosis.case.plan.demand(name).map(|planned| &planned.demand)
}

/// What a slot holds, in words.
pub(super) fn there(slot: Option<&Slot<'_>>) -> String {
    let Some(slot) = slot else { return UNLISTED.to_owned() };
    match &slot.state {
        SlotState::Empty => "empty".to_owned(),
        SlotState::Unknown => "not stated".to_owned(),
        SlotState::Fitted(module) => describe_found(module),
        SlotState::NotRunning(module) => format!("{}; not running", describe_found(module)),
    }
}

/// The same in a word or two.
pub(super) fn there_in_brief(slot: Option<&Slot<'_>>) -> String {
    let Some(slot) = slot else { return "unlisted".to_owned() };
    match &slot.state {
        SlotState::Empty => "empty".to_owned(),
        SlotState::Unknown => "unknown".to_owned(),
        SlotState::NotRunning(_) => "not running".to_owned(),
        SlotState::Fitted(module) => match (module.bytes(), module.size) {
            (Some(size), _) => size.to_string(),
            (None, ModuleSize::AtLeast(_)) => "32+ GiB".to_owned(),
            (None, _) => "size?".to_owned(),
        },
    }
}

/// What should be in a slot, in words.
pub(super) fn planned(demand: Option<&Demand>) -> String {
    match demand {
        None => "nothing".to_owned(),
        Some(Demand::Empty) => "empty".to_owned(),
        Some(Demand::Idle) => "a module that does not run".to_owned(),
        Some(Demand::Module(wanted)) => describe_wanted(wanted),
    }
}

/// The same in a word or two.
pub(super) fn planned_in_brief(demand: Option<&Demand>) -> String {
    match demand {
        None => "none".to_owned(),
        Some(Demand::Empty) => "empty".to_owned(),
        Some(Demand::Idle) => "idle".to_owned(),
        Some(Demand::Module(wanted)) => {
            wanted.size.map_or_else(|| "a module".to_owned(), |size| size.to_string())
        }
    }
}

fn place(slot: &Slot<'_>) -> String {
    let location = slot.location;
    let parts = [
        location.socket.map(|number| format!("socket {number}")),
        location.channel.map(|channel| format!("channel {channel}")),
        location.position.map(|position| format!("position {position}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { NO_PLACE.to_owned() } else { parts.join(", ") }
}

fn shown_by(slot: &Slot<'_>, case: &Case<'_>) -> String {
    case.listing
        .devices
        .get(slot.device)
        .map_or_else(String::new, |device| format!("listing line {}", device.head.place.line))
}
