//! The JSON of an audit.

use serde::Serialize;

use super::check::{ExpectationJson, expectation_json};
use super::population_json::{NoteJson, notes};
use super::slots::{self, ListingJson, MachineJson, SlotJson};
use crate::audit::Finding;
use crate::case::Case;
use crate::diagnose::{Cause, Diagnosis, Explained, Step};
use crate::plan::{Demand, Plan};
use crate::units::TransferRate;

/// One audit, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted audit"))]
pub struct AuditJson {
    /// Always `asfitted.audit`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The listing.
    pub listing: ListingJson,
    /// The machine.
    pub machine: MachineJson,
    /// The plan.
    pub plan: PlanJson,
    /// The board description, if one was used.
    pub board: Option<BoardJson>,
    /// What the board's rules lead to expect of what is fitted.
    pub expectation: Option<ExpectationJson>,
    /// `as-planned`, `deviates` or `unproven`.
    pub verdict: &'static str,
    /// Totals in bytes; null where unknown.
    pub totals: TotalsJson,
    /// Speeds in MT/s; null where unknown.
    pub speed: SpeedJson,
    /// All slots of the listing, then planned slots that it does not have.
    pub slots: Vec<SlotJson>,
    /// What deviates or stays open.
    pub findings: Vec<FindingJson>,
    /// The least work that mends it, in order.
    pub work: Vec<StepJson>,
    /// What was noticed in the listing, as in a population.
    pub notes: Vec<NoteJson>,
}

/// What is said of the plan.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PlanJson {
    /// Its name; null where it has none.
    pub name: Option<String>,
    /// Demands of it that are no open point where the evidence does not show them.
    pub waived: Vec<&'static str>,
}

pub(super) fn plan_json(plan: &Plan) -> PlanJson {
    PlanJson { name: plan.name.clone(), waived: plan.waived.iter().map(|field| field.word()).collect() }
}

/// The board description's name.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BoardJson {
    /// Its name.
    pub name: String,
}

/// Totals in bytes.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TotalsJson {
    /// By the plan.
    pub planned_bytes: Option<u64>,
    /// Sum of the modules that give memory.
    pub detected_bytes: Option<u64>,
    /// The part of it on persistent modules.
    pub persistent_bytes: u64,
    /// Union of the mapped address ranges.
    pub mapped_bytes: Option<u64>,
    /// As the operating system sees it; null without `/proc/meminfo`.
    pub visible_bytes: Option<u64>,
}

/// Speeds in MT/s.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SpeedJson {
    /// By the plan.
    pub expected_mts: Option<u32>,
    /// The lowest configured speed.
    pub configured_mts: Option<u32>,
    /// The lowest rated speed.
    pub rated_mts: Option<u32>,
}

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
    /// `reseat`, `remove`, `move`, `pull`, `place`, `swap`, `exchange`, `fit` or `check`.
    pub step: &'static str,
    /// The slot.
    pub slot: Option<String>,
    /// The other slot of a move or a swap, or of a module that waits beside the board.
    pub other_slot: Option<String>,
    /// Hand movements that it takes.
    pub movements: u32,
    /// The step as a sentence.
    pub text: String,
}

/// The JSON form of an audit.
pub fn audit_json(diagnosis: &Diagnosis<'_>) -> AuditJson {
    let (case, audit) = (diagnosis.case, diagnosis.audit);
    let plan = &*case.plan;
    let population = &case.population;
    let lowest = |rate: fn(&crate::population::Module<'_>) -> Option<TransferRate>| {
        population.fitted().filter_map(|(_, module)| rate(module)).min().map(|rate| rate.0)
    };
    AuditJson {
        format: "asfitted.audit",
        version: 1,
        listing: slots::listing(case),
        machine: slots::machine(case),
        plan: plan_json(plan),
        board: case.board.map(|board| BoardJson { name: board.name.clone() }),
        expectation: case
            .board
            .zip(audit.prediction.as_ref())
            .map(|(board, prediction)| expectation_json(board, prediction, &audit.lifts)),
        verdict: audit.verdict.word(),
        totals: TotalsJson {
            planned_bytes: plan.planned_total().map(|size| size.0),
            detected_bytes: population.totals.detected.map(|size| size.0),
            persistent_bytes: population.totals.persistent.0,
            mapped_bytes: population.totals.mapped.map(|size| size.0),
            visible_bytes: case.sources.meminfo.as_ref().map(|meminfo| meminfo.total.0),
        },
        speed: SpeedJson {
            expected_mts: plan.expect.speed.map(|rate| rate.0),
            configured_mts: lowest(|module| module.configured),
            rated_mts: lowest(|module| module.rated),
        },
        slots: slots(case),
        findings: findings_json(diagnosis),
        work: steps_json(diagnosis),
        notes: notes(case).into_iter().chain(audit.notes.iter().map(|text| NoteJson::remark(text))).collect(),
    }
}

fn slots(case: &Case<'_>) -> Vec<SlotJson> {
    let plan = &case.plan;
    let speed = plan.expect.speed.map(|rate| rate.0);
    let demands = plan.demands();
    let planned_of = |name: &str| match demands.get(name) {
        Some(Demand::Module(wanted)) => Some(slots::planned(wanted, speed)),
        _ => None,
    };
    let listed = case.population.slots.iter().map(|slot| {
        let mut json = slots::slot(slot);
        json.planned = Some(planned_of(&slot.name));
        json
    });
    let unlisted =
        plan.slots.iter().filter(|planned| case.population.slot(&planned.slot).is_none()).map(|planned| {
            SlotJson {
                slot: planned.slot.clone(),
                socket: None,
                channel: None,
                position: None,
                certainty: "unproven",
                state: "unlisted",
                planned: Some(planned_of(&planned.slot)),
                found: None,
            }
        });
    listed.chain(unlisted).collect()
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
        step: step.kind.word(),
        slot: step.slot.clone(),
        other_slot: step.other_slot.clone(),
        movements: step.movements,
        text: step.text.clone(),
    };
    diagnosis.steps.iter().map(step).collect()
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
        evidence: finding
            .evidence
            .iter()
            .map(|e| EvidenceJson { source: e.source.word(), line: e.line, text: e.text.clone() })
            .collect(),
        causes: Vec::new(),
    }
}
