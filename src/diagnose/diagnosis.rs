//! The diagnosis of one machine: made once, and only read afterwards.

use super::causes::{Cause, DiagnosisInput, causes};
use super::order::order;
use super::step::Step;
use crate::audit::{Audit, Finding};
use crate::case::Case;

/// One machine with its findings, their causes, and what to do.
#[derive(Debug, Clone)]
pub struct Diagnosis<'d> {
    /// The machine as understood.
    pub case: &'d Case<'d>,
    /// What differs from its plan.
    pub audit: &'d Audit,
    /// The findings of the audit, in its order, each with its causes.
    pub findings: Vec<Explained<'d>>,
    /// The steps that turn what is fitted into what is planned, in the order in which to do them.
    pub steps: Vec<Step>,
}

/// A finding with its possible causes.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained<'d> {
    /// The finding.
    pub finding: &'d Finding,
    /// What may have led to it, the likeliest first.
    pub causes: Vec<Cause>,
}

/// Explains the findings of an audit and says what to do.
pub fn diagnose<'d>(case: &'d Case<'d>, audit: &'d Audit) -> Diagnosis<'d> {
    let input = DiagnosisInput::new(case, audit);
    let explain = |finding| Explained { finding, causes: causes(finding, &input) };
    let findings: Vec<Explained<'_>> = audit.findings.iter().map(explain).collect();
    let causes: Vec<&[Cause]> = findings.iter().map(|explained| explained.causes.as_slice()).collect();
    let steps = order(&case.population, &case.plan, &audit.findings, &causes);
    Diagnosis { case, audit, findings, steps }
}
