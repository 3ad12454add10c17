//! Both forms of a diagnosis.

use std::io::{self, Write};

use serde::Serialize;

use super::AuditReport;
use super::audit_json::{FindingJson, StepJson, findings_json, steps_json};
use super::audit_text::{waived, write_body};
use super::layout::{Page, Tone};
use super::population_json::NoteJson;
use super::population_text::origin;
use super::slots::{self, ListingJson, MachineJson, ModuleJson};
use crate::audit::{Verdict, describe_wanted};
use crate::diagnose::{Stage, Station, Suspicion};

/// A diagnosis with all it was made from.
#[derive(Debug, Clone, Copy)]
pub struct DiagnosisReport<'r, 'a> {
    /// The audit against the plan, or against the most plausible population.
    pub audit: AuditReport<'r, 'a>,
    /// Where memory is lost.
    pub stages: &'r [Stage],
    /// The suspects, if there is no plan.
    pub suspicion: Option<&'r Suspicion>,
    /// Whether the plan of the audit was given; else it stands for what is assumed, and nothing is planned.
    pub plan_given: bool,
    /// Whether the board's channels are known, so that suspects can be named.
    pub board_known: bool,
}

impl DiagnosisReport<'_, '_> {
    /// Whether more is lost than is usual. What is mapped below the modules proves no loss.
    pub fn loses(&self) -> bool {
        self.stages.iter().any(|stage| !stage.usual && stage.lost.0 > 0 && stage.station != Station::Mapped)
    }
}

/// One diagnosis, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted diagnosis"))]
pub struct DiagnosisJson {
    /// Always `asfitted.diagnosis`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The listing.
    pub listing: ListingJson,
    /// The machine.
    pub machine: MachineJson,
    /// Whether more is lost than is usual.
    pub loses: bool,
    /// Where memory is lost, station by station.
    pub waterfall: Vec<StageJson>,
    /// Modules that were told and are not detected.
    pub missing: Vec<ModuleJson>,
    /// Equally plausible sets of slots for them.
    pub ways: Vec<Vec<String>>,
    /// All slots of all ways.
    pub suspects: Vec<String>,
    /// Whether other ways may be as plausible.
    pub open: bool,
    /// Findings against the plan, or against the first way.
    pub findings: Vec<FindingJson>,
    /// The least work that mends it.
    pub work: Vec<StepJson>,
    /// Things to know that decide nothing.
    pub notes: Vec<NoteJson>,
}

/// One station.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StageJson {
    /// `told`, `planned`, `detected`, `mapped` or `visible`.
    pub station: &'static str,
    /// What arrives there.
    pub bytes: u64,
    /// What was lost since the station before.
    pub lost_bytes: u64,
    /// Whether such a loss is usual.
    pub usual: bool,
    /// What may explain it.
    pub reasons: Vec<String>,
}

/// The JSON form of a diagnosis.
pub fn diagnosis_json(report: &DiagnosisReport<'_, '_>) -> DiagnosisJson {
    let suspicion = report.suspicion;
    DiagnosisJson {
        format: "asfitted.diagnosis",
        version: 1,
        listing: slots::listing(report.audit.subject),
        machine: slots::machine(report.audit.subject),
        loses: report.loses(),
        waterfall: report
            .stages
            .iter()
            .map(|stage| StageJson {
                station: stage.station.word(),
                bytes: stage.size.0,
                lost_bytes: stage.lost.0,
                usual: stage.usual,
                reasons: stage.reasons.clone(),
            })
            .collect(),
        missing: suspicion
            .map_or_else(Vec::new, |s| s.missing.iter().map(|w| slots::planned(w, None)).collect()),
        ways: suspicion.map_or_else(Vec::new, |s| s.ways.clone()),
        suspects: suspicion.map_or_else(Vec::new, Suspicion::slots),
        open: suspicion.is_some_and(|s| s.open),
        findings: findings_json(&report.audit),
        work: steps_json(&report.audit),
        notes: report.audit.audit.notes.iter().map(|text| NoteJson::remark(text)).collect(),
    }
}

/// Writes a diagnosis for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_diagnosis(report: &DiagnosisReport<'_, '_>, out: &mut dyn Write) -> io::Result<()> {
    let mut page = Page::new(out);
    let (tone, headline) = headline(report);
    page.text(0, 2, tone, &headline)?;
    for (key, text) in facts(report) {
        page.entry(0, key, &text)?;
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Where it is lost")?;
    for stage in report.stages {
        let less = match (stage.lost.0, stage.usual) {
            (0, _) => String::new(),
            (_, true) => format!(", {} less, which is usual", stage.lost.rounded()),
            (_, false) => format!(", {} less", stage.lost.rounded()),
        };
        page.entry(2, stage.station.word(), &format!("{}{less}", stage.size.rounded()))?;
        for reason in &stage.reasons {
            page.text(12, 14, Tone::Plain, &format!("- {reason}"))?;
        }
    }
    if let Some(suspicion) = report.suspicion.filter(|suspicion| !suspicion.missing.is_empty()) {
        write_suspects(&mut page, suspicion, report.board_known)?;
    }
    write_body(&mut page, &report.audit)
}

/// What the headline is about: keys and texts.
pub(super) fn facts(report: &DiagnosisReport<'_, '_>) -> Vec<(&'static str, String)> {
    let AuditReport { subject, plan, audit, .. } = report.audit;
    let mut facts = origin(subject);
    facts.extend(waived(plan));
    facts.extend(audit.notes.iter().map(|note| ("note", note.clone())));
    facts
}

/// What is lost, in one line.
pub(super) fn headline(report: &DiagnosisReport<'_, '_>) -> (Tone, String) {
    let lost = report
        .stages
        .iter()
        .find(|stage| !stage.usual && stage.lost.0 > 0 && stage.station != Station::Mapped);
    let verdict = report.audit.audit.verdict;
    match lost {
        Some(stage) => {
            (Tone::Bad, format!("{} ARE NOT {}", stage.lost.rounded(), stage.station.word().to_uppercase()))
        }
        None if verdict == Verdict::Deviates => {
            (Tone::Bad, "THE FITTING HAS FAULTS: see the findings".to_owned())
        }
        None if verdict == Verdict::Unproven => {
            (Tone::Doubt, "NO LOSS IS SHOWN BY THIS EVIDENCE, AND NOT EVERYTHING IS PROVEN".to_owned())
        }
        None => (Tone::Good, "NO LOSS IS SHOWN BY THIS EVIDENCE".to_owned()),
    }
}

fn write_suspects(page: &mut Page<'_>, suspicion: &Suspicion, board_known: bool) -> io::Result<()> {
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Suspects")?;
    for text in suspects_missing(suspicion) {
        page.text(2, 4, Tone::Plain, &text)?;
    }
    for text in suspects_text(suspicion, board_known) {
        page.text(2, 2, Tone::Plain, &text)?;
    }
    Ok(())
}

/// What was told and is not detected.
pub(super) fn suspects_missing(suspicion: &Suspicion) -> Vec<String> {
    let mut modules: Vec<String> = suspicion.missing.iter().map(describe_wanted).collect();
    modules.sort_unstable();
    let same = modules.chunk_by(|a, b| a == b);
    same.map(|same| format!("{} x {} not detected", same.len(), same[0])).collect()
}

/// Which slots are suspect, and how sure that is.
pub(super) fn suspects_text(suspicion: &Suspicion, board_known: bool) -> Vec<String> {
    let mut texts = vec![match (suspicion.ways.as_slice(), board_known) {
        (_, false) => "The labels do not prove the channels, so any empty slot may be the one; name a board with `--board` to narrow it down.".to_owned(),
        ([], true) => "There is no empty slot for them: the modules were not all fitted, or the wrong number was told.".to_owned(),
        ([way], true) => format!("Most plausible by the even population around it: {}.", way.join(", ")),
        (ways, true) => {
            let ways: Vec<String> = ways.iter().map(|way| way.join(" and ")).collect();
            format!("Equally plausible by the population around it: {}.", ways.join("; or "))
        }
    }];
    if board_known && suspicion.open {
        texts.push("Not all ways could be tried or are named; others may be as plausible.".to_owned());
    }
    texts
}
