//! Last stage: one result, several forms. Nothing is decided here; every form comes from the same findings.

mod audit_json;
mod audit_text;
mod check;
mod comparison_json;
mod comparison_text;
mod diagnosis;
mod layout;
mod map;
mod population_json;
mod population_text;
mod sanitize;
mod slots;
mod work;

pub use audit_json::{AuditJson, audit_json};
pub use audit_text::write_audit;
pub use check::{PlanCheckJson, plan_check_json, write_plan_check};
pub use comparison_json::{ComparisonJson, comparison_json};
pub use comparison_text::write_comparison;
pub use diagnosis::{DiagnosisJson, DiagnosisReport, diagnosis_json, write_diagnosis};
pub use population_json::{PopulationJson, population_json};
pub use population_text::write_population;
pub use sanitize::sanitize;
pub use slots::{ListingJson, MachineJson, ModuleJson, SlotJson};
pub use work::write_work;

use crate::audit::Audit;
use crate::board::Board;
use crate::diagnose::{Step, work};
use crate::plan::Plan;
use crate::population::Population;
use crate::records::Listing;

/// A population with where it comes from.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'r, 'a> {
    /// Name of the input, as given.
    pub name: &'r str,
    /// The records.
    pub listing: &'r Listing<'a>,
    /// What they prove.
    pub population: &'r Population<'a>,
}

/// An audit with all it was made from.
#[derive(Debug, Clone, Copy)]
pub struct AuditReport<'r, 'a> {
    /// The machine.
    pub subject: Subject<'r, 'a>,
    /// The plan.
    pub plan: &'r Plan,
    /// The result.
    pub audit: &'r Audit,
    /// The board whose rules were checked.
    pub board: Option<&'r Board>,
}

impl AuditReport<'_, '_> {
    /// The steps that turn what is fitted into what is planned.
    pub(crate) fn work(&self) -> Vec<Step> {
        work(self.subject.population, self.plan, &self.audit.findings)
    }
}
