//! What is said of a changed text, against what must be.

use asfitted::audit::{Finding, FindingKind, audit};
use asfitted::case::Case;
use asfitted::diagnose::{CauseKind, Step, diagnose};
use asfitted::evidence::Text;
use asfitted::plan::Plan;
use asfitted::records;

use super::Expected;

/// What is said of one text.
#[derive(Debug)]
pub struct Told {
    pub findings: Vec<Finding>,
    /// The kind of the first cause of each finding.
    pub first: Vec<Option<CauseKind>>,
    pub steps: Vec<Step>,
}

/// Audits and diagnoses a text; the message of the refusal where the plan is not for it.
pub fn tell(name: &str, text: String, plan: &Plan) -> Result<Told, String> {
    let text = Text::from_bytes(name, text.into_bytes()).map_err(|error| error.to_string())?;
    let listings = records::read(&text);
    let machine = Case::of(&text, &listings[0]).plan(plan);
    let case = machine.build().map_err(|error| error.to_string())?;
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    let first = diagnosis.findings.iter().map(|own| own.causes.first().map(|cause| cause.kind)).collect();
    Ok(Told { findings: audit.findings.clone(), first, steps: diagnosis.steps.clone() })
}

/// Whether a finding says what must be found.
fn meets(finding: &Finding, expected: &Expected) -> bool {
    let mut slots = finding.slots.clone();
    slots.sort();
    finding.kind == expected.kind
        && slots == expected.slots
        && finding.other_slot == expected.other
        && finding.fields.iter().map(|field| field.word()).eq(expected.fields.iter().copied())
}

/// Modules that are missing in one pattern, or that differ alike, are one finding; each of its slots is judged.
fn slot_by_slot(finding: &Finding) -> Vec<Finding> {
    if !matches!(finding.kind, FindingKind::Missing | FindingKind::WrongModule) {
        return vec![finding.clone()];
    }
    let single =
        |slot: &String| Finding { slot: Some(slot.clone()), slots: vec![slot.clone()], ..finding.clone() };
    finding.slots.iter().map(single).collect()
}

/// Whether all that must be found is found, and how much else is blamed. Damage that was there before is there still.
pub fn judge(findings: &[Finding], expected: &[Expected]) -> (bool, u32) {
    let after: Vec<Finding> = findings
        .iter()
        .filter(|finding| finding.kind != FindingKind::ListingDamaged)
        .flat_map(slot_by_slot)
        .collect();
    let all = expected.iter().all(|expected| after.iter().any(|finding| meets(finding, expected)));
    let others = after.iter().filter(|finding| !expected.iter().any(|expected| meets(finding, expected)));
    (all, u32::try_from(others.count()).unwrap())
}
