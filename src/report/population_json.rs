//! The JSON of a population.

use serde::Serialize;

use super::slots::{self, ListingJson, MachineJson, SlotJson};

/// One population, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted population"))]
pub struct PopulationJson {
    /// Always `asfitted.population`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The listing.
    pub listing: ListingJson,
    /// The machine.
    pub machine: MachineJson,
    /// Sums.
    pub totals: PopulationTotalsJson,
    /// Processor sockets.
    pub sockets: Vec<SocketJson>,
    /// All slots for main memory.
    pub slots: Vec<SlotJson>,
    /// What was noticed in the listing.
    pub notes: Vec<NoteJson>,
}

/// Sums; null where unknown.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PopulationTotalsJson {
    /// Sum of the modules that give memory.
    pub detected_bytes: Option<u64>,
    /// The part of it on persistent modules.
    pub persistent_bytes: u64,
    /// Union of the mapped address ranges.
    pub mapped_bytes: Option<u64>,
    /// Number of slots for main memory.
    pub slots: usize,
    /// Number of slots with a module that gives memory.
    pub fitted: usize,
}

/// One processor socket.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SocketJson {
    /// The number that slot labels give it; null where the numberings cannot be matched.
    pub socket: Option<u16>,
    /// Its label.
    pub label: Option<String>,
    /// Processor model.
    pub processor: Option<String>,
    /// `running`, `disabled`, `populated` or `unpopulated`; null where not stated.
    pub status: Option<&'static str>,
}

/// Something noticed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct NoteJson {
    /// What it is.
    pub kind: String,
    /// What it means.
    pub text: String,
    /// The line that shows it.
    pub line: Option<u32>,
    /// How many times it was seen.
    pub count: u32,
}

impl NoteJson {
    /// A note without a line.
    pub(super) fn remark(text: &str) -> Self {
        Self { kind: "remark".to_owned(), text: text.to_owned(), line: None, count: 1 }
    }
}

/// The JSON form of a population.
pub fn population_json(case: &Case<'_>) -> PopulationJson {
    let totals = case.population.totals;
    PopulationJson {
        format: "asfitted.population",
        version: 1,
        listing: slots::listing(case),
        machine: slots::machine(case),
        totals: PopulationTotalsJson {
            detected_bytes: totals.detected.map(|size| size.0),
            persistent_bytes: totals.persistent.0,
            mapped_bytes: totals.mapped.map(|size| size.0),
            slots: totals.slots,
            fitted: totals.fitted,
        },
        sockets: case
            .population
            .sockets
            .iter()
            .map(|socket| SocketJson {
                socket: socket.number,
                label: socket.label.map(str::to_owned),
                processor: socket.processor.map(str::to_owned),
                status: socket.status.map(super::population_text::status_word),
            })
            .collect(),
        slots: case.population.slots.iter().map(slots::slot).collect(),
        notes: notes(case),
    }
}

pub(super) fn notes(case: &Case<'_>) -> Vec<NoteJson> {
    let reading = case.listing.notes.iter().map(|note| NoteJson {
        kind: note.kind.word().to_owned(),
        text: note.kind.explanation().to_owned(),
        line: note.place.map(|place| place.line),
        count: note.count,
    });
    let observed = case.population.observations.iter().map(|seen| NoteJson {
        kind: seen.kind.word().to_owned(),
        text: seen.text.clone(),
        line: seen.place.map(|place| place.line),
        count: 1,
    });
    reading.chain(observed).collect()
}
use crate::case::Case;
