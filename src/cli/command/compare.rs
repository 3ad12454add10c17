//! `compare`: two listings of one machine, or a plan and a listing, slot by slot.

use std::path::Path;

use crate::cli::arguments::Common;
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, input, output};
use crate::{compare, plan, population, records, report};

pub(super) fn run(
    before: &Path,
    after: &Path,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    if input::is_standard_input(before) && input::is_standard_input(after) {
        return Err(CliError::TwiceStandardInput);
    }
    let (first, second) = (reader.text(before)?, reader.text(after)?);
    let after_listing = records::read_one(&second)?;
    let after = population::rebuild(&after_listing);
    // A plan is recognised by its content: it holds no record.
    let is_plan = records::read(&first).iter().all(records::Listing::is_empty);
    let mut notes = Vec::new();
    let comparison = if is_plan {
        compare::plan_with(&plan::read(first.name(), first.as_str())?, &after)
    } else {
        let before = records::read_one(&first)?;
        notes.extend(compare::other_machine(&before, &after_listing));
        compare::populations(&population::rebuild(&before), &after)
    };
    for note in &notes {
        output::warn(note);
    }
    let (a, b) = (first.name(), second.name());
    output::result_with_page(
        common,
        || report::comparison_json(a, b, &comparison, &notes),
        |out| report::write_comparison(a, b, &comparison, &notes, out),
        || report::comparison_page(a, b, &comparison, &notes, &after),
    )?;
    Ok(if comparison.changes.is_empty() { Outcome::AsPlanned } else { Outcome::Deviates })
}
