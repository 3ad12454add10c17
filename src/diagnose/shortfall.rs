//! A server that shows too little: where its memory is lost, and which slots are suspect.

use super::diagnosis::Diagnosis;
use super::suspects::{FittedClaim, Suspicion, assumed_plan, beyond_main, missing, suspects};
use super::waterfall::{Stage, Station, waterfall};
use crate::board::{self, Board};
use crate::case::Case;
use crate::units::Bytes;

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
        let stated = |claim: &FittedClaim| {
            let beyond = beyond_main(claim, &diagnosis.case.population);
            Some(Bytes(claim.total()?.0.saturating_sub(beyond.0)))
        };
        let stages = waterfall(diagnosis, claim.and_then(stated));
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

/// Where nobody wrote a plan, what is detected and the most plausible rest by `claim` stand in for it.
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
            Some(board) => suspects(board, &case.population, missing),
            None => Suspicion { missing, ways: Vec::new(), open: true },
        }
    });
    let plan = assumed_plan(case.listing, &case.population, suspicion.as_ref());
    (case.assuming(plan), Suspected { suspicion, channels_known })
}

/// The board that was named, or the one that the labels prove.
fn channels(case: &Case<'_>) -> Option<Board> {
    case.board.cloned().or_else(|| {
        let derived = board::from_population("labels", &case.population);
        derived.complete.then_some(derived.board)
    })
}
