//! The event log of the management controller: memory events in the terms of the IPMI standard.
//!
//! Two forms are read: event records as 16 bytes in hexadecimal, one a line (IPMI v2.0, clause 32.1), and
//! tables with cells set apart by `|`, one of which is a sensor of type Memory and another the event's name.
//! Events of other things are skipped; a row about memory that is not understood never is.

mod kinds;

pub use self::kinds::{EventCode, EventInfo, EventKind, Weight};
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
    /// Speaks of memory, yet may be a line of something else.
    Perhaps(Evidence),
    Other,
}

/// Reads a log; `None` where no line is an event of any kind.
fn read(text: &str, first: u32) -> Option<EventLog> {
    let mut log = EventLog::default();
    let mut perhaps = Vec::new();
    for (number, line) in numbered(text, first) {
        let evidence = || Evidence { source: Source::Events, line: number, text: line.to_owned() };
        match record(line, evidence).or_else(|| table_row(line, evidence)) {
            Some(Entry::Memory(event)) => log.events.push(event),
            Some(Entry::Unread(line)) => log.unread.push(line),
            Some(Entry::Perhaps(line)) => perhaps.push(line),
            Some(Entry::Other) => log.others += 1,
            None => {}
        }
    }
    if !log.events.is_empty() || !log.unread.is_empty() || log.others > 0 {
        log.unread.append(&mut perhaps);
    }
    (!log.events.is_empty() || !log.unread.is_empty() || log.others > 0).then_some(log)
}

/// A record of 16 bytes; `None` where the line is none.
fn record(line: &str, evidence: impl FnOnce() -> Evidence) -> Option<Entry> {
    const SYSTEM_EVENT: u8 = 2;
    // Bit 7 of the event type says that the event has gone.
    const GONE: u8 = 0x80;
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
    let Some(event) = EventKind::of_record(kind & !GONE, sensor_type, data1, data2) else {
        let about_memory = matches!(sensor_type, kinds::MEMORY | kinds::MEMORY_RESIZE);
        return Some(if about_memory { Entry::Unread(evidence()) } else { Entry::Other });
    };
    // Bits 5:4 of data 1 say whether data 3 is used, bits 7:6 whether data 2 is: 00b is unspecified (IPMI v2.0, clause
    // 29.7). The module's number is in data 3, or in data 2 where logging is disabled (table 42-3).
    let module = match sensor_type {
        kinds::MEMORY => (data1 & 0x30 != 0).then_some(data3),
        kinds::LOGGING => (data1 & 0xC0 != 0).then_some(data2),
        _ => None,
    };
    Some(Entry::Memory(MemoryEvent {
        kind: event,
        asserted: kind & GONE == 0,
        sensor: Some(sensor),
        module: module.filter(|number| *number != 0xFF),
        is_record: true,
        line: evidence(),
    }))
}

/// Starts of the cell that names the sensor of a row about memory, the firmware's progress or the log itself. Source:
/// names of sensor types 0Ch, 0Fh and 10h, IPMI v2.0, table 42-3; `dimm` is common practice, no source.
const SENSORS: &[&str] = &["memory", "system firmware", "post error", "event logging disabled", "dimm"];

/// Starts of the cell of a sensor that measures, or of a part that is no memory: a module's thermometer says nothing of
/// its contents.
const OTHER_SENSORS: &[&str] = &["temperature", "voltage", "current", "fan", "power supply", "power unit"];

/// Whether a cell speaks of memory.
fn is_about_memory(cell: &str) -> bool {
    cell.split(|c: char| !c.is_ascii_alphanumeric()).any(|word| word == "memory" || word.starts_with("dimm"))
}

/// A row of a table; `None` where the line is none.
fn table_row(line: &str, evidence: impl FnOnce() -> Evidence) -> Option<Entry> {
    let cells: Vec<String> = line.split('|').map(|cell| cell.trim().to_ascii_lowercase()).collect();
    if cells.len() < 2 {
        return None;
    }
    // A row of a log has number, date and time before sensor and event; what has less may be any table.
    let is_whole = cells.len() >= 4;
    let starts =
        |words: &[&str]| cells.iter().position(|cell| words.iter().any(|word| cell.starts_with(word)));
    let sensor = starts(SENSORS);
    let about_memory = cells.iter().any(|cell| is_about_memory(cell));
    let is_other = starts(OTHER_SENSORS).is_some() || (sensor.is_none() && !about_memory);
    if is_other {
        return is_whole.then_some(Entry::Other);
    }
    // The sensor's own name is no evidence of what happened.
    let others: Vec<&str> = cells
        .iter()
        .enumerate()
        .filter(|(at, _)| Some(*at) != sensor)
        .map(|(_, cell)| cell.as_str())
        .collect();
    let Some(kind) = EventKind::in_cells(&others) else {
        return match (about_memory, is_whole) {
            (true, true) => Some(Entry::Unread(evidence())),
            (true, false) => Some(Entry::Perhaps(evidence())),
            // The firmware's progress is about memory only where it says so.
            (false, _) => is_whole.then_some(Entry::Other),
        };
    };
    let sensor = sensor.map_or("", |at| cells[at].as_str());
    let hung = kind == EventKind::Initialization && sensor.contains("hang");
    let number = sensor.split_once("#0x").and_then(|(_, hex)| u8::from_str_radix(hex.get(..2)?, 16).ok());
    Some(Entry::Memory(MemoryEvent {
        kind: if hung { EventKind::InitializationHang } else { kind },
        asserted: !cells.iter().any(|cell| cell.starts_with("deassert")),
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

    /// IPMI v2.0, clause 42.2, table 42-3, sensor type 10h, Event Logging Disabled, offset 00h: correctable memory error
    /// logging disabled, with the module in event data 2; offset 02h, log area cleared, is no event of memory.
    #[test]
    fn disabled_logging_is_a_memory_event() {
        let disabled = |kind, data| one(&bytes(0x10, kind, data));
        assert_eq!(
            disabled(0x6F, [0x00, 0xFF, 0xFF]),
            Some((EventKind::LoggingDisabled, true, Some(0x53), None))
        );
        assert_eq!(
            disabled(0xEF, [0x80, 0x04, 0xFF]),
            Some((EventKind::LoggingDisabled, false, Some(0x53), Some(4)))
        );
        assert!(EventKind::LoggingDisabled.has_happened());
        assert_eq!(read(&bytes(0x10, 0x6F, [0x02, 0xFF, 0xFF]), 1).unwrap().others, 1);
    }

    /// IPMI v2.0, clause 42.2, table 42-3, sensor type 0Fh, System Firmware Progress: offset 00h is an error, 01h a hang
    /// and 02h ordinary progress, of which data 2 says the step: 01h is memory initialization.
    #[test]
    fn the_firmwares_progress_is_about_memory_where_it_says_so() {
        for (data, want) in [
            ([0xC1, 0x01, 0xFF], EventKind::InitializationHang),
            ([0xC2, 0x01, 0xFF], EventKind::Initialization),
        ] {
            assert_eq!(one(&bytes(0x0F, 0x6F, data)), Some((want, true, Some(0x53), None)));
        }
        assert_eq!(read(&bytes(0x0F, 0x6F, [0xC2, 0x02, 0xFF]), 1).unwrap().others, 1);
    }

    /// IPMI v2.0, clause 42.1, table 42-2: generic event type 07h is a severity, 03h a state, 09h with offset 00h a
    /// disabled device, 0Bh redundancy.
    #[test]
    fn generic_events_of_memory_sensors() {
        for (event_type, offset, want) in [
            (0x07, 0, EventKind::StateOk),
            (0x07, 1, EventKind::StateNonCritical),
            (0x07, 5, EventKind::StateCritical),
            (0x07, 6, EventKind::StateNonRecoverable),
            (0x03, 1, EventKind::StateAsserted),
            (0x09, 0, EventKind::DeviceDisabled),
            (0x0B, 0, EventKind::FullyRedundant),
            (0x0B, 1, EventKind::RedundancyLost),
        ] {
            assert_eq!(one(&bytes(0x0C, event_type, [offset, 0xFF, 0xFF])).map(|event| event.0), Some(want));
        }
    }

    /// IPMI v2.0, clause 42.2, table 42-3: 0Ch/04h device disabled, 07h configuration error, 08h spare, 0Ah critical
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
        // A temperature sensor is no matter; what no table has is not understood.
        let log = read(&bytes(0x01, 0x01, [0x59, 0, 0]), 1).unwrap();
        assert_eq!((log.events.len(), log.unread.len(), log.others), (0, 0, 1));
        for line in
            [bytes(0x0C, 0x04, [1, 0, 0]), bytes(0x0C, 0x6F, [0x0C, 0, 0]), bytes(0x0E, 0x6F, [0, 0, 0])]
        {
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
            "1 | 11/20/2026 | 07:31:02 | DIMM A1 | Memory | Predictive failure asserted",
            "1 | 11/20/2026 | 07:31:02 | Memory #0x53 | OEM event | Asserted",
            "1 | 11/20/2026 | 07:31:02 | P1-DIMMA1 | OEM event 0x21 | Asserted",
            "1 | 11/20/2026 | 07:31:02 | POST Memory Resize #0x11 |  | Asserted",
        ] {
            assert_eq!(read(row, 1).unwrap().unread.len(), 1, "{row}");
        }
        for (row, want) in [
            ("1 | a | b | DIMM A1 | Memory | Correctable memory error", EventKind::CorrectableEcc),
            ("1 | a | b | DIMM A1 | Memory | Uncorrectable memory error", EventKind::UncorrectableEcc),
            ("1 | a | b | POST Error | No system memory", EventKind::NoMemoryInstalled),
            ("POST Error | No system memory", EventKind::NoMemoryInstalled),
            ("1 | a | b | DIMM A1 | Uncorrectable ECC", EventKind::UncorrectableEcc),
            ("1 | a | b | DIMM A1 | Memory Device Disabled", EventKind::DeviceDisabled),
            ("1 | a | b | P1-DIMMA1 | Uncorrectable ECC", EventKind::UncorrectableEcc),
            (
                "1 | a | b | DIMM A1 | Memory | Transition to Non-critical from OK",
                EventKind::StateNonCritical,
            ),
            ("1 | a | b | DIMM A1 | Memory | Transition to OK", EventKind::StateOk),
            ("1 | a | b | Memory #0x53 | State Asserted", EventKind::StateAsserted),
            ("1 | a | b | Memory #0x53 | State Deasserted", EventKind::StateAsserted),
            (
                "1 | a | b | Memory A1 | Unrecoverable memory failure | Asserted",
                EventKind::UnrecoverableFailure,
            ),
            (
                "1 | a | b | Event Logging Disabled #0x10 | Correctable memory error logging disabled | Asserted",
                EventKind::LoggingDisabled,
            ),
            (
                "1 | a | b | System Firmware Progress | Memory initialization | Asserted",
                EventKind::Initialization,
            ),
            (
                "1 | a | b | System Firmware Hang | Memory initialization | Asserted",
                EventKind::InitializationHang,
            ),
        ] {
            assert_eq!(one(row).map(|event| event.0), Some(want), "{row}");
        }
    }

    #[test]
    fn other_rows_and_short_ones() {
        // A short line of an unknown event counts beside rows that are a log's, and makes no log by itself.
        let short = "Memory A1 | something\n";
        assert_eq!(read(short, 1), None);
        let log = read(&format!("1 | a | b | Fan | c\n{short}"), 1).unwrap();
        assert_eq!((log.unread.len(), log.others), (1, 1));
        // The log's own events are none of memory.
        let cleared = "1 | a | b | Event Logging Disabled #0xe3 | Log area reset/cleared | Asserted";
        assert_eq!(read(cleared, 1).unwrap().others, 1);
        let warm = read("1 | a | b | DIMM 1 Temp | Temperature | Upper Critical", 1).unwrap();
        assert_eq!((warm.unread.len(), warm.others), (0, 1));
        let other = read("1 | 11/20/2026 | 07:31:02 | Fan #0x30 | Lower Critical | Asserted\n", 1).unwrap();
        assert_eq!((other.events.len(), other.others), (0, 1));
        assert_eq!(read("MemTotal: 1 kB\na | b\n", 1), None);
    }
}
