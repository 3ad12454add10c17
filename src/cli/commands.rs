//! One function per command: read, compute in the library, write.

use std::path::Path;

use clap::CommandFactory;

use super::arguments::{Arguments, Command, Common, Format, Generate, Listing, PlanCommand};
use super::{CliError, Outcome, input, output};
use crate::evidence::Text;
use crate::plan::Plan;
use crate::report::{self, AuditReport, Subject};
use crate::{audit, compare, demo, plan, population, records};

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, CliError> {
    let common = &arguments.common;
    match &arguments.command {
        Command::Demo { files: None } => demo_audit(common),
        Command::Demo { files: Some(folder) } => demo_files(folder, common),
        Command::Show(listing) => show(listing, common),
        Command::Audit { listing, plan } => {
            if input::is_standard_input(&listing.path) && input::is_standard_input(plan) {
                return Err(CliError::TwiceStandardInput);
            }
            let plan = input::plan(plan)?;
            let text = input::text(&listing.path)?;
            audit_text(&text, listing.nth, &plan, common)
        }
        Command::Plan(PlanCommand::From { listing, any_serial }) => plan_from(listing, *any_serial, common),
        Command::Compare { before, after } => compare_inputs(before, after, common),
        Command::Generate(what) => generate(what, common),
    }
}

fn demo_audit(common: &Common) -> Result<Outcome, CliError> {
    let text = Text::from_bytes(demo::LISTING_NAME, demo::LISTING.as_bytes().to_vec())?;
    let plan = plan::read(demo::PLAN_NAME, demo::PLAN)?;
    audit_text(&text, None, &plan, common)
}

fn demo_files(folder: &Path, common: &Common) -> Result<Outcome, CliError> {
    let failed = |reason| CliError::Write { path: folder.display().to_string(), reason };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let (listing, plan) = (folder.join("listing.txt"), folder.join("plan.yaml"));
    output::file(&listing, demo::LISTING.as_bytes())?;
    output::file(&plan, demo::PLAN.as_bytes())?;
    let text = format!("{}\n{}\n", listing.display(), plan.display());
    let files = [listing, plan];
    output::result(common, || files, |out| out.write_all(text.as_bytes()))?;
    Ok(Outcome::AsPlanned)
}

fn audit_text(text: &Text, nth: Option<usize>, plan: &Plan, common: &Common) -> Result<Outcome, CliError> {
    let listing = input::listing(text, nth)?;
    let population = population::rebuild(&listing);
    let audit = audit::audit(&listing, &population, plan)?;
    let subject = Subject { name: text.name(), listing: &listing, population: &population };
    let report = AuditReport { subject, plan, audit: &audit };
    output::result(common, || report::audit_json(&report), |out| report::write_audit(&report, out))?;
    Ok(audit.verdict.into())
}

fn show(listing: &Listing, common: &Common) -> Result<Outcome, CliError> {
    let text = input::text(&listing.path)?;
    let listing = input::listing(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    let subject = Subject { name: text.name(), listing: &listing, population: &population };
    output::result(
        common,
        || report::population_json(subject),
        |out| report::write_population(subject, out),
    )?;
    Ok(Outcome::AsPlanned)
}

fn plan_from(listing: &Listing, any_serial: bool, common: &Common) -> Result<Outcome, CliError> {
    let text = input::text(&listing.path)?;
    let listing = input::listing(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    let derived = plan::from_population(&listing, &population, any_serial);
    for caution in &derived.cautions {
        output::complain(caution);
    }
    let mut comments = vec![format!("Derived from {}; the listing fulfils this plan exactly.", text.name())];
    comments.extend(derived.cautions);
    let yaml = plan::to_yaml(&derived.plan, &comments);
    match common.format {
        Format::Text => output::plain(common, yaml.as_bytes())?,
        Format::Json => output::result(common, || plan::to_json(&derived.plan), |_| Ok(()))?,
    }
    Ok(Outcome::AsPlanned)
}

fn compare_inputs(before: &Path, after: &Path, common: &Common) -> Result<Outcome, CliError> {
    if input::is_standard_input(before) && input::is_standard_input(after) {
        return Err(CliError::TwiceStandardInput);
    }
    let (first, second) = (input::text(before)?, input::text(after)?);
    let after = input::listing(&second, None)?;
    let after = population::rebuild(&after);
    // A plan is recognised by its content: it holds no record.
    let is_plan = records::read(&first).iter().all(records::Listing::is_empty);
    let comparison = if is_plan {
        compare::plan_with(&plan::read(first.name(), first.as_str())?, &after)
    } else {
        let before = input::listing(&first, None)?;
        compare::populations(&population::rebuild(&before), &after)
    };
    let (a, b) = (first.name(), second.name());
    output::result(
        common,
        || report::comparison_json(a, b, &comparison),
        |out| report::write_comparison(a, b, &comparison, out),
    )?;
    Ok(if comparison.changes.is_empty() { Outcome::AsPlanned } else { Outcome::Deviates })
}

fn generate(what: &Generate, common: &Common) -> Result<Outcome, CliError> {
    let mut command = Arguments::command();
    let mut bytes = Vec::new();
    match what {
        Generate::Completions { shell } => {
            clap_complete::generate(*shell, &mut command, "asfitted", &mut bytes);
        }
        Generate::Man => clap_mangen::Man::new(command).render(&mut bytes)?,
        #[cfg(feature = "schema")]
        Generate::Schema { of } => {
            use super::arguments::SchemaOf;
            let schema = match of {
                SchemaOf::Plan => plan::schema(),
                SchemaOf::Audit => schemars::schema_for!(report::AuditJson).to_value(),
                SchemaOf::Population => schemars::schema_for!(report::PopulationJson).to_value(),
                SchemaOf::Comparison => schemars::schema_for!(report::ComparisonJson).to_value(),
            };
            serde_json::to_writer_pretty(&mut bytes, &schema).map_err(std::io::Error::from)?;
            bytes.push(b'\n');
        }
    }
    output::plain(common, &bytes)?;
    Ok(Outcome::AsPlanned)
}
