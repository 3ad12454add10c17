//! Findings with their evidence and causes; those that read as one are one.

use std::borrow::Cow;

use super::mark::Mark;
use super::planned_word;
use crate::audit::{Evidence, Finding, FindingKind, list};
use crate::diagnose::{Cause, Diagnosis, Explained};
use crate::evidence::Source;

/// Comes before what speaks for a cause.
pub(crate) const BECAUSE: &str = "because";
/// Comes before what to check.
pub(crate) const CHECK: &str = "check";
/// Comes before the number of a line.
pub(crate) const LINE: &str = "line";
/// Comes before slots.
pub(crate) const SLOTS: &str = "slots";
/// Comes before the slot where a module belongs.
pub(crate) const BELONGS: &str = "belongs in";
/// Comes before fields.
pub(crate) const FIELDS: &str = "fields";

/// Lines of evidence that are not shown.
pub(crate) fn more_lines(count: usize) -> String {
    format!("{count} more lines")
}

/// Where a line of evidence is.
pub(crate) fn source_line(evidence: &Evidence) -> String {
    format!("{} {LINE} {}", evidence.source.word(), evidence.line)
}

/// The text of a line of evidence, with its source where that is not the listing.
pub(crate) fn sourced(evidence: &Evidence) -> Cow<'_, str> {
    match evidence.source {
        Source::Listing => Cow::Borrowed(&evidence.text),
        other => Cow::Owned(format!("{}: {}", other.word(), evidence.text)),
    }
}

/// Findings that read as one: the same kind with the same causes.
#[derive(Debug)]
pub(crate) struct Group<'d> {
    /// Counted from 1.
    pub(crate) number: usize,
    /// The kind's word.
    pub(crate) kind: &'static str,
    /// The severity's word.
    pub(crate) severity: &'static str,
    pub(crate) mark: Mark,
    /// What it is about, in one sentence.
    pub(crate) summary: String,
    pub(crate) findings: Vec<FindingView<'d>>,
    /// What is planned and what is there: key, and each text once.
    pub(crate) compared: [(&'static str, Vec<&'d str>); 2],
    pub(crate) evidence: Vec<&'d Evidence>,
    /// The likeliest first.
    pub(crate) causes: &'d [Cause],
}

/// One finding of a group.
#[derive(Debug)]
pub(crate) struct FindingView<'d> {
    pub(crate) kind: &'static str,
    /// What it is about; `None` where the group says it.
    pub(crate) summary: Option<&'d str>,
    pub(crate) slots: &'d [String],
    /// Where a module belongs.
    pub(crate) other_slot: Option<&'d str>,
    /// The fields that differ or stay open, in one text.
    pub(crate) fields: String,
}

impl Group<'_> {
    /// `missing (fault)`.
    pub(crate) fn kind_and_severity(&self) -> String {
        kind_and_severity(self.kind, self.severity)
    }

    /// What it is about, and what to look into first.
    pub(super) fn to_check(&self) -> String {
        match self.causes.first() {
            Some(cause) => format!("{}: {}", self.summary, cause.check),
            None => self.summary.clone(),
        }
    }
}

pub(super) fn kind_and_severity(kind: &str, severity: &str) -> String {
    format!("{kind} ({severity})")
}

/// The findings of a diagnosis in their order.
pub(super) fn groups<'d>(diagnosis: &'d Diagnosis<'_>) -> Vec<Group<'d>> {
    let mut alike: Vec<Vec<&'d Explained<'_>>> = Vec::new();
    for explained in &diagnosis.findings {
        // Only missing modules are so much alike that one sentence says it of all.
        let same = alike.iter_mut().find(|group| {
            group[0].finding.kind == FindingKind::Missing
                && explained.finding.kind == FindingKind::Missing
                && group[0].causes == explained.causes
        });
        match same {
            Some(group) => group.push(explained),
            None => alike.push(vec![explained]),
        }
    }
    let planned = planned_word(diagnosis.case);
    alike.iter().enumerate().map(|(at, explained)| group(at + 1, explained, planned)).collect()
}

fn group<'d>(number: usize, explained: &[&'d Explained<'_>], planned: &'static str) -> Group<'d> {
    let findings: Vec<&Finding> = explained.iter().map(|explained| explained.finding).collect();
    let first = findings[0];
    let several = findings.len() > 1;
    Group {
        number,
        kind: first.kind.word(),
        severity: first.severity().word(),
        mark: Mark::from(first.severity()),
        summary: summary(&findings),
        compared: [
            (planned, texts(findings.iter().map(|finding| &finding.expected))),
            ("there", texts(findings.iter().map(|finding| &finding.found))),
        ],
        evidence: findings.iter().flat_map(|finding| &finding.evidence).collect(),
        causes: &explained[0].causes,
        findings: findings
            .into_iter()
            .map(|finding| FindingView {
                kind: finding.kind.word(),
                summary: several.then_some(finding.summary.as_str()),
                slots: &finding.slots,
                other_slot: finding.other_slot.as_deref(),
                fields: finding.fields.iter().map(|field| field.word()).collect::<Vec<_>>().join(", "),
            })
            .collect(),
    }
}

fn summary(findings: &[&Finding]) -> String {
    match findings {
        [one] => one.summary.clone(),
        several => {
            let slots: Vec<String> = several.iter().filter_map(|f| f.slot.clone()).collect();
            format!("{}: the planned modules are detected nowhere", list(&slots))
        }
    }
}

/// Each text once.
fn texts<'d>(texts: impl Iterator<Item = &'d String>) -> Vec<&'d str> {
    let mut texts: Vec<&str> = texts.map(String::as_str).filter(|text| !text.is_empty()).collect();
    texts.dedup();
    texts
}
