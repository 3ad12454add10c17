//! What the outputs of a fleet are made of in the end.

use crate::audit::Severity;
use crate::fleet::{FleetResult, Reconciled, Summary};

/// A fleet with all it was made from.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct FleetReport<'r> {
    /// Sums over the hosts.
    pub summary: &'r Summary,
    /// What became of the modules.
    pub stock: &'r Reconciled,
    /// What changed since an earlier run, if one was given.
    pub changes: Option<&'r Changes>,
    /// Plans that could not be read.
    pub bad_plans: &'r [String],
}

/// What changed since an earlier run.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Changes {
    /// The earlier run's file.
    pub since: String,
    /// Hosts whose outcome or findings are others, with the outcome of now.
    pub changed: Vec<(String, &'static str)>,
    /// Hosts that the earlier run did not have, with their outcome.
    pub new: Vec<(String, &'static str)>,
    /// Hosts that this run does not have.
    pub gone: Vec<String>,
}

impl<'r> FleetReport<'r> {
    /// What a run came to, where all plans could be read and there is no earlier run.
    pub fn new(result: &'r FleetResult) -> Self {
        Self { summary: &result.summary, stock: &result.stock, changes: None, bad_plans: &[] }
    }

    /// Whether every module is where it should be.
    pub fn stock_is_clean(&self) -> bool {
        self.stock.count_of(Severity::Fault) + self.stock.count_of(Severity::Unproven) == 0
    }
}
