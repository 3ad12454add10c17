//! `audit`: one listing against its plan.

use std::path::Path;

use crate::audit::audit;
use crate::board::Board;
use crate::case::Case;
use crate::cli::arguments::{AuditArguments, Common, Machine};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, input, output};
use crate::diagnose::{Diagnosis, diagnose};
use crate::evidence::Text;
use crate::plan::Plan;
use crate::records;
use crate::report::{self, Extent, Report};
use crate::sources::Sources;

pub(super) fn run(
    arguments: &AuditArguments,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let AuditArguments { machine: Machine { listing, board, others, work, screen }, plan: path } = arguments;
    let from_standard_input = listing.path.as_deref().is_some_and(input::is_standard_input);
    if from_standard_input && input::is_standard_input(path) {
        return Err(CliError::TwiceStandardInput);
    }
    let plan = reader.plan(path)?;
    let board = reader.board_for(board, Some((&plan, path)))?;
    let text = reader.listing(listing)?;
    let inputs = Inputs {
        text: &text,
        nth: listing.nth,
        plan: &plan,
        board: board.as_ref(),
        sources: reader.sources(&others.files)?,
        work: work.as_deref(),
        extent: screen.extent(),
    };
    write(inputs, common)
}

/// What an audit is made from.
pub(super) struct Inputs<'i> {
    pub(super) text: &'i Text,
    pub(super) nth: Option<usize>,
    pub(super) plan: &'i Plan,
    pub(super) board: Option<&'i Board>,
    pub(super) sources: Sources,
    pub(super) work: Option<&'i Path>,
    pub(super) extent: Extent,
}

/// Audits and writes the result.
pub(super) fn write(inputs: Inputs<'_>, common: &Common) -> Result<Outcome, CliError> {
    let Inputs { text, nth, plan, board, sources, work, extent } = inputs;
    let listing = records::read_nth(text, nth)?;
    let machine = Case::of(text, &listing).plan(plan).board(board).sources(sources);
    let case = machine.build()?;
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    write_work(&diagnosis, work)?;
    output::screen(common, &Report::Audit(&diagnosis), extent)?;
    Ok(audit.verdict.into())
}

/// Writes the work order, if it is asked for.
pub(super) fn write_work(diagnosis: &Diagnosis<'_>, path: Option<&Path>) -> Result<(), CliError> {
    let Some(path) = path else { return Ok(()) };
    let mut made = Vec::new();
    report::write_work(diagnosis, &mut made)?;
    output::unstyled_file(path, &made)
}
