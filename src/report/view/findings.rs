//! Findings with their evidence and causes.

use std::borrow::Cow;

use super::mark::Mark;
use super::planned_word;
use crate::audit::{Evidence, Finding};
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

/// One finding as it is read.
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
    pub(crate) finding: FindingView<'d>,
    /// What is planned and what is there: key, and each text once.
    pub(crate) compared: [(&'static str, Vec<&'d str>); 2],
    pub(crate) evidence: Vec<&'d Evidence>,
    /// The likeliest first.
    pub(crate) causes: &'d [Cause],
}

/// Where it is.
#[derive(Debug)]
pub(crate) struct FindingView<'d> {
    pub(crate) kind: &'static str,
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

    /// What it is about, its likeliest cause, and the first line that shows it.
    pub(crate) fn in_short(&self) -> String {
        let cause = self
            .causes
            .first()
            .map_or_else(String::new, |cause| format!("; {}: {}", cause.likelihood.word(), cause.cause));
        let line = self.evidence.first().map_or_else(String::new, |first| match first.source {
            Source::Listing => format!(" ({LINE} {})", first.line),
            _ => format!(" ({})", source_line(first)),
        });
        format!("{}{cause}{line}", self.summary)
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

/// The findings of a diagnosis in their order, with the numbers that steps refer to.
pub(super) fn groups<'d>(diagnosis: &'d Diagnosis<'_>) -> Vec<Group<'d>> {
    let planned = planned_word(diagnosis.case);
    diagnosis.findings.iter().enumerate().map(|(at, explained)| group(at + 1, explained, planned)).collect()
}

fn group<'d>(number: usize, explained: &'d Explained<'_>, planned: &'static str) -> Group<'d> {
    let finding: &Finding = explained.finding;
    Group {
        number,
        kind: finding.kind.word(),
        severity: finding.severity().word(),
        mark: Mark::from(finding.severity()),
        summary: finding.summary.clone(),
        compared: [(planned, text(&finding.expected)), ("there", text(&finding.found))],
        evidence: finding.evidence.iter().collect(),
        causes: &explained.causes,
        finding: FindingView {
            kind: finding.kind.word(),
            slots: &finding.slots,
            other_slot: finding.other_slot.as_deref(),
            fields: finding.fields.iter().map(|field| field.word()).collect::<Vec<_>>().join(", "),
        },
    }
}

/// None where there is nothing to say.
fn text(text: &str) -> Vec<&str> {
    if text.is_empty() { Vec::new() } else { vec![text] }
}
