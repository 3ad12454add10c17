//! The JSON of an audit.

use serde::Serialize;

use super::expectation::{ExpectationJson, expectation_json};
use super::findings::{FindingJson, StepJson, findings_json, steps_json};
use super::parts::{self, BoardJson, ListingJson, MachineJson, NoteJson, PlanJson, SlotJson, TierJson};
use super::proof::{DemandJson, ProofJson, demands_json, proof_json};
use crate::case::Case;
use crate::diagnose::Diagnosis;
use crate::plan::Demand;
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
    /// How many demands the plan has, and how they were decided.
    pub proof: ProofJson,
    /// Every demand of the plan with its decision.
    pub demands: Vec<DemandJson>,
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

/// Totals in bytes.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TotalsJson {
    /// By the plan.
    pub planned_bytes: Option<u64>,
    /// Sum of the modules of all tiers that give memory.
    pub detected_bytes: Option<u64>,
    /// The part of it on persistent modules.
    pub persistent_bytes: u64,
    /// What is in each tier of memory: main memory, and those of which there or in the plan is any.
    pub tiers: Vec<TierJson>,
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

/// The JSON of an audit.
pub fn audit_json(diagnosis: &Diagnosis<'_>) -> AuditJson {
    let (case, audit) = (diagnosis.case, diagnosis.audit);
    let plan = &*case.plan;
    let population = &case.population;
    let lowest = |rate: fn(&crate::population::Module<'_>) -> Option<TransferRate>| {
        population.dimms().filter_map(|(_, module)| rate(module)).min().map(|rate| rate.0)
    };
    AuditJson {
        format: "asfitted.audit",
        version: 1,
        listing: parts::listing(case),
        machine: parts::machine(case),
        plan: parts::plan(plan),
        board: case.board.map(parts::board),
        expectation: case
            .board
            .zip(audit.prediction.as_ref())
            .map(|(board, prediction)| expectation_json(board, prediction, &audit.raises)),
        verdict: audit.verdict.word(),
        proof: proof_json(&audit.proof),
        demands: demands_json(&audit.proof),
        totals: TotalsJson {
            planned_bytes: case.planned_total().map(|size| size.0),
            detected_bytes: population.totals.detected.map(|size| size.0),
            persistent_bytes: population.totals.persistent.0,
            mapped_bytes: population.totals.mapped.map(|size| size.0),
            tiers: parts::tiers(case),
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
        notes: parts::notes(case).into_iter().chain(parts::remarks(&audit.notes)).collect(),
    }
}

fn slots(case: &Case<'_>) -> Vec<SlotJson> {
    let plan = &case.plan;
    let speed = plan.expect.speed.map(|rate| rate.0);
    let demands = plan.demands();
    let planned_of = |name: &str| match demands.get(name) {
        Some(Demand::Module(wanted)) => Some(parts::planned(wanted, speed)),
        _ => None,
    };
    let listed = case.population.slots.iter().map(|slot| {
        let mut json = parts::slot(slot);
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
                tier: None,
                state: "unlisted",
                planned: Some(planned_of(&planned.slot)),
                found: None,
                record: None,
            }
        });
    listed.chain(unlisted).collect()
}
