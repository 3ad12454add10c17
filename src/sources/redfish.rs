//! What the management controller states over Redfish: `Memory` resources, whose state distinguishes an absent module
//! from one that is disabled.
//!
//! Source: DMTF Redfish schema `Memory.v1_23_0` (release 2025.4). Read are a single resource, a list of them, a
//! collection with its members expanded, and several of these one after the other.

use serde_json::Value;

use super::{Reader, Recognise, Sources};
use crate::evidence::{Evidence, Source};
use crate::units::Bytes;

/// The memory resources of a controller.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Redfish {
    /// One per place for a module.
    pub modules: Vec<Resource>,
}

/// One `Memory` resource.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resource {
    /// Label of the slot: `Location.PartLocation.ServiceLabel`, or the older `DeviceLocator`.
    pub label: Option<String>,
    /// `Status.State`.
    pub state: Option<State>,
    /// Whether `Status.Health` is neither `OK` nor left out.
    pub unwell: bool,
    /// `CapacityMiB`.
    pub size: Option<Bytes>,
    /// The line of the state, or of the label where there is none.
    pub line: Evidence,
}

/// What is known of a state.
#[derive(Debug, Clone, Copy)]
pub struct StateInfo {
    /// Its name in the standard's enumeration `Resource.State`; `None` for those that have no row of their own.
    pub name: Option<&'static str>,
    /// Whether a module is there and not used.
    pub is_out_of_use: bool,
}

table! {
    /// The states of a resource that are evidence about a module, the worst last; all others are taken as `Other`.
    pub enum State: StateInfo {
        /// In use.
        Enabled { name: Some("Enabled"), is_out_of_use: false },
        /// Kept in reserve.
        StandbySpare { name: Some("StandbySpare"), is_out_of_use: false },
        /// Any other state.
        Other { name: None, is_out_of_use: false },
        /// Nothing is detected there.
        Absent { name: Some("Absent"), is_out_of_use: false },
        /// There, and cannot be used.
        UnavailableOffline { name: Some("UnavailableOffline"), is_out_of_use: true },
        /// There, and switched off.
        Disabled { name: Some("Disabled"), is_out_of_use: true },
    }
}

impl State {
    /// Whether a module is there and not used.
    pub const fn is_out_of_use(self) -> bool {
        self.info().is_out_of_use
    }

    /// Reads a state by the standard's name.
    pub fn parse(name: &str) -> Self {
        Self::ALL.iter().copied().find(|state| state.info().name == Some(name)).unwrap_or(Self::Other)
    }
}

impl Redfish {
    /// Adds the resources of another text.
    pub(super) fn append(&mut self, more: Self) {
        self.modules.extend(more.modules);
    }
}

pub(super) const READER: Reader = Reader {
    expected: "Redfish memory resources",
    help: None,
    once: None,
    is_in: |sources| sources.redfish.is_some(),
    read: |text, first| Some(Sources { redfish: Some(read(text, first)?), ..Sources::default() }),
    recognise: Recognise::ByReading,
    part: None,
};

/// Reads Redfish JSON; `None` where no resource in it is one of memory.
fn read(text: &str, first: u32) -> Option<Redfish> {
    if !text.trim_start().starts_with(['{', '[']) {
        return None;
    }
    let mut redfish = Redfish::default();
    let mut seen = Lines { text, from: 0, line: first };
    for value in serde_json::Deserializer::from_str(text).into_iter::<Value>() {
        collect(&value.ok()?, &mut redfish, &mut seen, 0);
    }
    (!redfish.modules.is_empty()).then_some(redfish)
}

/// Finds the line of a value; resources are asked for in the order of the text.
struct Lines<'t> {
    text: &'t str,
    /// Where the search goes on, and the line that this is on.
    from: usize,
    line: u32,
}

impl Lines<'_> {
    /// The place of the next `"key": "value"`; the last place where there is none.
    fn of(&mut self, key: &str, value: &str) -> Evidence {
        let (key, value) = (format!("\"{key}\""), Value::from(value).to_string());
        let rest = self.text.get(self.from..).unwrap_or("");
        let mut keys = memchr::memmem::find_iter(rest.as_bytes(), key.as_bytes());
        let found = keys.find(|at| {
            let after = rest.get(at + key.len()..).unwrap_or("").trim_start();
            after.strip_prefix(':').is_some_and(|after| after.trim_start().starts_with(&value))
        });
        if let Some(at) = found {
            let passed = memchr::memchr_iter(b'\n', &rest.as_bytes()[..at]).count();
            self.line = self.line.saturating_add(u32::try_from(passed).unwrap_or(u32::MAX));
            self.from += at;
        }
        let start = self.text[..self.from].rfind('\n').map_or(0, |at| at + 1);
        let whole = self.text.get(start..).and_then(|line| line.lines().next()).unwrap_or("").trim();
        // A reply of one line would quote itself as a whole for every module.
        let text = if whole.len() > 200 { format!("{key}: {value}") } else { whole.to_owned() };
        self.from = self.text.len().min(self.from + usize::from(found.is_some()));
        Evidence { source: Source::Redfish, line: self.line, text }
    }
}

/// Deeper than any collection.
const DEPTH: usize = 8;

fn collect(value: &Value, redfish: &mut Redfish, lines: &mut Lines<'_>, depth: usize) {
    if depth > DEPTH {
        return;
    }
    match value {
        Value::Array(all) => all.iter().for_each(|one| collect(one, redfish, lines, depth + 1)),
        Value::Object(object) => {
            if let Some(members) = object.get("Members") {
                return collect(members, redfish, lines, depth + 1);
            }
            let kind = object.get("@odata.type").and_then(Value::as_str).unwrap_or("");
            let typed = kind.starts_with("#Memory.") || object.contains_key("CapacityMiB");
            if typed || object.contains_key("MemoryLocation") {
                redfish.modules.push(resource(value, lines));
            }
        }
        _ => {}
    }
}

fn resource(value: &Value, lines: &mut Lines<'_>) -> Resource {
    let text = |pointer: &str| value.pointer(pointer).and_then(Value::as_str).map(str::to_owned);
    let label = text("/Location/PartLocation/ServiceLabel").or_else(|| text("/DeviceLocator"));
    let state = text("/Status/State");
    let line = match (&state, &label) {
        (Some(state), _) => lines.of("State", state),
        (None, Some(label)) => {
            let key = if value.get("DeviceLocator").is_some() { "DeviceLocator" } else { "ServiceLabel" };
            lines.of(key, label)
        }
        (None, None) => {
            lines.of("@odata.type", value.get("@odata.type").and_then(Value::as_str).unwrap_or(""))
        }
    };
    Resource {
        label,
        state: state.as_deref().map(State::parse),
        unwell: text("/Status/Health").is_some_and(|health| health != "OK"),
        size: value.get("CapacityMiB").and_then(Value::as_u64).map(Bytes::mib),
        line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DMTF Redfish, `Resource.State`: `Absent` is a place with nothing in it, `Disabled` is switched off,
    /// `UnavailableOffline` is present and cannot be used, `StandbySpare` is part of a redundancy set.
    #[test]
    fn states_by_the_standard() {
        for (name, want) in [
            ("Enabled", State::Enabled),
            ("Absent", State::Absent),
            ("Disabled", State::Disabled),
            ("UnavailableOffline", State::UnavailableOffline),
            ("StandbySpare", State::StandbySpare),
            ("Quiesced", State::Other),
        ] {
            assert_eq!(State::parse(name), want);
        }
    }

    #[test]
    fn collections_lists_and_single_resources() {
        let one = |label: &str, state: &str| {
            format!(
                "{{\n  \"@odata.type\": \"#Memory.v1_17_0.Memory\",\n  \"DeviceLocator\": \"{label}\",\n  \"CapacityMiB\": 16384,\n  \"Status\": {{\n    \"State\": \"{state}\",\n    \"Health\": \"OK\"\n  }}\n}}"
            )
        };
        let (a, b) = (one("A1", "Enabled"), one("A2", "Disabled"));
        for text in [format!("{a}\n{b}"), format!("[{a},\n{b}]"), format!("{{\"Members\": [{a},\n{b}]}}")] {
            let read = read(&text, 1).unwrap();
            let got: Vec<_> =
                read.modules.iter().map(|m| (m.label.as_deref(), m.state, m.line.line)).collect();
            assert_eq!(got[0].0, Some("A1"));
            assert_eq!((got[0].1, got[1].1), (Some(State::Enabled), Some(State::Disabled)));
            let line = text.lines().nth(got[1].2 as usize - 1).unwrap();
            assert!(line.contains("Disabled"), "{line}");
        }
        let empty = r#"{"MemoryLocation": {"Socket": 1, "Slot": 2}, "Status": {"State": "Absent"}}"#;
        assert_eq!(read(empty, 1).unwrap().modules[0].state, Some(State::Absent));
        assert!(read("{\"a\": 1}", 1).is_none() && read("{broken", 1).is_none());
    }
}
