//! A server that shows too little: where its memory is lost, and which slots are suspect.

use super::diagnosis::Diagnosis;
use super::suspects::{FittedClaim, Suspicion, assumed_plan, earlier_plan, missing, suspects_beside};
use super::waterfall::{Stage, Station, waterfall};
use crate::audit::accused;
use crate::board::{self, Board};
use crate::case::Case;
use crate::plan::ModuleSpec;
use crate::population::SlotState;

/// Where memory is lost on its way from the bench to the operating system.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortfall {
    /// What arrives at each station.
    pub stages: Vec<Stage>,
    /// The suspects, where there is no plan and someone says what was fitted.
    pub suspicion: Option<Suspicion>,
    /// Whether the board's channels are known, so that suspects can be named.
    pub channels_known: bool,
}

impl Shortfall {
    /// Where the memory of a diagnosed machine is lost, given what someone says was fitted and what that made suspect.
    pub fn of(diagnosis: &Diagnosis<'_>, claim: Option<&FittedClaim>, suspected: Suspected) -> Self {
        let Suspected { suspicion, channels_known } = suspected;
        let stages = waterfall(diagnosis, claim.and_then(FittedClaim::total));
        Self { stages, suspicion, channels_known }
    }

    /// The first station at which more is lost than is usual. What is mapped below the modules proves no loss.
    pub fn first_loss(&self) -> Option<&Stage> {
        self.stages.iter().find(|stage| !stage.usual && stage.lost.0 > 0 && stage.station != Station::Mapped)
    }

    /// Whether more is lost than is usual.
    pub fn loses(&self) -> bool {
        self.first_loss().is_some()
    }

    /// The suspects, where something is missing.
    pub fn suspects(&self) -> Option<&Suspicion> {
        self.suspicion.as_ref().filter(|suspicion| !suspicion.missing.is_empty())
    }
}

/// What is suspected of a machine before it is audited.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspected {
    suspicion: Option<Suspicion>,
    channels_known: bool,
}

/// Where nobody wrote a plan, what is detected and the most plausible rest by `claim` stand in for it, or what an earlier
/// listing has.
pub fn assume<'c>(case: Case<'c>, claim: Option<&FittedClaim>) -> (Case<'c>, Suspected) {
    let board = channels(&case);
    let channels_known = board.is_some();
    // With a plan, what is missing is known, and nothing need be guessed.
    if case.is_planned() {
        return (case, Suspected { suspicion: None, channels_known });
    }
    let suspicion = claim.map(|claim| {
        let missing = missing(claim, &case.population, case.listing);
        match &board {
            Some(board) => suspects_beside(board, &case.population, missing, named(&case)),
            None => last_slots(&case, missing),
        }
    });
    let plan = match &case.history.earlier {
        // What was seen before is better than any guess.
        Some(earlier) if claim.is_none() => earlier_plan(earlier.listing, &earlier.population),
        _ => assumed_plan(case.listing, &case.population, suspicion.as_ref()),
    };
    (case.assuming(plan), Suspected { suspicion, channels_known })
}

/// Slots without a module in the listing that the event log names: something was there.
fn named(case: &Case<'_>) -> Vec<String> {
    let mut slots: Vec<String> = Vec::new();
    let accused = case.sources.events.iter().flat_map(|log| accused(&case.population, log));
    for name in accused {
        let is_bare = case.population.slot(&name).is_some_and(|(_, slot)| slot.module().is_none());
        if is_bare && !slots.contains(&name) {
            slots.push(name);
        }
    }
    slots
}

/// Where nothing is known of the channels, suspects are the slots that firmware or the log name, or all that are empty, if
/// there are no more of them than modules are missing.
fn last_slots(case: &Case<'_>, missing: Vec<ModuleSpec>) -> Suspicion {
    let slots = case.population.slots.iter().filter(|slot| slot.fitted().is_none());
    let empty: Vec<String> = slots.map(|slot| slot.name.to_string()).collect();
    let idle = case.population.slots.iter().filter(|slot| matches!(slot.state, SlotState::NotRunning(_)));
    let mut known: Vec<String> = idle.map(|slot| slot.name.to_string()).chain(named(case)).collect();
    // Of more than are missing nobody can say which.
    if known.len() > missing.len() {
        known.clear();
    }
    let way = if empty.len() == missing.len() { empty } else { known };
    let open = way.len() < missing.len();
    Suspicion { missing, ways: if way.is_empty() { Vec::new() } else { vec![way] }, open }
}

/// The board that was named, or the one that the labels prove.
fn channels(case: &Case<'_>) -> Option<Board> {
    case.board.cloned().or_else(|| {
        let derived = board::from_population("labels", &case.population);
        derived.complete.then_some(derived.board)
    })
}
