//! Whether a host may ship: what its audit says, and what the stock says of its modules.

use super::host::HostVerdict;
use crate::audit::{Severity, Verdict};

table! {
    /// What to do with a host; the worst that any evidence asks for, so that a later one outweighs those before it.
    pub enum Decision {
        /// It is as planned, and nothing speaks against its modules.
        MayShip = "may-ship",
        /// Nothing speaks against it, but not everything is proven.
        CannotSay = "cannot-say",
        /// It deviates from its plan, or one of its modules is not where it should be.
        Hold = "hold",
    }
}

impl Decision {
    /// What the audit alone decides.
    pub const fn of(verdict: &HostVerdict) -> Self {
        match verdict {
            HostVerdict::Audited(Verdict::AsPlanned) => Self::MayShip,
            HostVerdict::Audited(Verdict::Deviates) => Self::Hold,
            HostVerdict::Audited(Verdict::Unproven) | HostVerdict::NotDone(_) => Self::CannotSay,
        }
    }

    /// What a finding of the stock asks for; a warning asks for nothing.
    pub(super) const fn by_stock(severity: Severity) -> Self {
        match severity {
            Severity::Fault => Self::Hold,
            Severity::Unproven => Self::CannotSay,
            Severity::Warning => Self::MayShip,
        }
    }
}

/// A host whose decision the stock changes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ChangedDecision<'r> {
    /// The host.
    pub host: &'r str,
    /// What its audit alone decides.
    pub by_audit: Decision,
    /// What is decided with the stock.
    pub decision: Decision,
    /// The finding of the stock that decides it: its kind and one sentence.
    pub because: String,
}
