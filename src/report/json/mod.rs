//! For machines. Keys and meanings are a contract; see docs/json.md.

mod audit;
mod capture;
mod check;
mod comparison;
mod diagnosis;
mod expectation;
mod findings;
mod part_numbers;
mod parts;
mod population;
mod proof;
mod record;

use std::io;

use serde::Serialize;

pub use audit::{AuditJson, audit_json};
pub use capture::{CaptureJson, capture_json};
pub use check::{PlanCheckJson, plan_check_json};
pub use comparison::{ComparisonJson, comparison_json};
pub use diagnosis::{DiagnosisJson, diagnosis_json};
pub use part_numbers::{PartsJson, parts_json};
pub use population::{PopulationJson, population_json};

use super::{Output, Report};
use crate::{board, plan};

/// Any result as JSON; every result has it.
///
/// # Errors
/// Those of writing to memory, which do not happen.
pub fn as_json(report: &Report<'_>) -> io::Result<Option<Output>> {
    match report {
        Report::Audit(diagnosis) => pretty(&audit_json(diagnosis)),
        Report::Diagnosis(diagnosis, shortfall) => pretty(&diagnosis_json(diagnosis, shortfall)),
        Report::Population(case) => pretty(&population_json(case)),
        Report::Comparison(comparison) => pretty(&comparison_json(comparison)),
        Report::PlanCheck(check) => pretty(&plan_check_json(check)),
        Report::Plan(plan, _) => pretty(&plan::to_json(plan)),
        Report::Capture(taken, request) => pretty(&capture_json(taken, request)),
        Report::Parts(parts) => pretty(&parts_json(parts)),
        Report::Classes => pretty(&board::CLASSES.iter().map(|class| class.name).collect::<Vec<_>>()),
        Report::Files(paths) => pretty(paths),
    }
}

fn pretty(value: &impl Serialize) -> io::Result<Option<Output>> {
    let mut made = serde_json::to_vec_pretty(value)?;
    made.push(b'\n');
    Ok(Some(Output::Plain(made)))
}
