//! `show`: the population as a listing proves it.

use crate::case::Case;
use crate::cli::arguments::{BoardChoice, Common, Listing};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::records;
use crate::report::Report;

pub(super) fn run(
    listing: &Listing,
    board: &BoardChoice,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let board = reader.board_for(board, None)?;
    let text = reader.listing(listing)?;
    let listing = records::read_nth(&text, listing.nth)?;
    let machine = Case::of(&text, &listing).board(board.as_ref());
    let case = machine.build()?;
    output::report(common, &Report::Population(&case))?;
    Ok(Outcome::AsPlanned)
}
