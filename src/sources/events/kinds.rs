//! Kinds of memory events: their codes, their words, and how much each weighs.

/// How much an event weighs for a module that has just been fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Weight {
    /// No evidence against the module.
    None,
    /// Corrected, or hot: seating and dirt show first like this.
    Notice,
    /// The module is not to be trusted as it is.
    Grave,
}

/// What a record says in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EventCode {
    /// Bits 6:0 of the event type: 6Fh for offsets of the sensor type's own, less for the generic ones.
    pub event_type: u8,
    /// Sensor type.
    pub sensor_type: u8,
    /// Bits 3:0 of event data 1.
    pub offset: u8,
    /// Event data 2, where it makes the difference.
    pub second: Option<u8>,
}

/// Sensor type Memory.
pub(super) const MEMORY: u8 = 0x0C;
/// Sensor type POST Memory Resize, which has no offsets of its own.
pub(super) const MEMORY_RESIZE: u8 = 0x0E;
/// Sensor type System Firmware Progress.
const FIRMWARE: u8 = 0x0F;
/// Sensor type Event Logging Disabled.
pub(super) const LOGGING: u8 = 0x10;
/// The event type of offsets that are the sensor type's own.
const SPECIFIC: u8 = 0x6F;

const fn memory(offset: u8) -> EventCode {
    EventCode { event_type: SPECIFIC, sensor_type: MEMORY, offset, second: None }
}

const fn firmware(offset: u8, second: u8) -> EventCode {
    EventCode { event_type: SPECIFIC, sensor_type: FIRMWARE, offset, second: Some(second) }
}

/// A generic event of a memory sensor.
const fn generic(event_type: u8, offset: u8) -> EventCode {
    EventCode { event_type, sensor_type: MEMORY, offset, second: None }
}

/// What is known of a kind of event.
#[derive(Debug, Clone, Copy)]
pub struct EventInfo {
    /// The codes that mean it; none where only words do.
    pub codes: &'static [EventCode],
    /// Its name for reports.
    pub name: &'static str,
    /// Words by which its name is recognised in a table, in lower case; all must be there.
    pub words: &'static [&'static str],
    /// How much it weighs.
    pub weight: Weight,
}

table! {
    /// Events of sensor types 0Ch, Memory, 0Fh, System Firmware Progress, and 10h, Event Logging Disabled, and generic
    /// events of memory sensors. Source of codes and names: IPMI v2.0, clauses 42.1 (table 42-2, generic) and 42.2
    /// (table 42-3, by sensor type); the weights are common practice, no source.
    pub enum EventKind: EventInfo {
        /// Offset 00h.
        CorrectableEcc {
            codes: &[memory(0)],
            name: "correctable ECC error",
            words: &["correctable ecc"],
            weight: Weight::Notice,
        },
        /// Offset 01h.
        UncorrectableEcc {
            codes: &[memory(1)],
            name: "uncorrectable ECC error",
            words: &["uncorrectable ecc"],
            weight: Weight::Grave,
        },
        /// Offset 02h.
        Parity {
            codes: &[memory(2)],
            name: "parity error",
            words: &["parity"],
            weight: Weight::Grave,
        },
        /// Offset 03h: a bit is stuck.
        ScrubFailed {
            codes: &[memory(3)],
            name: "memory scrub failed (stuck bit)",
            words: &["scrub failed"],
            weight: Weight::Grave,
        },
        /// Offset 04h: the firmware has taken the module out of use.
        DeviceDisabled {
            codes: &[memory(4), generic(0x09, 0)],
            name: "memory device disabled",
            words: &["device disabled"],
            weight: Weight::Grave,
        },
        /// Offset 05h: so many corrected errors that no more are logged.
        LoggingLimit {
            codes: &[memory(5)],
            name: "limit of correctable errors reached",
            words: &["logging limit reached"],
            weight: Weight::Grave,
        },
        /// Offset 06h.
        PresenceDetected {
            codes: &[memory(6), generic(0x08, 1)],
            name: "presence detected",
            words: &["presence detected"],
            weight: Weight::None,
        },
        /// Offset 07h.
        ConfigurationError {
            codes: &[memory(7)],
            name: "memory configuration error",
            words: &["configuration error"],
            weight: Weight::Grave,
        },
        /// Offset 08h: the module is kept in reserve.
        Spare {
            codes: &[memory(8)],
            name: "kept in reserve (spare)",
            words: &["spare"],
            weight: Weight::None,
        },
        /// Offset 09h.
        Throttled {
            codes: &[memory(9)],
            name: "throttled",
            words: &["throttled"],
            weight: Weight::Notice,
        },
        /// Offset 0Ah.
        CriticalOvertemperature {
            codes: &[memory(0x0A)],
            name: "critical over-temperature",
            words: &["critical overtemperature"],
            weight: Weight::Notice,
        },
        /// Sensor type 0Fh, offset 00h, data 01h: no memory installed.
        NoMemoryInstalled {
            codes: &[firmware(0, 1)],
            name: "no system memory installed",
            words: &["no system memory"],
            weight: Weight::Grave,
        },
        /// Sensor type 0Fh, offset 00h, data 02h: no usable memory.
        NoUsableMemory {
            codes: &[firmware(0, 2)],
            name: "no usable system memory",
            words: &["no usable system memory"],
            weight: Weight::Grave,
        },
        /// Sensor type 0Fh, offset 01h, data 01h: the firmware hung while it set up memory.
        InitializationHang {
            codes: &[firmware(1, 1)],
            name: "firmware hung in memory initialization",
            words: &["memory initialization", "hang"],
            weight: Weight::Grave,
        },
        /// Sensor type 0Fh, offset 02h, data 01h: the ordinary course of a start.
        Initialization {
            codes: &[firmware(2, 1)],
            name: "memory initialization",
            words: &["memory initialization"],
            weight: Weight::None,
        },
        /// Sensor type 10h, offset 00h: what the log does not say from then on proves nothing.
        LoggingDisabled {
            codes: &[EventCode { event_type: SPECIFIC, sensor_type: LOGGING, offset: 0, second: None }],
            name: "logging of correctable errors disabled",
            words: &["correctable memory error logging disabled"],
            weight: Weight::Grave,
        },
        /// Generic event type 07h, offset 00h.
        StateOk {
            codes: &[generic(0x07, 0)],
            name: "state OK",
            words: &["transition to ok"],
            weight: Weight::None,
        },
        /// Generic event type 07h, offsets 01h and 04h. What is wrong is not said.
        StateNonCritical {
            codes: &[generic(0x07, 1), generic(0x07, 4)],
            name: "state non-critical",
            words: &["transition to non-critical"],
            weight: Weight::Grave,
        },
        /// Generic event type 07h, offsets 02h and 05h.
        StateCritical {
            codes: &[generic(0x07, 2), generic(0x07, 5)],
            name: "state critical",
            words: &["transition to critical"],
            weight: Weight::Grave,
        },
        /// Generic event type 07h, offsets 03h and 06h.
        StateNonRecoverable {
            codes: &[generic(0x07, 3), generic(0x07, 6)],
            name: "state non-recoverable",
            words: &["transition to non-recoverable"],
            weight: Weight::Grave,
        },
        /// Generic event type 03h, both offsets: which state it is only the board's maker knows.
        StateAsserted {
            codes: &[generic(0x03, 1), generic(0x03, 0)],
            name: "a state that only the maker of the board can name",
            words: &["state asserted"],
            weight: Weight::Grave,
        },
        /// Generic event type 0Bh, offset 00h.
        FullyRedundant {
            codes: &[generic(0x0B, 0)],
            name: "fully redundant",
            words: &["fully redundant"],
            weight: Weight::None,
        },
        /// Generic event type 0Bh, offsets 01h and 02h.
        RedundancyLost {
            codes: &[generic(0x0B, 1), generic(0x0B, 2)],
            name: "redundancy lost or degraded",
            words: &["redundancy lost"],
            weight: Weight::Grave,
        },
        /// No code of its own: words of logs (from memory, unverified).
        UnrecoverableFailure {
            codes: &[],
            name: "unrecoverable memory failure",
            words: &["unrecoverable memory failure"],
            weight: Weight::Grave,
        },
    }
}

impl EventKind {
    /// Whether it has happened even if the controller takes it back: an error, not a state that can end. While
    /// corrected errors were not logged, there may have been some.
    pub(crate) fn has_happened(self) -> bool {
        match self {
            Self::CorrectableEcc
            | Self::UncorrectableEcc
            | Self::Parity
            | Self::ScrubFailed
            | Self::LoggingLimit
            | Self::NoMemoryInstalled
            | Self::NoUsableMemory
            | Self::InitializationHang
            | Self::LoggingDisabled
            | Self::StateNonCritical
            | Self::StateCritical
            | Self::StateNonRecoverable
            | Self::StateAsserted
            | Self::UnrecoverableFailure => true,
            Self::DeviceDisabled
            | Self::PresenceDetected
            | Self::ConfigurationError
            | Self::Spare
            | Self::Throttled
            | Self::CriticalOvertemperature
            | Self::Initialization
            | Self::StateOk
            | Self::FullyRedundant
            | Self::RedundancyLost => false,
        }
    }

    /// The kind that a record's numbers mean.
    pub(super) fn of_record(event_type: u8, sensor_type: u8, data1: u8, data2: u8) -> Option<Self> {
        let same = |code: &EventCode| {
            (code.event_type, code.sensor_type, code.offset) == (event_type, sensor_type, data1 & 0x0F)
                && code.second.is_none_or(|second| second == data2)
        };
        Self::ALL.iter().copied().find(|kind| kind.info().codes.iter().any(same))
    }

    /// The kind that one of these cells names, in lower case. The longest name wins: `correctable ecc` is part of
    /// `uncorrectable ecc` and of the logging limit's.
    pub(super) fn in_cells(cells: &[&str]) -> Option<Self> {
        let named =
            |kind: &Self| cells.iter().any(|cell| kind.info().words.iter().all(|word| cell.contains(word)));
        let by_name = Self::ALL
            .iter()
            .copied()
            .filter(named)
            .map(|kind| (kind.info().words.iter().map(|word| word.len()).sum::<usize>(), kind));
        let worded = WORDINGS
            .iter()
            .filter(|(words, _)| cells.iter().any(|cell| cell.contains(words)))
            .map(|(words, kind)| (words.len(), *kind));
        by_name.chain(worded).max_by_key(|(length, _)| *length).map(|(_, kind)| kind)
    }
}

/// Other wordings of events, in lower case. Those with "memory error" are of `FreeIPMI` (from memory, unverified).
const WORDINGS: &[(&str, EventKind)] = &[
    ("correctable memory error", EventKind::CorrectableEcc),
    ("uncorrectable memory error", EventKind::UncorrectableEcc),
    ("correctable memory error logging limit reached", EventKind::LoggingLimit),
    ("critical over-temperature", EventKind::CriticalOvertemperature),
    ("state deasserted", EventKind::StateAsserted),
    ("redundancy degraded", EventKind::RedundancyLost),
];
