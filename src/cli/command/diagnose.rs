//! `diagnose`: a server that shows too little.

use super::audit::write_work;
use crate::audit::audit;
use crate::case::Case;
use crate::cli::arguments::{Common, DiagnoseArguments, Machine};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::diagnose::{FittedClaim, Shortfall, assume, diagnose};
use crate::report::Report;
use crate::units::Bytes;
use crate::{compare, plan, records};

pub(super) fn run(
    arguments: &DiagnoseArguments,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let DiagnoseArguments { machine, fitted, plan: path, earlier, after } = arguments;
    let Machine { listing, board, others, work, screen } = machine;
    let claim = claim(fitted)?;
    let text = reader.listing(listing)?;
    let listing = records::read_nth(&text, listing.nth)?;
    let plan = path.as_deref().map(|path| reader.plan(path)).transpose()?;
    let sources = reader.sources(&others.files)?;
    let board = reader.board_for(board, plan.as_ref().zip(path.as_deref()))?;
    let earlier_text = earlier.as_deref().map(|path| reader.text(path)).transpose()?;
    let earlier = earlier_text.as_ref().map(records::read_one).transpose()?;
    if let Some(warning) = earlier.as_ref().and_then(|earlier| compare::other_machine(earlier, &listing)) {
        output::warn(&warning);
    }
    let machine = Case::of(&text, &listing).plan(&plan).board(&board).sources(sources);
    let machine = machine.earlier(&earlier).done(after.clone());
    let (case, suspected) = assume(machine.build()?, claim.as_ref());
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    let shortfall = Shortfall::of(&diagnosis, claim.as_ref(), suspected);
    write_work(&diagnosis, work.as_deref())?;
    output::screen(common, &Report::Diagnosis(&diagnosis, &shortfall), screen.extent())?;
    Ok(if shortfall.loses() { Outcome::Deviates } else { audit.verdict.into() })
}

/// Whether a text is a size with a fraction.
fn is_fraction(text: &str) -> bool {
    let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').trim();
    let number = text.trim().strip_suffix(unit).unwrap_or_default().trim();
    number.contains('.') && number.parse::<f64>().is_ok() && plan::parse_size(&format!("1 {unit}")).is_some()
}

/// What `--fitted` says.
fn claim(fitted: &[String]) -> Result<Option<FittedClaim>, CliError> {
    let mut modules = Vec::new();
    for text in fitted {
        let bad = |found: String| CliError::Fitted { text: text.clone(), found };
        match (plan::parse_size(text), fitted.len()) {
            (Some(Bytes(0)), _) => return Err(bad("a total of nothing".to_owned())),
            (Some(total), 1) => return Ok(Some(FittedClaim::Total(total))),
            _ => {}
        }
        if is_fraction(text) {
            return Err(bad("a total that is no whole number of MiB".to_owned()));
        }
        let read = plan::parse_order(text).map_err(|error| bad(error.to_string()))?;
        modules.push(read);
    }
    Ok(if modules.is_empty() { None } else { Some(FittedClaim::Modules(modules)) })
}
