//! Findings: what deviates, where, and by which lines of the listing.

use super::pattern::Pattern;
use crate::evidence::Evidence;
use crate::plan::DemandField;
use crate::sources::{EventKind, State};
use crate::units::Bytes;

/// What a kind of finding is called, weighs and means. The table drives JSON, terminal and docs/findings.md.
#[derive(Debug, Clone, Copy)]
pub struct FindingInfo {
    /// Its word in JSON and reports.
    pub word: &'static str,
    /// Its usual severity; a broken rule that only costs speed weighs less.
    pub severity: Severity,
    /// Its meaning in one sentence.
    pub meaning: &'static str,
}

table! {
    /// The kinds of findings, in the order in which they are reported.
    #[non_exhaustive]
    pub enum FindingKind: FindingInfo {
        /// Planned slots belong to a socket with no processor.
        NoCpu {
            word: "no-cpu",
            severity: Severity::Fault,
            meaning: "planned slots belong to a socket with no processor, so their modules cannot be seen",
        },
        /// Firmware knows the module's identity, yet it is not running.
        NotRunning {
            word: "not-running",
            severity: Severity::Fault,
            meaning: "the firmware knows the module's identity, yet it is not running",
        },
        /// A planned module is detected nowhere.
        Missing {
            word: "missing",
            severity: Severity::Fault,
            meaning: "a planned module is detected nowhere",
        },
        /// A planned module is detected in a different slot from the one planned.
        WrongSlot {
            word: "wrong-slot",
            severity: Severity::Fault,
            meaning: "a planned module is detected in a different slot from the one planned",
        },
        /// The slot holds a module that differs from the planned one.
        WrongModule {
            word: "wrong-module",
            severity: Severity::Fault,
            meaning: "the slot holds a module that differs from the planned one",
        },
        /// Two modules of the machine state one serial number.
        DuplicateSerial {
            word: "duplicate-serial",
            severity: Severity::Fault,
            meaning: "two modules of the machine state one serial number",
        },
        /// Memory runs below what the plan leads to expect.
        ClockedDown {
            word: "clocked-down",
            severity: Severity::Fault,
            meaning: "memory runs below the speed that the plan expects",
        },
        /// The total is below plan and no other finding explains it, or too little of it is visible.
        ShortTotal {
            word: "short-total",
            severity: Severity::Fault,
            meaning: "the total is below plan, or the operating system sees less of it than is usual",
        },
        /// ECC modules are planned or fitted and the array corrects nothing.
        EccOff {
            word: "ecc-off",
            severity: Severity::Fault,
            meaning: "ECC modules are planned or fitted and the array states no error correction",
        },
        /// A channel holds more ranks or modules than it takes.
        RankLimit {
            word: "rank-limit",
            severity: Severity::Fault,
            meaning: "a channel holds more ranks or modules than the board's rules allow",
        },
        /// A channel's slots are filled in the wrong order.
        SlotOrder {
            word: "slot-order",
            severity: Severity::Fault,
            meaning: "the slots of a channel are filled in another order than the board's rules ask for",
        },
        /// Modules that must not be in one machine, or that the board does not take.
        MixedKinds {
            word: "mixed-kinds",
            severity: Severity::Fault,
            meaning: "modules that must not be in one machine together, or that the board does not take",
        },
        /// Modules are spread unevenly.
        Uneven {
            word: "uneven",
            severity: Severity::Warning,
            meaning: "modules are spread unevenly over channels or sockets, which costs bandwidth",
        },
        /// Errors were counted or logged on memory.
        MemoryErrors {
            word: "memory-errors",
            severity: Severity::Warning,
            meaning: "errors were counted or logged on this memory",
        },
        /// A module the plan does not call for.
        Unplanned {
            word: "unplanned",
            severity: Severity::Warning,
            meaning: "a module that the plan does not call for",
        },
        /// The listing is truncated or broken.
        ListingDamaged {
            word: "listing-damaged",
            severity: Severity::Warning,
            meaning: "the listing is truncated or broken, which may hide records",
        },
        /// Two sources state what cannot both be true.
        Contradiction {
            word: "contradiction",
            severity: Severity::Unproven,
            meaning: "two sources of evidence state what cannot both be true",
        },
        /// The plan demands something that the listing does not state.
        Unproven {
            word: "unproven",
            severity: Severity::Unproven,
            meaning: "the plan demands something that the listing does not state",
        },
    }
}

table! {
    /// How much a finding weighs.
    pub enum Severity {
        /// The machine deviates.
        Fault = "fault",
        /// Nothing is broken by it; someone should know.
        Warning = "warning",
        /// Neither proven nor disproven.
        Unproven = "unproven",
    }
}

impl FindingKind {
    /// The kind's word.
    pub const fn word(self) -> &'static str {
        self.info().word
    }
}

/// What distinguishes findings of one kind whose causes are not the same.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Detail {
    /// Nothing beyond the finding's own fields.
    #[default]
    None,
    /// It is about the memory that the operating system sees, this much, not about what is detected.
    Visible(Bytes),
    /// A capture that was cut off, or a section of it that cannot be read.
    CutCapture,
    /// The management controller states something about its slot.
    Reported {
        /// Memory events of the event log.
        events: Vec<EventKind>,
        /// The state of the slot.
        state: Option<State>,
        /// Corrected errors that the kernel has counted.
        corrected: u64,
    },
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What it is.
    pub kind: FindingKind,
    /// How much it weighs.
    pub severity: Severity,
    /// The slot it is about: the first of `slots`, if any.
    pub slot: Option<String>,
    /// All slots that share the cause.
    pub slots: Vec<String>,
    /// For a misplaced module, the slot where it belongs.
    pub other_slot: Option<String>,
    /// The fields that differ or are open.
    pub fields: Vec<DemandField>,
    /// One sentence.
    pub summary: String,
    /// What the plan demands.
    pub expected: String,
    /// What the listing states.
    pub found: String,
    /// The lines that show it.
    pub evidence: Vec<Evidence>,
    /// What distinguishes it from others of its kind, where its causes depend on that.
    pub detail: Detail,
    /// How far what is missing reaches.
    pub pattern: Pattern,
}

impl Finding {
    /// Whether it is about `slot`, or a module that belongs there.
    pub fn is_at(&self, slot: &str) -> bool {
        self.slots.iter().any(|own| own == slot) || self.other_slot.as_deref() == Some(slot)
    }

    /// The memory events that the management controller's log has for its slot.
    pub fn events(&self) -> &[EventKind] {
        match &self.detail {
            Detail::Reported { events, .. } => events,
            Detail::None | Detail::Visible(_) | Detail::CutCapture => &[],
        }
    }

    /// The state of its slot, where the management controller states one.
    pub fn state(&self) -> Option<State> {
        match self.detail {
            Detail::Reported { state, .. } => state,
            Detail::None | Detail::Visible(_) | Detail::CutCapture => None,
        }
    }

    /// Corrected errors that the kernel has counted on its slot.
    pub fn corrected(&self) -> u64 {
        match self.detail {
            Detail::Reported { corrected, .. } => corrected,
            Detail::None | Detail::Visible(_) | Detail::CutCapture => 0,
        }
    }

    /// Adds what the management controller states about its slot; a state that is there stays.
    pub(crate) fn report(&mut self, more: Vec<EventKind>, state: Option<State>, counted: u64) {
        if !matches!(self.detail, Detail::Reported { .. }) {
            self.detail = Detail::Reported { events: Vec::new(), state: None, corrected: 0 };
        }
        if let Detail::Reported { events, state: own, corrected } = &mut self.detail {
            events.extend(more);
            *corrected = corrected.saturating_add(counted);
            *own = own.or(state);
        }
    }

    /// A finding about `slots`, without the rest.
    pub(crate) fn about(kind: FindingKind, slots: Vec<String>) -> Self {
        Self {
            kind,
            severity: kind.info().severity,
            slot: slots.first().cloned(),
            slots,
            other_slot: None,
            fields: Vec::new(),
            summary: String::new(),
            expected: String::new(),
            found: String::new(),
            evidence: Vec::new(),
            detail: Detail::None,
            pattern: Pattern::Alone,
        }
    }

    /// Its severity.
    pub fn severity(&self) -> Severity {
        self.severity
    }
}

table! {
    /// The outcome of an audit.
    pub enum Verdict {
        /// Nothing deviates and nothing is open.
        AsPlanned = "as-planned",
        /// Nothing deviates; something the plan demands is not shown.
        Unproven = "unproven",
        /// Something deviates.
        Deviates = "deviates",
    }
}

impl Verdict {
    /// The verdict of a list of findings.
    pub fn of(findings: &[Finding]) -> Self {
        if findings.iter().any(|finding| finding.severity() == Severity::Fault) {
            Self::Deviates
        } else if findings.iter().any(|finding| finding.severity() == Severity::Unproven) {
            Self::Unproven
        } else {
            Self::AsPlanned
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The compiler cannot see a kind that no check finds, since `ALL` names it.
    #[test]
    fn every_kind_is_found_by_a_check() {
        let mut folders = vec![std::path::PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/src/audit"))];
        let mut code = String::new();
        while let Some(folder) = folders.pop() {
            for path in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
                if path.is_dir() {
                    folders.push(path);
                } else if !path.ends_with("finding.rs") {
                    code += &std::fs::read_to_string(path).unwrap();
                }
            }
        }
        for kind in FindingKind::ALL {
            assert!(code.contains(&format!("FindingKind::{kind:?}")), "no check in src/audit finds {kind:?}");
        }
    }
}
