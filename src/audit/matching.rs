//! Which found module is which planned one: least work first.

use super::assignment::{Costs, assign};
use super::differences::{Outcome, agrees, compare};
use crate::plan::{DemandField, Plan, PlannedSlot, Wanted};
use crate::population::{Population, Slot, SlotState};

/// A planned module and where it turned out to be.
#[derive(Debug)]
pub(super) struct Match<'p> {
    /// The planned slot.
    pub(super) planned: &'p PlannedSlot,
    /// The planned module.
    pub(super) wanted: &'p Wanted,
    /// Index of the planned slot in the population; `None` where the listing does not have it.
    pub(super) home: Option<usize>,
    /// Index of the slot whose module was matched; `None` for a module that is detected nowhere.
    pub(super) at: Option<usize>,
    /// Fields that differ or stay open in the matched module.
    pub(super) differences: Vec<(DemandField, Outcome)>,
}

/// Planned modules with what was found for each, and the slots with modules that nothing calls for.
#[derive(Debug)]
pub(super) struct Matching<'p> {
    pub(super) matches: Vec<Match<'p>>,
    pub(super) unplanned: Vec<usize>,
}

/// Costs of the kinds of work, far enough apart that a cheaper kind always wins over a dearer one.
///
/// A module that is right stays (0), and so does one that is right and idle (`IDLE`). Moving one that is there (`MOVE`) is cheaper than getting another one:
/// exchanging a wrong one (`EXCHANGE`); taking a module for a planned one although the listing leaves open
/// what it states for others (`DOUBT`), or adding a missing one while another is left over (`REPLACE`).
const IDLE: i64 = 1_000;
const MOVE: i64 = 10_000;
const EXCHANGE: i64 = 10_000_000;
const DOUBT: i64 = 10_000_000;
const REPLACE: i64 = 100_000_000;
const NEVER: i64 = 10_000_000_000;

/// Matches found modules to planned ones.
pub(super) fn match_modules<'p>(plan: &'p Plan, population: &Population<'_>) -> Matching<'p> {
    let found: Vec<usize> =
        (0..population.slots.len()).filter(|index| population.slots[*index].fitted().is_some()).collect();
    let mut matches: Vec<Match<'p>> = plan
        .modules()
        .map(|(planned, wanted)| {
            let home = population.slot(&planned.slot).map(|(index, _)| index);
            Match { planned, wanted, home, at: None, differences: Vec::new() }
        })
        .collect();
    if in_place(&mut matches, population) {
        return finish(matches, &found);
    }
    let rows = matches.len();
    let all: Vec<Vec<(DemandField, Outcome)>> = matches
        .iter()
        .flat_map(|m| found.iter().map(|slot| differences(m.wanted, &population.slots[*slot])))
        .collect();
    let least_open: Vec<usize> = (0..rows)
        .map(|row| all[row * found.len()..(row + 1) * found.len()].iter().map(|d| open(d)).min().unwrap_or(0))
        .collect();
    let costs = Costs::new(rows, found.len() + rows, |row, column| match found.get(column) {
        Some(slot) => {
            let differences = &all[row * found.len() + column];
            cost(
                &matches[row],
                *slot,
                differences,
                open(differences).saturating_sub(least_open[row]),
                population,
            )
        }
        None => absence(&matches[row], population),
    });
    for (row, column) in assign(&costs).into_iter().enumerate() {
        if let Some(slot) = found.get(column) {
            matches[row].at = Some(*slot);
            matches[row].differences.clone_from(&all[row * found.len() + column]);
        }
    }
    finish(matches, &found)
}

fn differences(wanted: &Wanted, slot: &Slot<'_>) -> Vec<(DemandField, Outcome)> {
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
    let taken: Vec<usize> = matches.iter().filter_map(|m| m.at).collect();
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
        (false, true) => MOVE + DOUBT * count(doubts.min(5)) + distance(m.home, slot, population),
        (true, false) => EXCHANGE + count(differences.len()),
        // A module that is both elsewhere and different is not the planned one.
        (false, false) => NEVER,
    }
}

/// The cost of leaving a planned module without a match. One that sits idle in its own slot is there already.
fn absence(m: &Match<'_>, population: &Population<'_>) -> i64 {
    match m.home.map(|home| &population.slots[home].state) {
        Some(SlotState::NotRunning(module)) if agrees(&compare(m.wanted, module)) => IDLE,
        _ => REPLACE,
    }
}

/// How far a slot is from home, for choosing among equal moves: the same channel before the same socket
/// before the rest, then the nearest in the order of the listing. Always below 3000.
pub(crate) fn distance(home: Option<usize>, slot: usize, population: &Population<'_>) -> i64 {
    let Some(home) = home else { return 0 };
    let (a, b) = (population.slots[home].location, population.slots[slot].location);
    let step = if a.socket == b.socket && a.channel.is_some() && a.channel == b.channel {
        0
    } else if a.socket == b.socket {
        1000
    } else {
        2000
    };
    step + i64::try_from(home.abs_diff(slot)).unwrap_or(900).min(900)
}
