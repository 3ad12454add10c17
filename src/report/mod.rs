//! Last stage: one result, several forms. Nothing is decided here; every form comes from the same findings.

mod audit_json;
mod audit_text;
mod capture;
mod check;
mod comparison_json;
mod comparison_text;
mod diagnosis;
pub mod fleet;
mod html;
mod layout;
mod map;
mod population_json;
mod population_text;
mod slots;
mod work;

pub use crate::sanitize::sanitize;
pub use audit_json::{AuditJson, audit_json};
pub use audit_text::write_audit;
pub use capture::{CaptureJson, capture_json};
pub use check::{PlanCheckJson, plan_check_json, write_plan_check};
pub use comparison_json::{ComparisonJson, comparison_json};
pub use comparison_text::write_comparison;
pub use diagnosis::{DiagnosisJson, diagnosis_json, write_diagnosis};
pub use fleet::{FleetJson, NotAuditedJson};
pub use html::{
    FleetPages, HostPage, HostPages, WritePage, audit_page, comparison_page, diagnosis_page, population_page,
};
pub use population_json::{PopulationJson, population_json};
pub use population_text::write_population;
pub use slots::{ListingJson, MachineJson, ModuleJson, SlotJson};
pub use work::write_work;
