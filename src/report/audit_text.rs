//! The terminal form of an audit: what is wrong, where, what to do next, in that order.

use std::io::{self, Write};

use super::layout::{Page, Tone};
use super::map::{self, Mark};
use super::population_text::{origin, speed, total};
use crate::audit::{Audit, Evidence, Finding, FindingKind, Severity, Verdict, list};
use crate::board::{ExpectedSpeed, Prediction};
use crate::diagnose::{CAUTIONS, Cause, Diagnosis, Explained, movements};
use crate::plan::Plan;

/// Evidence lines shown per finding; the JSON form has all.
const EVIDENCE_SHOWN: usize = 4;

/// Writes the audit for a person at a bench.
///
/// # Errors
/// Those of `out`.
pub fn write_audit(diagnosis: &Diagnosis<'_>, out: &mut dyn Write) -> io::Result<()> {
    let mut page = Page::new(out);
    write_verdict(&mut page, diagnosis)?;
    write_body(&mut page, diagnosis)
}

/// Findings, work, cautions and map.
pub(super) fn write_body(page: &mut Page<'_>, diagnosis: &Diagnosis<'_>) -> io::Result<()> {
    let groups = groups(diagnosis);
    for (number, group) in groups.iter().enumerate() {
        page.blank()?;
        write_group(page, number + 1, group)?;
    }
    let steps = &diagnosis.steps;
    if !steps.is_empty() {
        page.blank()?;
        let heading = format!("Work, in this order: {}", counted(movements(steps)));
        page.text(0, 2, Tone::Heading, &heading)?;
        for (number, step) in steps.iter().enumerate() {
            page.text(2, 6, Tone::Plain, &format!("{:>2}. {}", number + 1, step.text))?;
        }
        page.text(
            2,
            6,
            Tone::Plain,
            &format!("{:>2}. close the lid, boot, take a new listing and audit again", steps.len() + 1),
        )?;
        page.blank()?;
        write_cautions(page)?;
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Where it is   (! fault   * warning   ? open   - empty)")?;
    map::write(page, &diagnosis.case.population, &|name| mark(name, &diagnosis.audit.findings))
}

/// What to mind before anything else.
pub(super) fn write_cautions(page: &mut Page<'_>) -> io::Result<()> {
    page.text(0, 2, Tone::Heading, "Before you open the machine")?;
    for caution in CAUTIONS {
        page.text(2, 4, Tone::Plain, &format!("- {caution}"))?;
    }
    Ok(())
}

/// A number of hand movements, as text.
pub(super) fn counted(movements: u32) -> String {
    match movements {
        0 => "no hand movement".to_owned(),
        1 => "1 hand movement".to_owned(),
        _ => format!("{movements} hand movements"),
    }
}

/// The findings that mark a slot. What concerns the whole machine is no mark on each of its slots.
pub(super) fn marking<'f>(name: &str, findings: &'f [Finding]) -> Vec<&'f Finding> {
    findings
        .iter()
        .filter(|finding| finding.is_at(name) && finding.kind != FindingKind::ClockedDown)
        .collect()
}

pub(super) fn mark(name: &str, findings: &[Finding]) -> Mark {
    match marking(name, findings).into_iter().map(Finding::severity).min() {
        Some(Severity::Fault) => Mark::Fault,
        Some(Severity::Warning) => Mark::Warning,
        Some(Severity::Unproven) => Mark::Open,
        None => Mark::None,
    }
}

fn write_verdict(page: &mut Page<'_>, diagnosis: &Diagnosis<'_>) -> io::Result<()> {
    let (tone, verdict) = headline(diagnosis.audit);
    page.text(0, 2, tone, &verdict)?;
    for (key, text) in facts(diagnosis) {
        page.entry(0, key, &text)?;
    }
    Ok(())
}

/// The verdict in one line, with the numbers of findings.
pub(super) fn headline(audit: &Audit) -> (Tone, String) {
    let (faults, warnings, open) =
        (audit.count(Severity::Fault), audit.count(Severity::Warning), audit.count(Severity::Unproven));
    let mut parts = Vec::new();
    for (number, one, many) in
        [(faults, "fault", "faults"), (warnings, "warning", "warnings"), (open, "point open", "points open")]
    {
        match number {
            0 => {}
            1 => parts.push(format!("1 {one}")),
            _ => parts.push(format!("{number} {many}")),
        }
    }
    let (tone, verdict) = match audit.verdict {
        Verdict::AsPlanned => (Tone::Good, "AS PLANNED"),
        Verdict::Deviates => (Tone::Bad, "DEVIATES FROM THE PLAN"),
        Verdict::Unproven => (Tone::Doubt, "NOT PROVEN: nothing deviates, something is not shown"),
    };
    // A plan can be fulfilled with modules left over; that must not be overlooked behind the verdict.
    let more = match audit.findings.iter().filter(|f| f.kind == FindingKind::Unplanned).count() {
        0 => String::new(),
        1 => ", AND 1 MODULE MORE THAN PLANNED".to_owned(),
        count => format!(", AND {count} MODULES MORE THAN PLANNED"),
    };
    let detail = if parts.is_empty() { String::new() } else { format!(": {}", parts.join(", ")) };
    let verdict = match audit.verdict {
        Verdict::Unproven => format!("{verdict}{more} ({})", parts.join(", ")),
        Verdict::AsPlanned => format!("{verdict}{more}{detail}"),
        Verdict::Deviates => format!("{verdict}{detail}"),
    };
    (tone, verdict)
}

/// What the verdict is about: keys and texts.
pub(super) fn facts(diagnosis: &Diagnosis<'_>) -> Vec<(&'static str, String)> {
    let (case, audit) = (diagnosis.case, diagnosis.audit);
    let plan = &*case.plan;
    let mut facts = vec![("plan", plan.name.as_deref().unwrap_or(&plan.source).to_owned())];
    facts.extend(origin(case));
    let totals = case.population.totals;
    let detected = total(&case.population);
    let planned = plan.planned_total().map_or_else(String::new, |size| format!(" of {size} planned"));
    facts.push(("memory", format!("{detected}{planned}, in {} of {} slots", totals.fitted, totals.slots)));
    let expected = plan.expect.speed.map_or_else(String::new, |rate| format!(", {rate} planned"));
    facts.push(("speed", format!("{}{expected}", speed(&case.population))));
    if let (Some(board), Some(prediction)) = (diagnosis.case.board, &audit.prediction) {
        facts.push(("board", board.name.clone()));
        facts.push(("rules", outlook(prediction)));
    }
    facts.extend(waived(plan));
    facts.extend(audit.notes.iter().map(|note| ("note", note.clone())));
    facts
}

/// What the plan lets pass where nothing shows it.
pub(super) fn waived(plan: &Plan) -> Option<(&'static str, String)> {
    let words: Vec<&str> = plan.waived.iter().map(|field| field.word()).collect();
    let text =
        || format!("{}: by the plan, no point is open where the evidence does not show it", words.join(", "));
    (!words.is_empty()).then(|| ("waived", text()))
}

/// What the board's rules say about the speed.
fn outlook(prediction: &Prediction) -> String {
    let limits: Vec<&str> = prediction.limits.iter().map(|limit| limit.text.as_str()).collect();
    let speed = match prediction.speed {
        ExpectedSpeed::Known { low, high } if low == high => format!("{high} to be expected"),
        ExpectedSpeed::Known { low, high } => format!("{} to {high} to be expected", low.0),
        ExpectedSpeed::AtMost(high) => format!("at most {high} to be expected"),
        ExpectedSpeed::Unknown => return "they do not cover this fitting".to_owned(),
    };
    if limits.is_empty() { speed } else { format!("{speed}: {}", limits.join("; ")) }
}

/// Findings that read as one: the same kind with the same causes.
pub(super) struct Group<'r> {
    pub(super) findings: Vec<&'r Finding>,
    pub(super) causes: &'r [Cause],
}

impl Group<'_> {
    /// What it is about, in one sentence.
    pub(super) fn summary(&self) -> String {
        match self.findings.as_slice() {
            [one] => one.summary.clone(),
            several => {
                let slots: Vec<String> = several.iter().filter_map(|f| f.slot.clone()).collect();
                format!("{}: the planned modules are detected nowhere", list(&slots))
            }
        }
    }

    /// What it is about, and what to look into first.
    pub(super) fn to_check(&self) -> String {
        match self.causes.first() {
            Some(cause) => format!("{}: {}", self.summary(), cause.check),
            None => self.summary(),
        }
    }

    /// What is planned or there, each text once.
    pub(super) fn texts<'g>(&'g self, of: impl Fn(&'g Finding) -> &'g String) -> Vec<&'g str> {
        let texts = self.findings.iter().map(|finding| of(finding).as_str());
        let mut texts: Vec<&str> = texts.filter(|text| !text.is_empty()).collect();
        texts.dedup();
        texts
    }
}

pub(super) fn groups<'r>(diagnosis: &'r Diagnosis<'_>) -> Vec<Group<'r>> {
    let mut groups: Vec<Group<'r>> = Vec::new();
    for Explained { finding, causes } in &diagnosis.findings {
        let same = groups.iter_mut().find(|group| {
            group.findings[0].kind == FindingKind::Missing
                && finding.kind == FindingKind::Missing
                && group.causes == causes.as_slice()
        });
        match same {
            Some(group) => group.findings.push(finding),
            None => groups.push(Group { findings: vec![finding], causes }),
        }
    }
    groups
}

fn write_group(page: &mut Page<'_>, number: usize, group: &Group<'_>) -> io::Result<()> {
    let first = group.findings[0];
    let tone = match first.severity() {
        Severity::Fault => Tone::Bad,
        Severity::Warning | Severity::Unproven => Tone::Doubt,
    };
    let summary = group.summary();
    page.text(
        0,
        4,
        tone,
        &format!("{number:>2}  {} ({})  {summary}", first.kind.word(), first.severity().word()),
    )?;
    for (key, texts) in [("planned", group.texts(|f| &f.expected)), ("there", group.texts(|f| &f.found))] {
        for (at, text) in texts.iter().enumerate() {
            page.entry(4, if at == 0 { key } else { "" }, text)?;
        }
    }
    write_evidence(page, group)?;
    for cause in group.causes {
        page.blank()?;
        page.entry(4, cause.likelihood.word(), &cause.cause)?;
        page.entry(4, "  because", &cause.why)?;
        page.entry(4, "  check", &cause.check)?;
    }
    Ok(())
}

fn write_evidence(page: &mut Page<'_>, group: &Group<'_>) -> io::Result<()> {
    let evidence: Vec<&Evidence> = group.findings.iter().flat_map(|f| &f.evidence).collect();
    let shown = if group.findings.len() > 1 { EVIDENCE_SHOWN * 2 } else { EVIDENCE_SHOWN };
    for e in evidence.iter().take(shown) {
        page.entry(4, &format!("line {}", e.line), &e.text)?;
    }
    if evidence.len() > shown {
        page.entry(4, "", &format!("and {} more lines (--format json has all)", evidence.len() - shown))?;
    }
    Ok(())
}
