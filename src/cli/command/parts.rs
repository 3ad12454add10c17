//! `parts`: what part numbers say.

use crate::cli::arguments::{Common, PartsCommand};
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::identity::part_number;
use crate::report::{PartReport, Report};

pub(super) fn run(command: &PartsCommand, reader: &Reader<'_>, common: &Common) -> Result<Outcome, CliError> {
    let PartsCommand::Explain { parts, list } = command;
    let mut parts = parts.clone();
    if let Some(path) = list {
        let text = reader.text(path)?;
        let before = parts.len();
        parts.extend(text.as_str().lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned));
        if parts.len() == before {
            return Err(CliError::NoParts { path: text.name().to_owned() });
        }
    }
    let reports: Vec<PartReport> =
        parts.into_iter().map(|part| PartReport { read: part_number(&part), part }).collect();
    output::report(common, &Report::Parts(&reports))?;
    let all = reports.iter().all(|report| report.read.is_some());
    Ok(if all { Outcome::AsPlanned } else { Outcome::Unproven })
}
