//! The JSON of a population.

use serde::Serialize;

use super::parts::{self, ListingJson, MachineJson, NoteJson, SlotJson, TierJson};
use super::record::record;
use crate::case::Case;
use crate::report::view::processor_word;

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
    /// Sum of the modules of all tiers that give memory.
    pub detected_bytes: Option<u64>,
    /// The part of it on persistent modules.
    pub persistent_bytes: u64,
    /// What is in each tier of memory: main memory, and those of which there is any.
    pub tiers: Vec<TierJson>,
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

/// The JSON of a population.
pub fn population_json(case: &Case<'_>) -> PopulationJson {
    let totals = case.population.totals;
    PopulationJson {
        format: "asfitted.population",
        version: 1,
        listing: parts::listing(case),
        machine: parts::machine(case),
        totals: PopulationTotalsJson {
            detected_bytes: totals.detected.map(|size| size.0),
            persistent_bytes: totals.persistent.0,
            tiers: parts::tiers(case),
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
                status: socket.status.map(processor_word),
            })
            .collect(),
        slots: case
            .population
            .slots
            .iter()
            .map(|slot| SlotJson { record: record(case, slot), ..parts::slot(slot) })
            .collect(),
        notes: parts::notes(case),
    }
}
