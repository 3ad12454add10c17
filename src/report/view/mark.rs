//! What marks a verdict, a finding or a slot; each format has its own signs and colours for it.

use crate::audit::{Severity, Verdict};

/// A mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    /// Something deviates.
    Fault,
    /// Someone should know.
    Warning,
    /// Not shown by the evidence.
    Unproven,
    /// As it should be.
    Good,
}

/// The marks that a slot can have, with their meaning: the first word, then more where there is room.
pub(crate) const LEGEND: [(Mark, &str, &str); 3] = [
    (Mark::Fault, "fault", ""),
    (Mark::Warning, "warning", ""),
    (Mark::Unproven, "unproven", ": not shown by the evidence"),
];

/// What a slot with a broken outline means.
pub(crate) const BROKEN_OUTLINE: &str = "broken outline: nothing is seen there";

impl From<Severity> for Mark {
    fn from(severity: Severity) -> Self {
        match severity {
            Severity::Fault => Self::Fault,
            Severity::Warning => Self::Warning,
            Severity::Unproven => Self::Unproven,
        }
    }
}

impl From<Verdict> for Mark {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::AsPlanned => Self::Good,
            Verdict::Deviates => Self::Fault,
            Verdict::Unproven => Self::Unproven,
        }
    }
}
