//! Steps about modules that keep their contents without power.

use super::step::{Step, StepKind};
use crate::audit::{Finding, FindingKind};
use crate::base::words::short_list;

/// What comes before the power goes off.
pub(super) fn backup() -> Step {
    let text = "before power-off, this machine holds persistent memory: back up what is on it; record its regions, namespaces and pass-phrases, and which module is in which slot; each goes back into its own slot";
    Step::new(StepKind::Command, None, None, text.to_owned())
}

/// What is to be done about guarded slots that differ from the plan: nothing that changes a module's place.
pub(super) fn steps(findings: &[Finding], guarded: &dyn Fn(&str) -> bool) -> Vec<Step> {
    let kinds = [
        FindingKind::Missing,
        FindingKind::NotRunning,
        FindingKind::WrongSlot,
        FindingKind::WrongModule,
        FindingKind::Unplanned,
    ];
    let mut steps = Vec::new();
    for kind in kinds {
        let mut slots: Vec<String> = Vec::new();
        for finding in findings.iter().filter(|finding| finding.kind == kind) {
            let own = || finding.slots.iter().chain(&finding.other_slot);
            // A finding of several slots may have others among them, which have steps of their own.
            let several = finding.slots.len() > 1;
            if own().any(|slot| guarded(slot)) {
                slots.extend(own().filter(|slot| !several || guarded(slot)).cloned());
            }
        }
        slots.sort();
        slots.dedup();
        if !slots.is_empty() {
            steps.push(Step::about(StepKind::Inspect, &slots, told(kind, &short_list(&slots))));
        }
    }
    steps
}

fn told(kind: FindingKind, at: &str) -> String {
    match kind {
        FindingKind::Missing => format!(
            "inspect {at}: a persistent module that is there is pressed in again in this same slot; if none is there, find the one that was there"
        ),
        FindingKind::NotRunning => format!(
            "inspect {at}: press the persistent module in again in this same slot; read its state with its maker's tool"
        ),
        FindingKind::WrongSlot => format!(
            "{at}: persistent modules are not where the plan has them; move none: follow the maker's migration procedure, slot for slot, or correct the plan"
        ),
        FindingKind::WrongModule => format!(
            "{at}: persistent memory and plan differ; leave the module there: find out whose data it holds, then correct the plan or follow the maker's migration procedure, slot for slot"
        ),
        _ => format!(
            "{at}: a persistent module that the plan does not call for; leave it there: find out whose data it holds, then add it to the plan or retire it by its maker's procedure"
        ),
    }
}
