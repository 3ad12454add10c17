//! `plan`: plans derived from a listing, checked against rules, and orders that become slots.

use std::path::Path;

use crate::board::Board;
use crate::cli::arguments::{BoardChoice, Common, Listing, PlanCommand};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::place::Placed;
use crate::plan::Plan;
use crate::report::{PlanCheckReport, Report};
use crate::{board, check, place, plan, population, records};

pub(super) fn run(command: &PlanCommand, reader: &Reader<'_>, common: &Common) -> Result<Outcome, CliError> {
    match command {
        PlanCommand::From { listing, any_serial } => from(listing, *any_serial, reader, common),
        PlanCommand::Check { plan, board } => check(plan, board, reader, common),
        PlanCommand::Place { orders, board, why, partial } => {
            let (plan, board) = ordered(orders, board, reader)?;
            place(&plan, &board, PlaceOptions { why: *why, partial: *partial }, common)
        }
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

/// What is to be placed: the order of a file, or the orders as they were typed.
fn ordered(orders: &[String], board: &BoardChoice, reader: &Reader<'_>) -> Result<(Plan, Board), CliError> {
    if let [only] = orders
        && is_file(only)
    {
        return plan_and_board(Path::new(only), board, reader);
    }
    let read = |text: &String| {
        let wrong = |found: String| CliError::Order { text: text.clone(), found };
        if is_file(text) {
            return Err(wrong("a file beside other orders".to_owned()));
        }
        plan::parse_order(text).map_err(|error| wrong(error.to_string()))
    };
    let order = orders.iter().map(read).collect::<Result<_, _>>()?;
    let plan = Plan { source: "the order".to_owned(), order, ..Plan::default() };
    match reader.board_for(board, None)? {
        Some(board) => Ok((plan, board)),
        None => Err(CliError::NoBoard { plan: plan.source }),
    }
}

/// Whether an argument of `plan place` means a file: one that is there, or that is called like one.
fn is_file(text: &str) -> bool {
    let path = Path::new(text);
    let ends =
        |end: &std::ffi::OsStr| ["yaml", "yml", "json"].iter().any(|known| end.eq_ignore_ascii_case(known));
    text == "-" || path.is_file() || path.extension().is_some_and(ends)
}

/// How a placement is written.
#[derive(Debug, Clone, Copy)]
struct PlaceOptions {
    why: bool,
    partial: bool,
}

fn place(
    plan: &Plan,
    board: &Board,
    PlaceOptions { why, partial }: PlaceOptions,
    common: &Common,
) -> Result<Outcome, CliError> {
    let (mut comments, mut part) = (Vec::new(), None);
    let (placement, outcome) = match place::place(plan, board)? {
        Placed::All(placement) => (Some(*placement), Outcome::AsPlanned),
        Placed::Refused(refusal) => {
            for rule in &refusal.rules {
                output::warn(&format!("the order does not fit: {rule}"));
            }
            match &refusal.largest {
                Some(_) => {
                    let placed = format!("only a part of the order: {}", refusal.left_over());
                    output::warn(&if partial {
                        format!("the plan holds {placed}")
                    } else {
                        format!("no plan is written, since it would hold {placed}; `--partial` writes it")
                    });
                    comments.push(format!("This plan holds {placed}."));
                    part = Some(placed);
                }
                None if refusal.too_large => output::warn(
                    "the largest part that fits was not looked for: too many different modules for an exact search. Split the order",
                ),
                None => output::warn("no part of it could be placed"),
            }
            (refusal.largest.filter(|_| partial), Outcome::Deviates)
        }
    };
    let Some(mut placement) = placement else { return Ok(outcome) };
    if let Some(part) = part {
        // A comment is lost in other forms and by whoever reads the plan; its name goes wherever the plan goes.
        let name = placement.plan.name.take().map_or_else(String::new, |name| format!("{name}: "));
        placement.plan.name = Some(format!("{name}{part}"));
    }
    comments.extend(placement.reasons.into_iter().filter(|_| why));
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
    let board = board::with_slots_of(board, &plan);
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
    let text = reader.listing(listing)?;
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
