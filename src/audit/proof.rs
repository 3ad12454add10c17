//! What a verdict is the sum of: every demand of the plan, and how it is decided.

use super::finding::{Finding, Severity, Verdict};
use crate::evidence::Evidence;

table! {
    /// What a demand is about.
    #[non_exhaustive]
    pub enum Subject {
        /// The module of a slot: that it is there, or one of its fields.
        Module = "module",
        /// A slot that should hold no module, or none that runs.
        Empty = "empty",
        /// The sum of the modules.
        Total = "total",
        /// The speed at which the memory runs.
        Speed = "speed",
        /// Error correction.
        Ecc = "ecc",
        /// Which machine it is.
        Machine = "machine",
    }
}

table! {
    /// How a demand is decided. Each has exactly one decision.
    pub enum Decision {
        /// The evidence shows it.
        Met = "met",
        /// The evidence shows that it is not so.
        Contradicted = "contradicted",
        /// The evidence shows neither.
        Open = "open",
    }
}

/// One demand of the plan and its decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demanded {
    /// What it is about.
    pub subject: Subject,
    /// The planned slot; `None` for what is about the whole machine.
    pub slot: Option<String>,
    /// The field: a word of `waive`, or the key under `machine`.
    pub field: &'static str,
    /// What the plan demands.
    pub wanted: String,
    /// How it is decided.
    pub decision: Decision,
    /// The lines that decide it; for an open demand the lines that leave it open, if there are any.
    pub evidence: Vec<Evidence>,
    /// For an open demand, what is not shown.
    pub missing: Option<String>,
}

/// All demands of a plan.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Proof {
    /// In the order of the plan: slots, then what is about the whole machine.
    pub demands: Vec<Demanded>,
}

impl Proof {
    /// The number of demands with this decision.
    pub fn count(&self, decision: Decision) -> usize {
        self.demands.iter().filter(|demand| demand.decision == decision).count()
    }

    /// The verdict: of all demands, and of findings about what no plan needs to demand.
    pub(super) fn verdict(&self, findings: &[Finding]) -> Verdict {
        let any = |severity, decision| {
            findings.iter().any(|finding| finding.severity() == severity)
                || self.demands.iter().any(|demand| demand.decision == decision)
        };
        if any(Severity::Fault, Decision::Contradicted) {
            Verdict::Deviates
        } else if any(Severity::Unproven, Decision::Open) {
            Verdict::Unproven
        } else {
            Verdict::AsPlanned
        }
    }
}
