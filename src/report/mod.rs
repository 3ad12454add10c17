//! Last stage: one result, several formats.
//!
//! `view` says what is said; each format lays it out and takes no content from another. Nothing is decided here.

mod columns;
pub mod fleet;
mod fleet_report;
mod html;
mod json;
mod text;
mod view;

use std::path::PathBuf;

use crate::board::Board;
use crate::capture::{Request, Taken};
use crate::case::Case;
use crate::check::PlanCheck;
use crate::compare::Comparison;
use crate::diagnose::{Diagnosis, Shortfall};
use crate::identity::{Document, PartNumber, documents};
use crate::plan::Plan;
use crate::population::Population;

pub use crate::sanitize::sanitize;
pub use fleet::{FleetJson, NotAuditedJson};
pub use html::{
    FleetPages, HostPage, HostPages, WritePage, audit_page, comparison_page, diagnosis_page, population_page,
};
pub use json::{
    AuditJson, CaptureJson, ComparisonJson, DiagnosisJson, PartsJson, PlanCheckJson, PopulationJson,
    audit_json, capture_json, comparison_json, diagnosis_json, parts_json, plan_check_json, population_json,
};
pub use text::{
    Extent, Layout, write_audit, write_comparison, write_diagnosis, write_parts, write_plan_check,
    write_population, write_work,
};

pub use html::as_html;
pub use json::as_json;
pub use text::as_text;

/// One result, to be laid out in a format.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub enum Report<'r> {
    /// A machine measured against its plan.
    Audit(&'r Diagnosis<'r>),
    /// A server that shows too little.
    Diagnosis(&'r Diagnosis<'r>, &'r Shortfall),
    /// What is fitted.
    Population(&'r Case<'r>),
    /// Two states side by side.
    Comparison(ComparisonReport<'r>),
    /// A plan against the rules of its board.
    PlanCheck(PlanCheckReport<'r>),
    /// A plan, with comments for its head.
    Plan(&'r Plan, &'r [String]),
    /// A capture, with what was asked for.
    Capture(&'r Taken, &'r Request),
    /// What part numbers say.
    Parts(&'r [PartReport]),
    /// The platform classes of the library.
    Classes,
    /// Files that were written.
    Files(&'r [PathBuf]),
}

/// A comparison with all it was made from.
#[derive(Debug, Clone, Copy)]
pub struct ComparisonReport<'r> {
    /// Name of the first input.
    pub before: &'r str,
    /// Name of the second input.
    pub after: &'r str,
    /// What differs.
    pub comparison: &'r Comparison,
    /// What makes the comparison doubtful.
    pub warnings: &'r [String],
    /// The second state.
    pub population: &'r Population<'r>,
}

/// A part number with what it says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartReport {
    /// The number as it was given.
    pub part: String,
    /// What it says; `None` where no known layout fits.
    pub read: Option<PartNumber>,
}

/// The documents that explain the codes of part numbers, each once.
fn documents_of(reports: &[PartReport]) -> Vec<&'static Document> {
    let mut all: Vec<&Document> = Vec::new();
    for field in reports.iter().filter_map(|report| report.read.as_ref()).flat_map(|read| &read.fields) {
        for document in documents(&field.source) {
            if !all.contains(&document) {
                all.push(document);
            }
        }
    }
    all
}

/// A plan check with all it was made from.
#[derive(Debug, Clone, Copy)]
pub struct PlanCheckReport<'r> {
    /// The plan.
    pub plan: &'r Plan,
    /// Its board.
    pub board: &'r Board,
    /// What came of it.
    pub check: &'r PlanCheck,
}

/// A result laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output {
    /// Text with styles, which are for terminals and to be taken out elsewhere.
    Styled(Vec<u8>),
    /// Bytes to be written as they are.
    Plain(Vec<u8>),
}
