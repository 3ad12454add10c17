//! The demands of a plan and how each was decided, as JSON.

use serde::Serialize;

use super::findings::{EvidenceJson, evidence_json};
use crate::audit::{Decision, Demanded, Proof};

/// How many demands there are, and how they were decided.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ProofJson {
    /// All of them: met, contradicted and open.
    pub demands: usize,
    /// The evidence shows these.
    pub met: usize,
    /// The evidence shows that these are not so.
    pub contradicted: usize,
    /// The evidence shows neither.
    pub open: usize,
}

/// One demand of the plan.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct DemandJson {
    /// `module`, `empty`, `total`, `speed`, `ecc` or `machine`.
    pub subject: &'static str,
    /// The planned slot; null for what is about the whole machine.
    pub slot: Option<String>,
    /// The field: a word of `waive`, `idle`, or a key under `machine`.
    pub field: &'static str,
    /// What the plan demands.
    pub wanted: String,
    /// `met`, `contradicted` or `open`.
    pub result: &'static str,
    /// The lines that decide it, or that leave it open.
    pub evidence: Vec<EvidenceJson>,
    /// What is not shown, for an open demand.
    pub missing: Option<String>,
}

pub(super) fn proof_json(proof: &Proof) -> ProofJson {
    ProofJson {
        demands: proof.demands.len(),
        met: proof.count(Decision::Met),
        contradicted: proof.count(Decision::Contradicted),
        open: proof.count(Decision::Open),
    }
}

pub(super) fn demands_json(proof: &Proof) -> Vec<DemandJson> {
    let demand = |demand: &Demanded| DemandJson {
        subject: demand.subject.word(),
        slot: demand.slot.clone(),
        field: demand.field,
        wanted: demand.wanted.clone(),
        result: demand.decision.word(),
        evidence: evidence_json(&demand.evidence),
        missing: demand.missing.clone(),
    };
    proof.demands.iter().map(demand).collect()
}
