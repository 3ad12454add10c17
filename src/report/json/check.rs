//! The JSON of a plan check.

use serde::Serialize;

use super::expectation::{ExpectationJson, expectation_json};
use super::findings::{FindingJson, plain_finding};
use super::parts::{self, BoardJson, PlanJson};
use crate::report::PlanCheckReport;

/// One plan check, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted plan check"))]
pub struct PlanCheckJson {
    /// Always `asfitted.plan-check`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The plan.
    pub plan: PlanJson,
    /// The board.
    pub board: BoardJson,
    /// `as-planned` if no rule is broken, else `deviates`.
    pub verdict: &'static str,
    /// What to expect.
    pub expectation: ExpectationJson,
    /// What the operating system sees in the plan's mode, in bytes.
    pub visible_bytes: Option<u64>,
    /// Broken rules.
    pub findings: Vec<FindingJson>,
    /// Where money is spent for nothing.
    pub wasted: Vec<String>,
}

/// The JSON of a plan check.
pub fn plan_check_json(report: &PlanCheckReport<'_>) -> PlanCheckJson {
    let PlanCheckReport { plan, board, check } = *report;
    PlanCheckJson {
        format: "asfitted.plan-check",
        version: 1,
        plan: parts::plan(plan),
        board: parts::board(board),
        verdict: check.verdict.word(),
        expectation: expectation_json(board, &check.prediction, &check.raises),
        visible_bytes: check.visible.map(|size| size.0),
        findings: check.findings.iter().map(plain_finding).collect(),
        wasted: check.wasted.clone(),
    }
}
