//! What is checked where a finding is about modules that keep their contents without power.

use super::{Cause, CauseKind};
use crate::audit::Finding;
use crate::diagnose::guarded::Guarded;

const LEAVE: &str = "persistent memory: leave each module in its slot; read its health and its place in the set with its maker's tool, and move or change it only by the maker's migration procedure, slot for slot";

/// Takes out of the checks of a finding whatever would bring a persistent module to another slot.
pub(super) fn spare(finding: &Finding, guarded: &Guarded<'_>, causes: &mut [Cause]) {
    if !guarded.concerns(finding) {
        return;
    }
    for cause in causes {
        let moves = matches!(
            cause.kind,
            CauseKind::BadModule
                | CauseKind::BadSlot
                | CauseKind::BlockingModule
                | CauseKind::ChannelDown
                | CauseKind::GroupDisabled
                | CauseKind::Unsteady
                | CauseKind::Disabled
                | CauseKind::FailedTraining
                | CauseKind::Misplaced
                | CauseKind::OtherModule
                | CauseKind::LeftIn
                | CauseKind::BrokenRule
                | CauseKind::SlowModule
                | CauseKind::NoCheckBits
                | CauseKind::BadMemory
        );
        if moves {
            LEAVE.clone_into(&mut cause.check);
        }
    }
}
