//! `boards`: descriptions listed, printed, and derived from a listing.

use crate::cli::arguments::{BoardsCommand, Common, Listing};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::report::Report;
use crate::{board, population, records};

pub(super) fn run(
    command: &BoardsCommand,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    match command {
        BoardsCommand::List => list(common),
        BoardsCommand::Print { board } => print(board, reader, common),
        BoardsCommand::Derive(listing) => derive(listing, reader, common),
    }
}

fn list(common: &Common) -> Result<Outcome, CliError> {
    output::report(common, &Report::Classes)?;
    Ok(Outcome::AsPlanned)
}

fn print(name: &str, reader: &Reader<'_>, common: &Common) -> Result<Outcome, CliError> {
    let mut board = reader.board(name, None)?;
    // All rules are wanted, also those that come with the class.
    board.class = None;
    output::plain(common, board::to_yaml(&board, &[]).as_bytes())?;
    Ok(Outcome::AsPlanned)
}

fn derive(listing: &Listing, reader: &Reader<'_>, common: &Common) -> Result<Outcome, CliError> {
    let text = reader.listing(listing)?;
    let listing = records::read_nth(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    let product = listing.boards.first().and_then(|board| board.product.get());
    let derived = board::from_population(product.unwrap_or("board"), &population);
    for doubt in &derived.board.unproven {
        output::warn(&format!("unproven: {doubt}"));
    }
    let comments = vec![
        format!("Derived from the labels in {}.", text.name()),
        "Compare it with the diagram in the lid: slots in the order of filling, first slot first.".to_owned(),
    ];
    output::plain(common, board::to_yaml(&derived.board, &comments).as_bytes())?;
    Ok(Outcome::AsPlanned)
}
