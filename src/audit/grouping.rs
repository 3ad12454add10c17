//! Findings that are one: missing modules of one pattern, and modules that differ from the plan alike.
//!
//! What another source of evidence states of a slot makes its finding one by itself, since its causes are its own.

use super::finding::{Detail, Finding, FindingKind};
use super::pattern::{Pattern, patterns};
use crate::base::words::short_list;
use crate::plan::Plan;
use crate::population::Population;

/// Joins what is one.
pub(super) fn join(findings: &mut Vec<Finding>, population: &Population<'_>, plan: &Plan) {
    join_missing(findings, population, plan);
    join_alike(findings, FindingKind::WrongModule, |slots, first| {
        let fields: Vec<&str> = first.fields.iter().map(|field| field.word()).collect();
        format!("{}: the modules differ from the plan in {}", short_list(slots), fields.join(", "))
    });
}

/// One finding for each pattern, in the place of its first.
fn join_missing(findings: &mut Vec<Finding>, population: &Population<'_>, plan: &Plan) {
    let mut patterns = patterns(population, plan, findings);
    let mut joined: Vec<Finding> = Vec::with_capacity(findings.len());
    for mut finding in std::mem::take(findings) {
        let missing = finding.slot.as_deref().filter(|_| finding.kind == FindingKind::Missing);
        finding.pattern = missing.and_then(|slot| patterns.remove(slot)).unwrap_or_default();
        let same = joined.iter_mut().find(|own| {
            finding.pattern != Pattern::Alone
                && own.pattern == finding.pattern
                && can_be_joined(&finding, FindingKind::Missing)
                && can_be_joined(own, FindingKind::Missing)
        });
        match same {
            Some(first) => take_in(first, finding),
            None => joined.push(finding),
        }
    }
    findings.extend(joined.into_iter().map(|mut finding| {
        if finding.kind == FindingKind::Missing && finding.slots.len() > 1 {
            finding.summary =
                format!("{}: the planned modules are detected nowhere", short_list(&finding.slots));
        }
        finding
    }));
}

/// One finding for all of that kind whose fields, demand and statement are the same.
fn join_alike(
    findings: &mut Vec<Finding>,
    kind: FindingKind,
    summary: impl Fn(&[String], &Finding) -> String,
) {
    let mut joined: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in std::mem::take(findings) {
        let same = joined.iter_mut().find(|own| {
            can_be_joined(&finding, kind)
                && can_be_joined(own, kind)
                && (&own.fields, &own.expected, &own.found)
                    == (&finding.fields, &finding.expected, &finding.found)
        });
        match same {
            Some(first) => take_in(first, finding),
            None => joined.push(finding),
        }
    }
    for finding in joined.iter_mut().filter(|finding| finding.kind == kind && finding.slots.len() > 1) {
        finding.summary = summary(&finding.slots, finding);
    }
    findings.append(&mut joined);
}

fn can_be_joined(finding: &Finding, kind: FindingKind) -> bool {
    finding.kind == kind && finding.detail == Detail::None
}

fn take_in(first: &mut Finding, more: Finding) {
    first.slots.extend(more.slots);
    first.evidence.extend(more.evidence);
    // What differs from slot to slot is said once for each kind of module.
    for (own, other) in [(&mut first.expected, more.expected), (&mut first.found, more.found)] {
        if !own.split("; ").any(|text| text == other) {
            own.push_str("; ");
            own.push_str(&other);
        }
    }
}
