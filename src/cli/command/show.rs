//! `show`: the population as a listing proves it.

use crate::case::Case;
use crate::cli::arguments::{BoardChoice, Common, Listing};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::records;
use crate::report;

pub(super) fn run(
    listing: &Listing,
    board: &BoardChoice,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let board = reader.board_for(board, None)?;
    let text = reader.text(&listing.path)?;
    let listing = records::read_nth(&text, listing.nth)?;
    let machine = Case::of(&text, &listing).board(board.as_ref());
    let case = machine.build()?;
    output::result_with_page(
        common,
        || report::population_json(&case),
        |out| report::write_population(&case, out),
        || report::population_page(&case),
    )?;
    Ok(Outcome::AsPlanned)
}
