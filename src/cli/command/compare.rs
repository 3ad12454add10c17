//! `compare`: two listings of one machine, or a plan and a listing, slot by slot.

use std::path::Path;

use crate::cli::arguments::Common;
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, input, output};
use crate::report::{ComparisonReport, Report};
use crate::{compare, plan, population, records};

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
    let mut warnings = Vec::new();
    let comparison = if is_plan {
        compare::plan_with(&plan::read(first.name(), first.as_str())?, &after)
    } else {
        let before = records::read_one(&first)?;
        warnings.extend(compare::other_machine(&before, &after_listing));
        compare::populations(&population::rebuild(&before), &after)
    };
    for warning in &warnings {
        output::warn(warning);
    }
    let report = ComparisonReport {
        before: first.name(),
        after: second.name(),
        comparison: &comparison,
        warnings: &warnings,
        population: &after,
    };
    output::report(common, &Report::Comparison(report))?;
    Ok(if comparison.changes.is_empty() { Outcome::AsPlanned } else { Outcome::Deviates })
}
