//! What the record of a slot without a size still states of a module.
//!
//! Firmware that has read a module and left it out can take its size away and leave other fields (public case osm-962:
//! a row with speed and no size was a module that gave no memory). Other firmware prints such fields for every empty
//! slot, so that only what sets a slot apart from another empty one of its listing counts. Of 2,832 real listings with
//! records of slots, 1,508 have an empty one; of these, 60 state a speed, 26 ranks and 101 a voltage for one or more of
//! them, and in 3 does that set slots apart in two fields or more: in each of those the slots are not empty by the rest
//! of the listing either.

use std::collections::HashSet;

use super::slots::{Slot, SlotState};
use crate::evidence::Place;
use crate::records::{Field, Listing, MemoryDevice};
use crate::units::{Millivolts, TransferRate};

table! {
    /// What a record can state of a module besides its size and its identity.
    pub enum TraceField {
        /// The rated or the configured speed.
        Speed = "speed",
        /// Ranks.
        Ranks = "ranks",
        /// Supply voltages.
        Voltage = "voltage",
        /// The widths in bits.
        Widths = "widths",
        /// The generation.
        Type = "type",
    }
}

/// The fields that firmware leaves unknown for an empty slot unless it fills in all of them.
const TELLING: &[TraceField] = &[TraceField::Speed, TraceField::Ranks, TraceField::Voltage];

/// What the record of a slot without a size still states of a module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trace {
    /// The fields, with their lines.
    pub fields: Vec<(TraceField, Place)>,
    /// Whether another empty slot of the listing does without them. Where there is no other, nobody can tell whether
    /// this firmware always states them.
    pub compared: bool,
}

impl Trace {
    /// `speed, ranks`: the fields in words.
    pub fn words(&self) -> String {
        crate::base::words::comma_list(self.fields.iter().map(|(field, _)| field.word()))
    }
}

/// The traces of `slots`, one for each.
pub(super) fn traces(listing: &Listing<'_>, slots: &[Slot<'_>]) -> Vec<Option<Trace>> {
    let is_empty = |slot: &Slot<'_>| matches!(slot.state, SlotState::Empty | SlotState::Unknown);
    let stated: Vec<Vec<(TraceField, Place)>> = slots
        .iter()
        .map(|slot| if is_empty(slot) { stated(&listing.devices[slot.device]) } else { Vec::new() })
        .collect();
    let tells = |fields: &[(TraceField, Place)]| fields.iter().any(|(field, _)| TELLING.contains(field));
    if !stated.iter().any(|fields| tells(fields)) {
        return vec![None; slots.len()];
    }
    let plain: Vec<usize> =
        (0..slots.len()).filter(|at| is_empty(&slots[*at]) && !tells(&stated[*at])).collect();
    let habits: HashSet<TraceField> =
        plain.iter().flat_map(|at| stated[*at].iter().map(|(field, _)| *field)).collect();
    let empties = slots.iter().filter(|slot| is_empty(slot)).count();
    let with = |field: TraceField| {
        stated.iter().filter(|fields| fields.iter().any(|(own, _)| *own == field)).count()
    };
    let trace = |fields: &Vec<(TraceField, Place)>, device: &MemoryDevice<'_>| {
        let own: Vec<(TraceField, Place)> =
            fields.iter().filter(|(field, _)| !habits.contains(field)).copied().collect();
        if !tells(&own) {
            return None;
        }
        let alike = runs_alike(listing, slots, device);
        let compared = !plain.is_empty();
        let telling: Vec<TraceField> =
            own.iter().map(|(field, _)| *field).filter(|field| TELLING.contains(field)).collect();
        let enough = match own.len() {
            // One field can be left over from what was fitted before, as the speeds of all first slots were in one
            // real listing; it must be rare there, and be that of the modules that run.
            1 => compared && alike && telling.iter().all(|field| with(*field) * 2 < empties),
            // What most empty slots state is the firmware's habit, and the one without it is the odd one; but not where
            // it is all of a module that runs.
            _ if compared => {
                (telling.len() > 1 && alike) || telling.iter().all(|field| with(*field) * 2 <= empties)
            }
            _ => empties == 1 && alike,
        };
        enough.then_some(Trace { fields: own, compared })
    };
    slots.iter().zip(&stated).map(|(slot, fields)| trace(fields, &listing.devices[slot.device])).collect()
}

/// Whether a module that runs states the same speed.
fn runs_alike(listing: &Listing<'_>, slots: &[Slot<'_>], device: &MemoryDevice<'_>) -> bool {
    let speeds = |device: &MemoryDevice<'_>| [device.speed.get(), device.configured_speed.get()];
    let running: HashSet<u32> = slots
        .iter()
        .filter(|slot| slot.fitted().is_some())
        .flat_map(|slot| speeds(&listing.devices[slot.device]).into_iter().flatten())
        .map(|rate| rate.0)
        .collect();
    speeds(device).into_iter().flatten().any(|rate| running.contains(&rate.0))
}

/// What a record states of a module, besides its size and identity.
fn stated(device: &MemoryDevice<'_>) -> Vec<(TraceField, Place)> {
    let of = |field: TraceField, is_stated: bool, place: Option<Place>| {
        place.filter(|_| is_stated).map(|place| (field, place))
    };
    let rate = [&device.speed, &device.configured_speed]
        .into_iter()
        .find(|field| field.get().is_some_and(TransferRate::is_plausible));
    let voltage = [&device.configured_voltage, &device.minimum_voltage, &device.maximum_voltage]
        .into_iter()
        .find(|field| field.get().is_some_and(Millivolts::is_plausible));
    let widths = [&device.total_width, &device.data_width].into_iter().find(|field| field.get().is_some());
    [
        of(TraceField::Speed, true, rate.and_then(Field::place)),
        of(TraceField::Ranks, device.rank.get().is_some(), device.rank.place()),
        of(TraceField::Voltage, true, voltage.and_then(Field::place)),
        of(TraceField::Widths, true, widths.and_then(Field::place)),
        of(
            TraceField::Type,
            device.memory_type.get().is_some_and(|t| !t.says_nothing()),
            device.memory_type.place(),
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::{population, records};

    const PLAIN: &str = "Size: No Module Installed\n\tSpeed: Unknown\n\tRank: Unknown";
    const RUNS: &str = "Size: 16 GB\n\tSpeed: 1333 MT/s\n\tRank: 2";

    /// The words of each slot's trace, `!` where nothing could be compared.
    fn words(slots: &[&str]) -> Vec<String> {
        let body: String = slots
            .iter()
            .zip(1u16..)
            .map(|(fields, handle)| {
                format!("Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: A{handle}\n\t{fields}\n\n")
            })
            .collect();
        let text = Text::from_bytes("t", body.into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let word = |slot: &Slot<'_>| {
            slot.trace.as_ref().map_or_else(String::new, |trace| {
                format!("{}{}", trace.words(), if trace.compared { "" } else { "!" })
            })
        };
        population.slots.iter().map(word).collect()
    }

    #[test]
    fn a_record_unlike_the_other_empty_ones_has_a_trace() {
        let half = "Size: No Module Installed\n\tSpeed: 1333 MT/s\n\tRank: 2";
        assert_eq!(words(&[RUNS, half, PLAIN]), ["", "speed, ranks", ""]);
        let unknown = "Size: Unknown\n\tSpeed: 1333 MT/s\n\tConfigured Voltage: 1.35 V";
        assert_eq!(words(&[RUNS, unknown, PLAIN]), ["", "speed, voltage", ""]);
        // Half a socket is lost.
        let half = format!("{half}\n\tConfigured Voltage: 1.35 V");
        assert_eq!(words(&[RUNS, &half, &half, PLAIN])[1..3], ["speed, ranks, voltage"; 2]);
        // The public case: a speed and nothing else, that of the modules that run.
        let speed = "Size: No Module Installed\n\tSpeed: 1333 MT/s";
        assert_eq!(words(&[RUNS, speed, PLAIN, PLAIN]), ["", "speed", "", ""]);
    }

    #[test]
    fn what_firmware_always_prints_is_no_trace() {
        let half = "Size: No Module Installed\n\tSpeed: 1333 MT/s\n\tRank: 2";
        assert_eq!(words(&[RUNS, half, half]), ["", "", ""]);
        // Of one empty slot nobody can tell.
        assert_eq!(words(&[RUNS, half]), ["", "speed, ranks!"]);
        let widths = "Size: No Module Installed\n\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tType: DDR3";
        assert_eq!(words(&[RUNS, widths, PLAIN]), ["", "", ""]);
        // Speeds left over from other modules.
        let speed = "Size: No Module Installed\n\tSpeed: 1066 MT/s";
        assert_eq!(words(&[RUNS, speed, PLAIN, PLAIN]), ["", "", "", ""]);
        let speed = "Size: No Module Installed\n\tSpeed: 1333 MT/s";
        assert_eq!(words(&[RUNS, speed, speed, PLAIN, PLAIN]), ["", "", "", "", ""]);
        // Ranks of empty slots, and one record without them.
        let ranks = "Size: No Module Installed\n\tRank: 2\n\tType: DDR4";
        assert_eq!(words(&[RUNS, ranks, ranks, ranks, PLAIN]), [""; 5]);
        let nonsense = "Size: No Module Installed\n\tSpeed: 3 MT/s\n\tConfigured Voltage: 0.003 V";
        assert_eq!(words(&[RUNS, nonsense, PLAIN]), ["", "", ""]);
    }
}
