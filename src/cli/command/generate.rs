//! `generate`: completions, the man page, and the schemas of results.

use clap::CommandFactory;

use crate::cli::arguments::{Arguments, Common, Generate};
use crate::cli::{CliError, Outcome, output};
#[cfg(feature = "schema")]
use crate::{board, plan, report};

pub(super) fn run(what: &Generate, common: &Common) -> Result<Outcome, CliError> {
    let mut command = Arguments::command();
    let mut bytes = Vec::new();
    match what {
        Generate::Completions { shell } => {
            clap_complete::generate(*shell, &mut command, "asfitted", &mut bytes);
        }
        Generate::Man => clap_mangen::Man::new(command).render(&mut bytes)?,
        #[cfg(feature = "schema")]
        Generate::Schema { of } => {
            use crate::cli::arguments::SchemaOf;
            let schema = match of {
                SchemaOf::Plan => plan::schema(),
                SchemaOf::Audit => schemars::schema_for!(report::AuditJson).to_value(),
                SchemaOf::Population => schemars::schema_for!(report::PopulationJson).to_value(),
                SchemaOf::Board => board::schema(),
                SchemaOf::Diagnosis => schemars::schema_for!(report::DiagnosisJson).to_value(),
                SchemaOf::Capture => schemars::schema_for!(report::CaptureJson).to_value(),
                SchemaOf::Fleet => schemars::schema_for!(report::FleetJson).to_value(),
                SchemaOf::NotAudited => schemars::schema_for!(report::NotAuditedJson).to_value(),
                SchemaOf::PlanCheck => schemars::schema_for!(report::PlanCheckJson).to_value(),
                SchemaOf::Parts => schemars::schema_for!(report::PartsJson).to_value(),
                SchemaOf::Comparison => schemars::schema_for!(report::ComparisonJson).to_value(),
            };
            serde_json::to_writer_pretty(&mut bytes, &schema).map_err(std::io::Error::from)?;
            bytes.push(b'\n');
        }
    }
    output::plain(common, &bytes)?;
    Ok(Outcome::AsPlanned)
}
