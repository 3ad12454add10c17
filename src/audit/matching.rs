//! Which found module is which planned one: least work first.

use std::collections::{HashMap, HashSet};

use crate::base::assignment::{Costs, assign};
use crate::plan::agreement::{Outcome, agrees, compare};
use crate::plan::{DemandField, ModuleSpec, Plan, PlannedSlot};
use crate::population::{Population, Slot, SlotState};

/// A planned module and where it turned out to be.
#[derive(Debug)]
pub(super) struct Match<'p> {
    /// The planned slot.
    pub(super) planned: &'p PlannedSlot,
    /// The planned module.
    pub(super) wanted: &'p ModuleSpec,
    /// Index of the planned slot in the population; `None` where the listing does not have it.
    pub(super) home: Option<usize>,
    /// Index of the slot whose module was matched; `None` for a module that is detected nowhere.
    pub(super) at: Option<usize>,
    /// Whether the listing leaves open what the planned slot holds: it says nothing of it, or may have lost its record.
    pub(super) unseen: bool,
    /// Fields that differ or stay open in the matched module.
    pub(super) differences: Vec<(DemandField, Outcome)>,
}

/// Planned modules with what was found for each, and the slots with modules that nothing calls for.
#[derive(Debug)]
pub(super) struct Matching<'p> {
    pub(super) matches: Vec<Match<'p>>,
    pub(super) unplanned: Vec<usize>,
}

/// Costs of the kinds of work.
///
/// A module that is right stays (0), and so does one that is right and idle (`IDLE`). Moving one that is there
/// (`MOVE`) is cheaper than getting another one: exchanging a wrong one (`EXCHANGE`), or adding a missing one
/// while another is left over (`REPLACE`). Either needs one other module, so that two replacements cost more than
/// a move and one addition, while one replacement costs less. Taking a module for a planned one although the
/// listing leaves open what it states for others (`DOUBT`) costs as much as a replacement, and never as much as
/// an addition.
const IDLE: i64 = 1_000;
const MOVE: i64 = 10_000;
const EXCHANGE: i64 = 60_000_000;
const DOUBT: i64 = 60_000_000;
const MORE_DOUBT: i64 = 8_000_000;
const REPLACE: i64 = 100_000_000;
const NEVER: i64 = 10_000_000_000;

/// Matches found modules to planned ones. `lost` says of a slot that is not listed whether its record may have been
/// lost.
pub(super) fn match_modules<'p>(
    plan: &'p Plan,
    population: &Population<'_>,
    lost: impl Fn(&str) -> bool,
) -> Matching<'p> {
    let found: Vec<usize> =
        (0..population.slots.len()).filter(|index| population.slots[*index].fitted().is_some()).collect();
    let mut matches: Vec<Match<'p>> = plan
        .modules()
        .map(|(planned, wanted)| {
            let home = population.slot(&planned.slot).map(|(index, _)| index);
            let unseen = match home {
                Some(home) => population.slots[home].state == SlotState::Unknown,
                None => lost(&planned.slot),
            };
            Match { planned, wanted, home, at: None, unseen, differences: Vec::new() }
        })
        .collect();
    if in_place(&mut matches, population) {
        return finish(matches, &found);
    }
    settle(&mut matches, &found, population);
    assign_rest(&mut matches, &found, population);
    finish(matches, &found)
}

/// Assigns what is not settled, as cheaply as can be.
fn assign_rest(matches: &mut [Match<'_>], found: &[usize], population: &Population<'_>) {
    let least_open = least_open(matches, found, population);
    let taken: HashSet<usize> = matches.iter().filter_map(|m| m.at).collect();
    let columns: Vec<usize> = found.iter().copied().filter(|slot| !taken.contains(slot)).collect();
    let rows: Vec<usize> = (0..matches.len()).filter(|row| matches[*row].at.is_none()).collect();
    let all: Vec<Vec<(DemandField, Outcome)>> = rows
        .iter()
        .flat_map(|row| {
            columns.iter().map(|slot| differences(matches[*row].wanted, &population.slots[*slot]))
        })
        .collect();
    let costs = Costs::new(rows.len(), columns.len() + rows.len(), |row, column| {
        let m = &matches[rows[row]];
        match columns.get(column) {
            Some(slot) => {
                let differences = &all[row * columns.len() + column];
                let doubts = open(differences).saturating_sub(least_open[rows[row]]);
                cost(m, *slot, differences, doubts, population)
            }
            None => absence(m, population),
        }
    });
    for (row, column) in assign(&costs).into_iter().enumerate() {
        if let Some(slot) = columns.get(column) {
            matches[rows[row]].at = Some(*slot);
            matches[rows[row]].differences.clone_from(&all[row * columns.len() + column]);
        }
    }
}

/// Planned modules for which the plan demands the same but for serial numbers, which all have or none has.
struct Class<'p> {
    wanted: &'p ModuleSpec,
    with_serial: bool,
    rows: usize,
}

/// The classes of the planned modules, and the class of each.
fn classes<'p>(matches: &[Match<'p>]) -> (Vec<Class<'p>>, Vec<usize>) {
    let mut classes: Vec<Class<'p>> = Vec::new();
    let mut known: HashMap<String, usize> = HashMap::new();
    let of_rows = matches
        .iter()
        .map(|m| {
            let with_serial = m.wanted.serial.is_some();
            let key = format!("{with_serial} {:?}", ModuleSpec { serial: None, ..m.wanted.clone() });
            let class = *known.entry(key).or_insert_with(|| {
                classes.push(Class { wanted: m.wanted, with_serial, rows: 0 });
                classes.len() - 1
            });
            classes[class].rows += 1;
            class
        })
        .collect();
    (classes, of_rows)
}

/// Settles what is right and is right for nobody else, since the assignment of what is left takes cubic time.
///
/// A module stays in its planned slot if it agrees with that slot's demand and with no other, or only with
/// equal ones. No cheaper assignment is lost: wherever such a module is used for another slot, the two can be
/// replaced at no cost.
fn settle(matches: &mut [Match<'_>], found: &[usize], population: &Population<'_>) {
    let (classes, class_of) = classes(matches);
    let lower = |serial: &str| serial.trim().to_lowercase();
    let mut serials: HashMap<String, usize> = HashMap::new();
    for serial in matches.iter().filter_map(|m| m.wanted.serial.as_deref()) {
        *serials.entry(lower(serial)).or_default() += 1;
    }
    let at_home: HashMap<usize, usize> =
        matches.iter().enumerate().filter_map(|(row, m)| Some((m.home?, row))).collect();
    for slot in found {
        let (Some(row), Some(module)) = (at_home.get(slot).copied(), population.slots[*slot].fitted()) else {
            continue;
        };
        let own = compare(matches[row].wanted, module);
        if !agrees(&own) {
            continue;
        }
        // How many planned modules of a class the module could be.
        let candidates = |class: &Class<'_>| {
            let plain = ModuleSpec { serial: None, ..class.wanted.clone() };
            if !agrees(&compare(&plain, module)) {
                return 0;
            }
            match module.serial {
                Some(serial) if class.with_serial => serials.get(&lower(serial)).copied().unwrap_or(0),
                _ => class.rows,
            }
        };
        let nobody_else = classes.iter().enumerate().all(|(number, class)| {
            let count = candidates(class);
            count == 0 || (number == class_of[row] && (count == 1 || !class.with_serial))
        });
        if nobody_else {
            matches[row].at = Some(*slot);
            matches[row].differences = own;
        }
    }
}

/// For each planned module, the least number of demands that a found module leaves open.
fn least_open(matches: &[Match<'_>], found: &[usize], population: &Population<'_>) -> Vec<usize> {
    let waiting = |m: &&Match<'_>| m.at.is_none();
    let of = |wanted: &ModuleSpec| {
        found.iter().map(|slot| open(&differences(wanted, &population.slots[*slot]))).min().unwrap_or(0)
    };
    matches.iter().map(|m| Some(m).filter(waiting).map_or(0, |m| of(m.wanted))).collect()
}

fn differences(wanted: &ModuleSpec, slot: &Slot<'_>) -> Vec<(DemandField, Outcome)> {
    slot.fitted().map(|module| compare(wanted, module)).unwrap_or_default()
}

/// The common case: every planned slot holds what it should. Then nothing needs assigning.
fn in_place(matches: &mut [Match<'_>], population: &Population<'_>) -> bool {
    for m in matches.iter_mut() {
        let Some(home) = m.home else { return false };
        let Some(module) = population.slots[home].fitted() else { return false };
        m.differences = compare(m.wanted, module);
        if !agrees(&m.differences) {
            return false;
        }
        m.at = Some(home);
    }
    true
}

fn finish<'p>(matches: Vec<Match<'p>>, found: &[usize]) -> Matching<'p> {
    let taken: HashSet<usize> = matches.iter().filter_map(|m| m.at).collect();
    let unplanned = found.iter().copied().filter(|slot| !taken.contains(slot)).collect();
    Matching { matches, unplanned }
}

/// Number of demanded fields that the listing does not state for a module.
fn open(differences: &[(DemandField, Outcome)]) -> usize {
    differences.iter().filter(|(_, outcome)| *outcome == Outcome::Unproven).count()
}

/// `doubts` counts the demanded fields that stay open for this module while the listing states them for
/// another, whether that one agrees or not.
fn cost(
    m: &Match<'_>,
    slot: usize,
    differences: &[(DemandField, Outcome)],
    doubts: usize,
    population: &Population<'_>,
) -> i64 {
    let here = m.home == Some(slot);
    let count = |number: usize| i64::try_from(number).unwrap_or(0);
    match (here, agrees(differences)) {
        (true, true) => count(differences.len()),
        // The planned module may sit unseen where it belongs; only its serial number shows that it is here instead.
        (false, true) if m.unseen && !is_pinned(m, slot, population) => NEVER,
        (false, true) => {
            let doubt = if doubts == 0 { 0 } else { DOUBT + MORE_DOUBT * count(doubts.min(5) - 1) };
            MOVE + doubt + distance(m.home, slot, population)
        }
        (true, false) => EXCHANGE + count(differences.len()),
        // A module that is both elsewhere and different is not the planned one.
        (false, false) => NEVER,
    }
}

/// Whether a module has the serial number of the planned one.
fn is_pinned(m: &Match<'_>, slot: usize, population: &Population<'_>) -> bool {
    m.wanted.serial.is_some() && population.slots[slot].fitted().is_some_and(|module| module.serial.is_some())
}

/// The cost of leaving a planned module without a match. One that sits idle in its own slot is there already.
fn absence(m: &Match<'_>, population: &Population<'_>) -> i64 {
    match m.home.map(|home| &population.slots[home].state) {
        Some(SlotState::NotRunning(module)) if agrees(&compare(m.wanted, module)) => IDLE,
        _ => REPLACE,
    }
}

/// How far a slot is from home, for choosing among equal moves: the same channel before the same socket
/// before the rest, then the nearest in the order of the listing; a slot that is not listed is farthest. Always below
/// 3000.
pub(crate) fn distance(home: Option<usize>, slot: usize, population: &Population<'_>) -> i64 {
    let Some(home) = home else { return 2999 };
    let (a, b) = (population.slots[home].location, population.slots[slot].location);
    let step = if a.socket == b.socket && a.channel.is_some() && a.channel == b.channel {
        0
    } else if a.socket.is_some() && a.socket == b.socket {
        1000
    } else {
        2000
    };
    step + i64::try_from(home.abs_diff(slot)).unwrap_or(900).min(900)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::evidence::Text;
    use crate::{plan, population, records};

    /// What a matching costs.
    fn total(matches: &[Match<'_>], found: &[usize], population: &Population<'_>) -> i64 {
        let unsettled: Vec<Match<'_>> =
            matches.iter().map(|m| Match { at: None, differences: Vec::new(), ..*m }).collect();
        let least = least_open(&unsettled, found, population);
        matches
            .iter()
            .zip(least)
            .map(|(m, least)| match m.at {
                Some(at) => {
                    let doubts = open(&m.differences).saturating_sub(least);
                    cost(m, at, &m.differences, doubts, population)
                }
                None => absence(m, population),
            })
            .sum()
    }

    const PLANNED: &[&str] =
        &["{size: 8 GiB}", "{size: 16 GiB}", "{size: 16 GiB, ranks: 2}", "any", "{part: ABC123}"];
    const FOUND: &[&str] = &[
        "No Module Installed",
        "8 GB",
        "16 GB",
        "16 GB\n\tRank: 2",
        "16 GB\n\tRank: 1",
        "8 GB\n\tPart Number: ABC123\n\tSerial Number: S1",
        "16 GB\n\tSerial Number: S2",
    ];

    /// Of two planned slots that a module could fill, one that the listing has is meant before one of a socket whose slots
    /// it does not have.
    #[test]
    fn a_slot_that_is_not_listed_is_farthest() {
        let record = |number: u32| {
            format!(
                "Handle 0x{number:04X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: P{number}-DIMMA1\n\tSize: 8 GB\n\n"
            )
        };
        let text = Text::from_bytes("t", (1..9).map(record).collect::<String>().into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let last = population.slots.len() - 1;
        assert!(distance(None, 0, &population) > distance(Some(last), 0, &population));
        assert!(distance(None, 0, &population) < 3000);
    }

    proptest! {
        /// Settling what is right beforehand costs nothing.
        #[test]
        fn settling_loses_nothing(
            slots in proptest::collection::vec((0..PLANNED.len() + 1, 0..FOUND.len(), 0usize..4), 1..8),
        ) {
            let (mut yaml, mut body) = ("fit:\n".to_owned(), String::new());
            for (number, (planned, found, serial)) in slots.iter().enumerate() {
                body += &format!("Handle 0x{number:04X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: A{number}\n\tSize: {}\n\n", FOUND[*found]);
                if let Some(module) = PLANNED.get(*planned) {
                    yaml += &format!("  - module: {module}\n    slots: [A{number}]\n");
                    if *serial > 0 {
                        yaml += &format!("    serials: [S{serial}]\n");
                    }
                }
            }
            let Ok(plan) = plan::read("p", &yaml) else { return Ok(()) };
            let text = Text::from_bytes("t", body.into_bytes()).unwrap();
            let listings = records::read(&text);
            let population = population::rebuild(&listings[0]);
            let found: Vec<usize> =
                (0..population.slots.len()).filter(|index| population.slots[*index].fitted().is_some()).collect();
            let fresh = || -> Vec<Match<'_>> {
                plan.modules()
                    .map(|(planned, wanted)| {
                        let home = population.slot(&planned.slot).map(|(index, _)| index);
                        Match { planned, wanted, home, at: None, unseen: false, differences: Vec::new() }
                    })
                    .collect()
            };
            let (mut settled, mut whole) = (fresh(), fresh());
            settle(&mut settled, &found, &population);
            assign_rest(&mut settled, &found, &population);
            assign_rest(&mut whole, &found, &population);
            prop_assert_eq!(total(&settled, &found, &population), total(&whole, &found, &population));
        }
    }
}
