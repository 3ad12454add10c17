//! A server that shows too little: where its memory is lost, and which slots are suspect.

use super::claim::FittedClaim;
use super::diagnosis::Diagnosis;
use super::stated::{Agreement, Stated};
use super::suspects::{
    Suspicion, assumed_plan, beyond_main, earlier_plan, idle_slots, missing, suspects_beside,
};
use super::waterfall::{Stage, Station, waterfall};
use crate::audit::accused;
use crate::board::{self, Board};
use crate::case::Case;
use crate::plan::ModuleSpec;
use crate::units::Bytes;

/// Where memory is lost on its way from the bench to the operating system.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortfall {
    /// What arrives at each station.
    pub stages: Vec<Stage>,
    /// What someone says was fitted, beside what is detected.
    pub stated: Option<Stated>,
    /// The suspects, where there is no plan and someone says what was fitted.
    pub suspicion: Option<Suspicion>,
    /// Whether the board's channels are known, so that suspects can be named.
    pub channels_known: bool,
}

impl Shortfall {
    /// Where the memory of a diagnosed machine is lost, given what someone says was fitted and what that made suspect.
    pub fn of(diagnosis: &Diagnosis<'_>, claim: Option<&FittedClaim>, suspected: Suspected) -> Self {
        let Suspected { stated, suspicion, channels_known } = suspected;
        let in_main = |claim: &FittedClaim| {
            let beyond = beyond_main(claim, &diagnosis.case.population);
            Some(Bytes(claim.total()?.0.saturating_sub(beyond.0)))
        };
        let mut stages = waterfall(diagnosis, claim.and_then(in_main));
        if let Some(stated) = stated.as_ref().filter(|stated| stated.agreement == Agreement::Contradicted)
            && let Some(stage) =
                stages.iter_mut().find(|stage| stage.station == Station::Detected && stage.lost.0 > 0)
        {
            if stated.unlike {
                stage.reasons.clear();
            }
            stage.reasons.insert(0, "other modules are detected than were stated".to_owned());
        }
        Self { stages, stated, suspicion, channels_known }
    }

    /// The first station at which more is lost than is usual. What is mapped below the modules proves no loss.
    pub fn first_loss(&self) -> Option<&Stage> {
        self.stages.iter().find(|stage| !stage.usual && stage.lost.0 > 0 && stage.station != Station::Mapped)
    }

    /// Whether more is lost than is usual, or a module that was stated is not detected.
    pub fn loses(&self) -> bool {
        self.first_loss().is_some() || self.stated.as_ref().is_some_and(|stated| !stated.missing.is_empty())
    }

    /// The statement, where it is about other modules than those detected and no plan says more.
    pub fn contradiction(&self) -> Option<&Stated> {
        self.stated.as_ref().filter(|stated| stated.agreement == Agreement::Contradicted)
    }

    /// The suspects, where something is missing.
    pub fn suspects(&self) -> Option<&Suspicion> {
        self.suspicion.as_ref().filter(|suspicion| !suspicion.missing.is_empty())
    }
}

/// What is suspected of a machine before it is audited.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspected {
    stated: Option<Stated>,
    suspicion: Option<Suspicion>,
    channels_known: bool,
}

/// Where nobody wrote a plan, what is detected and the most plausible rest by `claim` stand in for it, or what an earlier
/// listing has.
pub fn assume<'c>(case: Case<'c>, claim: Option<&FittedClaim>) -> (Case<'c>, Suspected) {
    let board = channels(&case);
    let channels_known = board.is_some();
    let stated = claim.map(|claim| {
        let missing = missing(claim, &case.population, case.listing);
        Stated::of(claim, &case.population, &missing)
    });
    // With a plan, what is missing is known, and nothing need be guessed.
    if case.is_planned() {
        return (case, Suspected { stated, suspicion: None, channels_known });
    }
    let suspicion = stated.as_ref().map(|stated| {
        let (missing, others) = stated.sought(&case.population);
        match &board {
            Some(board) => suspects_beside(board, &case.population, missing, &others, named(&case)),
            None => last_slots(&case, missing),
        }
    });
    let plan = match &case.history.earlier {
        // What was seen before is better than any guess.
        Some(earlier) if claim.is_none() => earlier_plan(earlier.listing, &earlier.population),
        _ => assumed_plan(case.listing, &case.population, suspicion.as_ref()),
    };
    (case.assuming(plan), Suspected { stated, suspicion, channels_known })
}

/// Slots without a module in the listing that the event log names: something was there.
fn named(case: &Case<'_>) -> Vec<String> {
    let mut slots: Vec<String> = Vec::new();
    let accused = case.sources.events.iter().flat_map(|log| accused(case, log));
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
    let mut known: Vec<String> = idle_slots(&case.population);
    known.extend(named(case).into_iter().filter(|slot| !known.contains(slot)).collect::<Vec<_>>());
    // Of more than are missing nobody can say which.
    if known.len() > missing.len() {
        known.clear();
    }
    let way = if empty.len() == missing.len() { empty } else { known };
    let open = way.len() < missing.len();
    let first = way.iter().cloned().zip(missing.iter().cloned()).collect();
    Suspicion { ways: if way.is_empty() { Vec::new() } else { vec![way] }, first, missing, open }
}

/// The board that was named, or the one that the labels prove.
fn channels(case: &Case<'_>) -> Option<Board> {
    case.board.cloned().or_else(|| {
        let derived = board::from_population("labels", &case.population);
        derived.complete.then_some(derived.board)
    })
}
