//! The event log of the management controller: memory events in the terms of the IPMI standard.
//!
//! Two forms are read: event records as 16 bytes in hexadecimal, one a line (IPMI v2.0, clause 32.1), and
//! tables with cells set apart by `|`, one of which is a sensor of type Memory and another the event's name.
//! Other events are skipped.

use super::{Reader, Recognise, Sources, numbered};
use crate::evidence::{Evidence, Source};

/// The memory events of a log.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct EventLog {
    /// Memory events, in the order of the log.
    pub events: Vec<MemoryEvent>,
    /// Rows about memory whose event is not understood: they may be grave.
    pub unread: Vec<Evidence>,
    /// Number of events of other kinds.
    pub others: usize,
}

/// One memory event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MemoryEvent {
    /// What happened.
    pub kind: EventKind,
    /// Whether it came, or went again.
    pub asserted: bool,
    /// Number of the sensor, where stated.
    pub sensor: Option<u8>,
    /// Event data 3, where the record carries it: a module's number as the board's maker counts.
    pub module: Option<u8>,
    /// Whether the line is a record's bytes, not a row of words.
    pub is_record: bool,
    /// The line.
    pub line: Evidence,
}

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

/// What is known of a kind of event.
#[derive(Debug, Clone, Copy)]
pub struct EventInfo {
    /// Sensor type and offset, and for type 0Fh the second data byte.
    pub code: (u8, u8, Option<u8>),
    /// Its name for reports.
    pub name: &'static str,
    /// Words by which its name is recognised in a table, in lower case; all must be there.
    pub words: &'static [&'static str],
    /// How much it weighs.
    pub weight: Weight,
}

table! {
    /// Events of sensor type 0Ch, Memory, and of type 0Fh, System Firmware Progress. Source of codes and names: IPMI
    /// v2.0, table 42-3; the weights are common practice, no source.
    pub enum EventKind: EventInfo {
        /// Offset 00h.
        CorrectableEcc {
            code: (0x0C, 0, None),
            name: "correctable ECC error",
            words: &["correctable ecc"],
            weight: Weight::Notice,
        },
        /// Offset 01h.
        UncorrectableEcc {
            code: (0x0C, 1, None),
            name: "uncorrectable ECC error",
            words: &["uncorrectable ecc"],
            weight: Weight::Grave,
        },
        /// Offset 02h.
        Parity {
            code: (0x0C, 2, None),
            name: "parity error",
            words: &["parity"],
            weight: Weight::Grave,
        },
        /// Offset 03h: a bit is stuck.
        ScrubFailed {
            code: (0x0C, 3, None),
            name: "memory scrub failed (stuck bit)",
            words: &["scrub failed"],
            weight: Weight::Grave,
        },
        /// Offset 04h: the firmware has taken the module out of use.
        DeviceDisabled {
            code: (0x0C, 4, None),
            name: "memory device disabled",
            words: &["device disabled"],
            weight: Weight::Grave,
        },
        /// Offset 05h: so many corrected errors that no more are logged.
        LoggingLimit {
            code: (0x0C, 5, None),
            name: "limit of correctable errors reached",
            words: &["logging limit reached"],
            weight: Weight::Grave,
        },
        /// Offset 06h.
        PresenceDetected {
            code: (0x0C, 6, None),
            name: "presence detected",
            words: &["presence detected"],
            weight: Weight::None,
        },
        /// Offset 07h.
        ConfigurationError {
            code: (0x0C, 7, None),
            name: "memory configuration error",
            words: &["configuration error"],
            weight: Weight::Grave,
        },
        /// Offset 08h: the module is kept in reserve.
        Spare {
            code: (0x0C, 8, None),
            name: "kept in reserve (spare)",
            words: &["spare"],
            weight: Weight::None,
        },
        /// Offset 09h.
        Throttled {
            code: (0x0C, 9, None),
            name: "throttled",
            words: &["throttled"],
            weight: Weight::Notice,
        },
        /// Offset 0Ah.
        CriticalOvertemperature {
            code: (0x0C, 0x0A, None),
            name: "critical over-temperature",
            words: &["critical overtemperature"],
            weight: Weight::Notice,
        },
        /// Sensor type 0Fh, offset 00h, data 01h: no memory installed.
        NoMemoryInstalled {
            code: (0x0F, 0, Some(1)),
            name: "no system memory installed",
            words: &["no system memory"],
            weight: Weight::Grave,
        },
        /// Sensor type 0Fh, offset 00h, data 02h: no usable memory.
        NoUsableMemory {
            code: (0x0F, 0, Some(2)),
            name: "no usable system memory",
            words: &["no usable system memory"],
            weight: Weight::Grave,
        },
    }
}

impl EventKind {
    /// Whether it has happened even if the controller takes it back: an error, not a state that can end.
    pub(crate) fn has_happened(self) -> bool {
        matches!(self, Self::UncorrectableEcc | Self::Parity | Self::ScrubFailed | Self::LoggingLimit)
    }

    /// The first kind whose row is like that.
    fn find(is: impl Fn(&EventInfo) -> bool) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| is(kind.info()))
    }
}

impl EventLog {
    /// Adds another log's events.
    pub(super) fn append(&mut self, more: Self) {
        self.events.extend(more.events);
        self.unread.extend(more.unread);
        self.others += more.others;
    }
}

pub(super) const READER: Reader = Reader {
    expected: "an IPMI event log",
    help: Some("an event log"),
    once: None,
    is_in: |sources| sources.events.is_some(),
    read: |text, first| Some(Sources { events: Some(read(text, first)?), ..Sources::default() }),
    recognise: Recognise::ByReading,
    // No file of the kernel holds it; whoever takes a capture can add it.
    part: None,
};

/// One entry of a log.
enum Entry {
    Memory(MemoryEvent),
    Unread(Evidence),
    Other,
}

/// Reads a log; `None` where no line is an event of any kind.
fn read(text: &str, first: u32) -> Option<EventLog> {
    let mut log = EventLog::default();
    for (number, line) in numbered(text, first) {
        let evidence = || Evidence { source: Source::Events, line: number, text: line.to_owned() };
        match record(line, evidence).or_else(|| table_row(line, evidence)) {
            Some(Entry::Memory(event)) => log.events.push(event),
            Some(Entry::Unread(line)) => log.unread.push(line),
            Some(Entry::Other) => log.others += 1,
            None => {}
        }
    }
    (!log.events.is_empty() || !log.unread.is_empty() || log.others > 0).then_some(log)
}

/// A record of 16 bytes; `None` where the line is none.
fn record(line: &str, evidence: impl FnOnce() -> Evidence) -> Option<Entry> {
    const SYSTEM_EVENT: u8 = 2;
    // Sensor type (IPMI v2.0, table 42-3).
    const MEMORY: u8 = 0x0C;
    // Bits 6:0 of the event type: sensor-specific offsets.
    const SENSOR_SPECIFIC: u8 = 0x6F;
    let bytes: Vec<u8> = line
        .split([' ', '\t', ',', ':'])
        .filter(|word| !word.is_empty())
        .map(|word| {
            let digits = word.strip_prefix("0x").unwrap_or(word);
            Some(digits).filter(|d| d.len() == 2).and_then(|d| u8::from_str_radix(d, 16).ok())
        })
        .collect::<Option<_>>()?;
    let &[_, _, record_type, _, _, _, _, _, _, revision, sensor_type, sensor, kind, data1, data2, data3] =
        bytes.as_slice()
    else {
        return None;
    };
    if record_type != SYSTEM_EVENT || !matches!(revision, 3 | 4) {
        return Some(Entry::Other);
    }
    let unread = sensor_type == MEMORY;
    if kind & 0x7F != SENSOR_SPECIFIC {
        return Some(if unread { Entry::Unread(evidence()) } else { Entry::Other });
    }
    let same = |info: &EventInfo| {
        let (own_type, offset, second) = info.code;
        own_type == sensor_type && offset == data1 & 0x0F && second.is_none_or(|second| second == data2)
    };
    let Some(event) = EventKind::find(same) else {
        return Some(if unread { Entry::Unread(evidence()) } else { Entry::Other });
    };
    // Bits 5:4 say whether data 3 is used: 00b is unspecified.
    let module = (data1 & 0x30 != 0 && data3 != 0xFF && sensor_type == 0x0C).then_some(data3);
    Some(Entry::Memory(MemoryEvent {
        kind: event,
        asserted: kind & 0x80 == 0,
        sensor: Some(sensor),
        module,
        is_record: true,
        line: evidence(),
    }))
}

/// Other wordings of events, in lower case. Those with "memory error" are of `FreeIPMI` (from memory, unverified).
const WORDINGS: &[(&str, EventKind)] = &[
    ("correctable memory error", EventKind::CorrectableEcc),
    ("uncorrectable memory error", EventKind::UncorrectableEcc),
    ("correctable memory error logging limit reached", EventKind::LoggingLimit),
    ("critical over-temperature", EventKind::CriticalOvertemperature),
];

fn sensor_is_memory(cell: &str) -> bool {
    cell.starts_with("memory") || cell.starts_with("dimm")
}

/// The cell that names the sensor of a row about memory or about the firmware's progress.
fn sensor_of(cells: &[String]) -> Option<&String> {
    // A module's thermometer says nothing of its contents.
    if cells.iter().any(|cell| cell.starts_with("temperature") || cell.starts_with("voltage")) {
        return None;
    }
    let start = |word: &str| cells.iter().find(|cell| cell.starts_with(word));
    ["memory", "system firmware", "post error", "dimm"].iter().find_map(|word| start(word))
}

/// A row of a table; `None` where the line is none.
fn table_row(line: &str, evidence: impl FnOnce() -> Evidence) -> Option<Entry> {
    let cells: Vec<String> = line.split('|').map(|cell| cell.trim().to_ascii_lowercase()).collect();
    if cells.len() < 4 {
        return None;
    }
    let Some(sensor) = sensor_of(&cells) else { return Some(Entry::Other) };
    // The sensor's own name is no evidence of what happened.
    let others = || cells.iter().filter(|cell| *cell != sensor);
    let named =
        |kind: &EventKind| others().any(|cell| kind.info().words.iter().all(|word| cell.contains(word)));
    // The longest name wins: `correctable ecc` is part of `uncorrectable ecc` and of the logging limit's.
    let kinds = EventKind::ALL.iter().copied();
    let by_name = kinds.filter(named).map(|kind| (kind.info().words[0].len(), kind));
    let worded = WORDINGS
        .iter()
        .filter(|(words, _)| others().any(|cell| cell.contains(words)))
        .map(|(words, kind)| (words.len(), *kind));
    let Some((_, kind)) = by_name.chain(worded).max_by_key(|(length, _)| *length) else {
        // Firmware's progress is about memory only where it says so.
        let about_memory = sensor_is_memory(sensor) || others().any(|cell| cell.contains("memory"));
        return Some(if about_memory { Entry::Unread(evidence()) } else { Entry::Other });
    };
    let number = sensor.split_once("#0x").and_then(|(_, hex)| u8::from_str_radix(hex.get(..2)?, 16).ok());
    let asserted = !cells.iter().any(|cell| cell.starts_with("deassert"));
    Some(Entry::Memory(MemoryEvent {
        kind,
        asserted,
        sensor: number,
        module: None,
        is_record: false,
        line: evidence(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(line: &str) -> Option<(EventKind, bool, Option<u8>, Option<u8>)> {
        let log = read(line, 1)?;
        log.events.first().map(|event| (event.kind, event.asserted, event.sensor, event.module))
    }

    fn bytes(sensor_type: u8, kind: u8, data: [u8; 3]) -> String {
        let [a, b, c] = data;
        format!("01 00 02 10 20 30 40 20 00 04 {sensor_type:02x} 53 {kind:02x} {a:02x} {b:02x} {c:02x}")
    }

    /// IPMI v2.0, table 42-3: 0Ch/04h device disabled, 07h configuration error, 08h spare, 0Ah critical
    /// over-temperature; 0Fh/00h data 02h no usable system memory.
    #[test]
    fn records_by_the_standard() {
        for (kind, data, want) in [
            (0x0C, [0x04, 0xFF, 0xFF], EventKind::DeviceDisabled),
            (0x0C, [0x07, 0xFF, 0xFF], EventKind::ConfigurationError),
            (0x0C, [0x08, 0xFF, 0xFF], EventKind::Spare),
            (0x0C, [0x0A, 0xFF, 0xFF], EventKind::CriticalOvertemperature),
            (0x0F, [0xA0, 0x02, 0xFF], EventKind::NoUsableMemory),
            (0x0F, [0xA0, 0x01, 0xFF], EventKind::NoMemoryInstalled),
        ] {
            assert_eq!(one(&bytes(kind, 0x6F, data)), Some((want, true, Some(0x53), None)));
        }
        assert_eq!(
            one(&bytes(0x0C, 0xEF, [0x30, 0xFF, 0x07])),
            Some((EventKind::CorrectableEcc, false, Some(0x53), Some(7)))
        );
        // A temperature sensor is no matter; a generic event of a memory sensor is not understood.
        let log = read(&bytes(0x01, 0x01, [0x59, 0, 0]), 1).unwrap();
        assert_eq!((log.events.len(), log.unread.len(), log.others), (0, 0, 1));
        for line in [bytes(0x0C, 0x07, [1, 0, 0]), bytes(0x0C, 0x6F, [0x0C, 0, 0])] {
            let log = read(&line, 1).unwrap();
            assert_eq!((log.events.len(), log.unread.len(), log.others), (0, 1, 0));
        }
        assert_eq!(read("01 00 02 10\n", 1), None);
    }

    #[test]
    fn rows_of_tables() {
        let row = |event: &str| format!("   4 | 11/20/2026 | 07:31:02 | Memory #0x53 | {event} | Asserted");
        for (event, want) in [
            ("Correctable ECC", EventKind::CorrectableEcc),
            ("Uncorrectable ECC", EventKind::UncorrectableEcc),
            ("Correctable ECC logging limit reached", EventKind::LoggingLimit),
            ("Memory Device Disabled", EventKind::DeviceDisabled),
            ("Configuration Error", EventKind::ConfigurationError),
        ] {
            assert_eq!(one(&row(event)), Some((want, true, Some(0x53), None)), "{event}");
        }
        for row in [
            "1 | 11/20/2026 | 07:31:02 | DIMM A1 | Memory | Transition to Non-critical",
            "1 | 11/20/2026 | 07:31:02 | Memory #0x53 | State Asserted",
            "1 | 11/20/2026 | 07:31:02 | Memory A1 | Unrecoverable memory failure | Asserted",
        ] {
            assert_eq!(read(row, 1).unwrap().unread.len(), 1, "{row}");
        }
        for (row, want) in [
            ("1 | a | b | DIMM A1 | Memory | Correctable memory error", EventKind::CorrectableEcc),
            ("1 | a | b | DIMM A1 | Memory | Uncorrectable memory error", EventKind::UncorrectableEcc),
            ("1 | a | b | POST Error | No system memory", EventKind::NoMemoryInstalled),
            ("1 | a | b | DIMM A1 | Uncorrectable ECC", EventKind::UncorrectableEcc),
        ] {
            assert_eq!(one(row).map(|event| event.0), Some(want), "{row}");
        }
        let warm = read("1 | a | b | DIMM 1 Temp | Temperature | Upper Critical", 1).unwrap();
        assert_eq!((warm.unread.len(), warm.others), (0, 1));
        let other = read("1 | 11/20/2026 | 07:31:02 | Fan #0x30 | Lower Critical | Asserted\n", 1).unwrap();
        assert_eq!((other.events.len(), other.others), (0, 1));
        assert_eq!(read("MemTotal: 1 kB\na | b\n", 1), None);
    }
}
