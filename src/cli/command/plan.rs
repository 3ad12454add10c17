//! `plan`: plans derived from a listing, checked against rules, and orders that become slots.

use std::path::Path;

use crate::board::Board;
use crate::cli::arguments::{BoardChoice, Common, Listing, PlanCommand};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::place::Placed;
use crate::plan::Plan;
use crate::report::{PlanCheckReport, Report};
use crate::{check, place, plan, population, records};

pub(super) fn run(command: &PlanCommand, reader: &Reader<'_>, common: &Common) -> Result<Outcome, CliError> {
    match command {
        PlanCommand::From { listing, any_serial } => from(listing, *any_serial, reader, common),
        PlanCommand::Check { plan, board } => check(plan, board, reader, common),
        PlanCommand::Place { plan, board, why } => place(plan, board, *why, reader, common),
    }
}

/// The plan, and the board that it or the command line names.
fn plan_and_board(path: &Path, board: &BoardChoice, reader: &Reader<'_>) -> Result<(Plan, Board), CliError> {
    let plan = reader.plan(path)?;
    match reader.board_for(board, Some((&plan, path)))? {
        Some(board) => Ok((plan, board)),
        None => Err(CliError::NoBoard { plan: plan.source }),
    }
}

fn place(
    path: &Path,
    board: &BoardChoice,
    why: bool,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let (plan, board) = plan_and_board(path, board, reader)?;
    let (placement, outcome) = match place::place(&plan, &board)? {
        Placed::All(placement) => (Some(*placement), Outcome::AsPlanned),
        Placed::Refused(refusal) => {
            for rule in &refusal.rules {
                output::warn(&format!("the order does not fit: {rule}"));
            }
            match &refusal.largest {
                Some(_) => output::warn("the largest part that fits is placed"),
                None if refusal.too_large => output::warn(
                    "the largest part that fits was not looked for: too many different modules for an exact search. Split the order",
                ),
                None => output::warn("no part of it could be placed"),
            }
            (refusal.largest, Outcome::Deviates)
        }
    };
    let Some(placement) = placement else { return Ok(outcome) };
    let comments = if why { placement.reasons } else { Vec::new() };
    output::report(common, &Report::Plan(&placement.plan, &comments))?;
    Ok(outcome)
}

fn check(
    path: &Path,
    board: &BoardChoice,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let (plan, board) = plan_and_board(path, board, reader)?;
    let check = check::check_plan(&plan, &board)?;
    let report = PlanCheckReport { plan: &plan, board: &board, check: &check };
    output::report(common, &Report::PlanCheck(report))?;
    Ok(check.verdict.into())
}

fn from(
    listing: &Listing,
    any_serial: bool,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let text = reader.text(&listing.path)?;
    let listing = records::read_nth(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    if population.slots.is_empty() {
        return Err(CliError::NoSlots { path: text.name().to_owned() });
    }
    let derived = plan::from_population(&listing, &population, any_serial);
    if !derived.plan.demands_anything() {
        return Err(CliError::NothingToPlan { path: text.name().to_owned() });
    }
    for caution in &derived.cautions {
        output::warn(caution);
    }
    let mut comments = vec![format!("Derived from {}; the listing fulfils this plan exactly.", text.name())];
    comments.extend(derived.cautions);
    output::report(common, &Report::Plan(&derived.plan, &comments))?;
    Ok(Outcome::AsPlanned)
}
