//! `fleet`: many listings at once, results side by side.

mod baseline;
mod files;
mod plans;
mod progress;

use std::path::PathBuf;

use baseline::{Baseline, digest};
use files::Files;
use plans::plans;
use progress::progress;

use crate::audit::Severity;
use crate::cli::arguments::{Common, FleetArguments};
use crate::cli::input::Reader;
use crate::cli::output_file::explained;
use crate::cli::{CliError, Outcome, output};
use crate::fleet::{Fleet, Inputs, Limits, Stock};
use crate::population;
use crate::report::fleet::{FleetReport, HostView};

pub(super) fn run(
    arguments: &FleetArguments,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    reader.results().keep_apart(&input_paths(arguments))?;
    // While plans and stock are read.
    std::thread::spawn(population::prepare);
    let mut bad_plans = Vec::new();
    let plans = plans(arguments, reader, &mut bad_plans)?;
    let stock = match &arguments.stock {
        Some(path) => Stock::read(&path.display().to_string(), &reader.bytes(path)?)?,
        None => Stock::default(),
    };
    let mut baseline = arguments.baseline.as_deref().map(Baseline::read).transpose()?;
    let mut files = Files::open(&arguments.outputs, common)?;
    let mut outputs = files.outputs()?;
    let renderers = outputs.renderers();
    let progress = progress(arguments);
    let mut failed = None;
    let compared = baseline.is_some();
    let inputs = Inputs::new(arguments.paths.clone(), &not_listings(arguments, reader), Limits::default());
    let result = Fleet::new(&plans).stock(stock).jobs(arguments.jobs()).subset(arguments.subset).run(
        inputs,
        |host| {
            let host = HostView::new(host);
            (compared.then(|| digest(host.line(), host.host.name)), renderers.render(&host))
        },
        |host, (digest, rendered)| {
            progress.inc(1);
            let pair = baseline.as_mut().zip(digest);
            let differs = pair.is_none_or(|(baseline, digest)| baseline.differs(host, digest));
            outputs.see(&rendered);
            // After an error the rest is still read, so that the threads end.
            if differs && failed.is_none() {
                failed = outputs.write(rendered).err();
            }
        },
    );
    progress.finish_and_clear();
    if let Some(error) = failed {
        return Err(explained(error));
    }
    let changes = baseline.map(Baseline::changes);
    let report =
        FleetReport { changes: changes.as_ref(), bad_plans: &bad_plans, ..FleetReport::new(&result) };
    if report.summary.is_empty() {
        output::warn("found no listing below the paths, expected one at least. Check the paths");
    }
    outputs.finish(&report).map_err(explained)?;
    files.done()?;
    Ok(outcome(&report))
}

/// The worst of all: could not be done, deviates, unproven, as planned.
fn outcome(report: &FleetReport<'_>) -> Outcome {
    let stock = |severity| report.stock.count_of(severity) > 0;
    // Nothing audited is nothing proved.
    if report.summary.is_empty() {
        return Outcome::Failed;
    }
    match report.summary.worst_verdict() {
        None => Outcome::Failed,
        _ if !report.bad_plans.is_empty() => Outcome::Failed,
        Some(verdict) => match Outcome::from(verdict) {
            Outcome::Deviates => Outcome::Deviates,
            _ if stock(Severity::Fault) => Outcome::Deviates,
            Outcome::AsPlanned if stock(Severity::Unproven) => Outcome::Unproven,
            other => other,
        },
    }
}

/// Files that are read and are not listings.
fn other_inputs(arguments: &FleetArguments) -> impl Iterator<Item = &PathBuf> {
    [&arguments.manifest, &arguments.stock, &arguments.baseline].into_iter().flatten()
}

/// Everything that is read: files and folders.
fn input_paths(arguments: &FleetArguments) -> Vec<&PathBuf> {
    other_inputs(arguments).chain(&arguments.paths).chain(&arguments.plans).collect()
}

/// Files of this run that may be among the listings and are not listings.
fn not_listings(arguments: &FleetArguments, reader: &Reader<'_>) -> Vec<PathBuf> {
    let results = reader.results().paths().map(ToOwned::to_owned);
    other_inputs(arguments).chain(&arguments.plans).cloned().chain(results).collect()
}
