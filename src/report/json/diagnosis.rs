//! The JSON of a diagnosis.

use serde::Serialize;

use super::findings::{FindingJson, StepJson, findings_json, steps_json};
use super::parts::{self, ListingJson, MachineJson, ModuleJson, NoteJson};
use crate::diagnose::{Diagnosis, Shortfall, Suspicion};

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
    /// Whether more is lost than is usual, or a module that was stated is not detected.
    pub loses: bool,
    /// Where memory is lost, station by station.
    pub waterfall: Vec<StageJson>,
    /// What was stated to be fitted beside what is detected; null where nobody stated it.
    pub stated: Option<StatedJson>,
    /// Modules that were stated to be fitted and are not detected.
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

/// What was stated to be fitted beside what is detected.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StatedJson {
    /// `same`, `fewer` (some of it is not detected), `more` (all of it is detected, and more), or `contradicted` (other
    /// modules are detected than were stated).
    pub agreement: &'static str,
    /// What was stated, kind by kind.
    pub claimed: Vec<String>,
    /// What is detected, kind by kind.
    pub detected: Vec<String>,
    /// Slots whose module is none of those stated.
    pub other_slots: Vec<String>,
    /// What it comes to, as a sentence; null where the two agree or only something is missing.
    pub summary: Option<String>,
}

/// One station.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StageJson {
    /// `told` (what was stated), `planned`, `detected`, `mapped` or `visible`.
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

/// The JSON of a diagnosis.
pub fn diagnosis_json(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> DiagnosisJson {
    let suspicion = shortfall.suspicion.as_ref();
    DiagnosisJson {
        format: "asfitted.diagnosis",
        version: 1,
        listing: parts::listing(diagnosis.case),
        machine: parts::machine(diagnosis.case),
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
        stated: shortfall.stated.as_ref().map(|stated| StatedJson {
            agreement: stated.agreement.word(),
            claimed: stated.claimed.clone(),
            detected: stated.detected.clone(),
            other_slots: stated.others.iter().map(|other| other.slot.clone()).collect(),
            summary: stated.sentence(),
        }),
        missing: shortfall
            .stated
            .as_ref()
            .map_or_else(Vec::new, |s| s.missing.iter().map(|w| parts::planned(w, None)).collect()),
        ways: suspicion.map_or_else(Vec::new, |s| s.ways.clone()),
        suspects: suspicion.map_or_else(Vec::new, Suspicion::slots),
        open: suspicion.is_some_and(|s| s.open),
        findings: findings_json(diagnosis),
        work: steps_json(diagnosis),
        notes: parts::remarks(&diagnosis.audit.notes).collect(),
    }
}
