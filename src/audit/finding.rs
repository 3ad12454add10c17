//! Findings: what deviates, where, and by which lines of the listing.

use crate::evidence::Evidence;
use crate::plan::DemandField;
use crate::sources::{EventKind, State};

/// The kinds of findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum FindingKind {
    /// A planned module is detected nowhere.
    Missing,
    /// A planned module is detected in another slot than planned.
    WrongSlot,
    /// The slot holds a module that differs from the planned one.
    WrongModule,
    /// A module the plan does not call for.
    Unplanned,
    /// Firmware knows the module's identity, yet it gives no memory.
    NotRunning,
    /// Memory runs below what the plan leads to expect.
    ClockedDown,
    /// The total is below plan and no other finding says why, or too little of it is visible.
    ShortTotal,
    /// Planned slots belong to a socket with no processor.
    NoCpu,
    /// A channel holds more ranks or modules than it takes.
    RankLimit,
    /// A channel's slots are filled in the wrong order.
    SlotOrder,
    /// Modules that must not be in one machine, or that the board does not take.
    MixedKinds,
    /// Modules are spread unevenly.
    Uneven,
    /// ECC modules are planned or fitted and the array corrects nothing.
    EccOff,
    /// The plan demands something that the listing does not state.
    Unproven,
    /// The listing is truncated or broken.
    ListingDamaged,
    /// Errors were counted or logged on memory.
    MemoryErrors,
    /// Two witnesses say what cannot both be true.
    Contradiction,
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// The machine deviates.
    Fault,
    /// Nothing is broken by it; someone should know.
    Warning,
    /// Neither proven nor disproven.
    Unproven,
}

/// What a kind of finding is called, weighs and means. The table drives JSON, terminal and docs/findings.md.
#[derive(Debug, Clone, Copy)]
pub struct FindingInfo {
    /// The kind.
    pub kind: FindingKind,
    /// Its word in JSON and reports.
    pub word: &'static str,
    /// Its usual severity; a broken rule that only costs speed weighs less.
    pub severity: Severity,
    /// Its meaning in one sentence.
    pub meaning: &'static str,
}

/// All kinds, in the order in which findings are reported.
pub const FINDINGS: &[FindingInfo] = &[
    FindingInfo {
        kind: FindingKind::NoCpu,
        word: "no-cpu",
        severity: Severity::Fault,
        meaning: "planned slots belong to a socket with no processor, so their modules cannot be seen",
    },
    FindingInfo {
        kind: FindingKind::NotRunning,
        word: "not-running",
        severity: Severity::Fault,
        meaning: "the firmware knows the module's identity, yet it gives no memory",
    },
    FindingInfo {
        kind: FindingKind::Missing,
        word: "missing",
        severity: Severity::Fault,
        meaning: "a planned module is detected nowhere",
    },
    FindingInfo {
        kind: FindingKind::WrongSlot,
        word: "wrong-slot",
        severity: Severity::Fault,
        meaning: "a planned module is detected in another slot than planned",
    },
    FindingInfo {
        kind: FindingKind::WrongModule,
        word: "wrong-module",
        severity: Severity::Fault,
        meaning: "the slot holds a module that differs from the planned one",
    },
    FindingInfo {
        kind: FindingKind::ClockedDown,
        word: "clocked-down",
        severity: Severity::Fault,
        meaning: "memory runs below the speed that the plan expects",
    },
    FindingInfo {
        kind: FindingKind::ShortTotal,
        word: "short-total",
        severity: Severity::Fault,
        meaning: "the total is below plan, or the operating system sees less of it than is usual",
    },
    FindingInfo {
        kind: FindingKind::EccOff,
        word: "ecc-off",
        severity: Severity::Fault,
        meaning: "ECC modules are planned or fitted and the array states no error correction",
    },
    FindingInfo {
        kind: FindingKind::RankLimit,
        word: "rank-limit",
        severity: Severity::Fault,
        meaning: "a channel holds more ranks or modules than the board's rules allow",
    },
    FindingInfo {
        kind: FindingKind::SlotOrder,
        word: "slot-order",
        severity: Severity::Fault,
        meaning: "the slots of a channel are filled in another order than the board's rules ask for",
    },
    FindingInfo {
        kind: FindingKind::MixedKinds,
        word: "mixed-kinds",
        severity: Severity::Fault,
        meaning: "modules that must not be in one machine together, or that the board does not take",
    },
    FindingInfo {
        kind: FindingKind::Uneven,
        word: "uneven",
        severity: Severity::Warning,
        meaning: "modules are spread unevenly over channels or sockets, which costs bandwidth",
    },
    FindingInfo {
        kind: FindingKind::MemoryErrors,
        word: "memory-errors",
        severity: Severity::Warning,
        meaning: "errors were counted or logged on this memory",
    },
    FindingInfo {
        kind: FindingKind::Unplanned,
        word: "unplanned",
        severity: Severity::Warning,
        meaning: "a module that the plan does not call for",
    },
    FindingInfo {
        kind: FindingKind::ListingDamaged,
        word: "listing-damaged",
        severity: Severity::Warning,
        meaning: "the listing is truncated or broken, which may hide records",
    },
    FindingInfo {
        kind: FindingKind::Contradiction,
        word: "contradiction",
        severity: Severity::Unproven,
        meaning: "two witnesses say what cannot both be true",
    },
    FindingInfo {
        kind: FindingKind::Unproven,
        word: "unproven",
        severity: Severity::Unproven,
        meaning: "the plan demands something that the listing does not state",
    },
];

impl FindingKind {
    /// The kind's row in [`FINDINGS`].
    pub fn info(self) -> &'static FindingInfo {
        FINDINGS.iter().find(|info| info.kind == self).unwrap_or(&FINDINGS[0])
    }

    /// The kind's word.
    pub fn word(self) -> &'static str {
        self.info().word
    }
}

impl Severity {
    /// The severity's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Warning => "warning",
            Self::Unproven => "unproven",
        }
    }
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
    /// What the plan says.
    pub expected: String,
    /// What the listing says.
    pub found: String,
    /// The lines that show it.
    pub evidence: Vec<Evidence>,
    /// What the event log says about its slot.
    pub events: Vec<EventKind>,
    /// The state of its slot by the management controller.
    pub state: Option<State>,
}

impl Finding {
    /// Whether it is about `slot`, or a module that belongs there.
    pub fn is_at(&self, slot: &str) -> bool {
        self.slots.iter().any(|own| own == slot) || self.other_slot.as_deref() == Some(slot)
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
            events: Vec::new(),
            state: None,
        }
    }

    /// Its severity.
    pub fn severity(&self) -> Severity {
        self.severity
    }
}

/// The outcome of an audit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Nothing deviates and nothing is open.
    AsPlanned,
    /// Nothing deviates; something the plan demands is not shown.
    Unproven,
    /// Something deviates.
    Deviates,
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

    /// The verdict's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsPlanned => "as-planned",
            Self::Unproven => "unproven",
            Self::Deviates => "deviates",
        }
    }
}

/// `A1`, `A1 and A2`, `A1, A2 and 10 more`: slot names in a sentence.
pub(crate) fn list(slots: &[String]) -> String {
    const SHOWN: usize = 6;
    match slots {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if slots.len() <= SHOWN => format!("{} and {last}", most.join(", ")),
        _ => format!("{} and {} more", slots[..SHOWN - 1].join(", "), slots.len() - SHOWN + 1),
    }
}
