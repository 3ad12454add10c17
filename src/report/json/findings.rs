//! Findings with their causes, and steps.

use serde::Serialize;

use crate::audit::{Evidence, Finding};
use crate::diagnose::{Cause, Diagnosis, Explained, Step};

/// One finding.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FindingJson {
    /// Its kind.
    pub kind: &'static str,
    /// `fault`, `warning` or `unproven`.
    pub severity: &'static str,
    /// The slot it is about; the first of `slots`.
    pub slot: Option<String>,
    /// All slots that share the cause.
    pub slots: Vec<String>,
    /// For a misplaced module, where it belongs.
    pub other_slot: Option<String>,
    /// The fields that differ or stay open.
    pub fields: Vec<&'static str>,
    /// One sentence.
    pub summary: String,
    /// What the plan says.
    pub expected: String,
    /// What the listing says.
    pub found: String,
    /// The lines that show it.
    pub evidence: Vec<EvidenceJson>,
    /// Possible causes, the likeliest first.
    pub causes: Vec<CauseJson>,
}

/// One line of evidence.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct EvidenceJson {
    /// Which source of evidence: `listing`, or a word of the table in docs/diagnosis.md.
    pub source: &'static str,
    /// 1-based line.
    pub line: u32,
    /// The line's text, trimmed.
    pub text: String,
}

/// One possible cause.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CauseJson {
    /// Its kind in one word; see docs/findings.md.
    pub kind: &'static str,
    /// What may have happened.
    pub cause: String,
    /// `likely` or `possible`.
    pub likelihood: &'static str,
    /// What speaks for it.
    pub why: String,
    /// What to check.
    pub check: String,
}

/// One step of work.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StepJson {
    /// `reseat`, `replace`, `move`, `swap`, `remove`, `fit`, `pull`, `place`, `inspect`, `setting`, `command` or
    /// `measure`.
    pub kind: &'static str,
    /// The same in the older, coarser words: `reseat`, `remove`, `move`, `pull`, `place`, `swap`, `exchange`, `fit` or
    /// `check`.
    pub step: &'static str,
    /// The slot.
    pub slot: Option<String>,
    /// The other slot of a move or a swap, or of a module that waits beside the board.
    pub other_slot: Option<String>,
    /// All slots that it is about.
    pub slots: Vec<String>,
    /// The findings that it mends or looks into, by their numbers, counted from 1.
    pub findings: Vec<usize>,
    /// Whether the lid must be open for it.
    pub hands: bool,
    /// The module to bring for it; `null` where none is needed.
    pub brings: Option<String>,
    /// Hand movements that it takes.
    pub movements: u32,
    /// The step as a sentence.
    pub text: String,
}

/// All findings with their causes.
pub(super) fn findings_json(diagnosis: &Diagnosis<'_>) -> Vec<FindingJson> {
    let cause = |c: &Cause| CauseJson {
        kind: c.kind.word(),
        cause: c.cause.clone(),
        likelihood: c.likelihood.word(),
        why: c.why.clone(),
        check: c.check.clone(),
    };
    let finding = |explained: &Explained<'_>| FindingJson {
        causes: explained.causes.iter().map(cause).collect(),
        ..plain_finding(explained.finding)
    };
    diagnosis.findings.iter().map(finding).collect()
}

/// The work that mends them.
pub(super) fn steps_json(diagnosis: &Diagnosis<'_>) -> Vec<StepJson> {
    let step = |step: &Step| StepJson {
        kind: step.kind.info().kind,
        step: step.kind.word(),
        slot: step.slot.clone(),
        other_slot: step.other_slot.clone(),
        slots: step.slots.clone(),
        findings: step.findings.iter().map(|at| at + 1).collect(),
        hands: step.hands(),
        brings: step.brings.clone(),
        movements: step.movements,
        text: step.text.clone(),
    };
    diagnosis.steps.iter().map(step).collect()
}

/// Lines of evidence.
pub(super) fn evidence_json(evidence: &[Evidence]) -> Vec<EvidenceJson> {
    let line = |e: &Evidence| EvidenceJson { source: e.source.word(), line: e.line, text: e.text.clone() };
    evidence.iter().map(line).collect()
}

/// A finding without causes.
pub(super) fn plain_finding(finding: &Finding) -> FindingJson {
    FindingJson {
        kind: finding.kind.word(),
        severity: finding.severity().word(),
        slot: finding.slot.clone(),
        slots: finding.slots.clone(),
        other_slot: finding.other_slot.clone(),
        fields: finding.fields.iter().map(|field| field.word()).collect(),
        summary: finding.summary.clone(),
        expected: finding.expected.clone(),
        found: finding.found.clone(),
        evidence: evidence_json(&finding.evidence),
        causes: Vec::new(),
    }
}
