//! Both forms of a diagnosis.

use std::io::{self, Write};

use serde::Serialize;

use super::audit_json::{FindingJson, StepJson, findings_json, steps_json};
use super::audit_text::{waived, write_body};
use super::layout::{Page, Tone};
use super::population_json::NoteJson;
use super::population_text::origin;
use super::slots::{self, ListingJson, MachineJson, ModuleJson};
use crate::audit::Verdict;
use crate::diagnose::{Diagnosis, Shortfall, Suspicion};
use crate::plan::agreement::describe_wanted;

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
pub fn diagnosis_json(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> DiagnosisJson {
    let suspicion = shortfall.suspicion.as_ref();
    DiagnosisJson {
        format: "asfitted.diagnosis",
        version: 1,
        listing: slots::listing(diagnosis.case),
        machine: slots::machine(diagnosis.case),
        loses: shortfall.loses(),
        waterfall: shortfall
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
        findings: findings_json(diagnosis),
        work: steps_json(diagnosis),
        notes: diagnosis.audit.notes.iter().map(|text| NoteJson::remark(text)).collect(),
    }
}

/// Writes a diagnosis for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_diagnosis(
    diagnosis: &Diagnosis<'_>,
    shortfall: &Shortfall,
    out: &mut dyn Write,
) -> io::Result<()> {
    let mut page = Page::new(out);
    let (tone, headline) = headline(diagnosis, shortfall);
    page.text(0, 2, tone, &headline)?;
    for (key, text) in facts(diagnosis) {
        page.entry(0, key, &text)?;
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Where it is lost")?;
    for stage in &shortfall.stages {
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
    if let Some(suspicion) = shortfall.suspects() {
        write_suspects(&mut page, suspicion, shortfall.channels_known)?;
    }
    write_body(&mut page, diagnosis)
}

/// What the headline is about: keys and texts.
pub(super) fn facts(diagnosis: &Diagnosis<'_>) -> Vec<(&'static str, String)> {
    let (case, audit) = (diagnosis.case, diagnosis.audit);
    let plan = &*case.plan;
    let mut facts = origin(case);
    facts.extend(waived(plan));
    facts.extend(audit.notes.iter().map(|note| ("note", note.clone())));
    facts
}

/// What is lost, in one line.
pub(super) fn headline(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> (Tone, String) {
    let verdict = diagnosis.audit.verdict;
    match shortfall.first_loss() {
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
