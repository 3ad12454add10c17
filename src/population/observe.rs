//! Contradictions and oddities of a listing that matter to whoever reads it, without any plan.

use super::module::{self, CheckBits, ModuleSize, OddSpeed};
use super::observation::{Observation, ObservationKind};
use super::slots::{Population, SlotState};
use crate::base::words::comma_list;
use crate::evidence::Place;
use crate::records::enums::ErrorCorrection;
use crate::records::{DeviceSize, Field, Listing, MemoryDevice};
use crate::units::Bytes;

/// The share by which mapped and detected memory may differ before it is worth mentioning: firmware keeps holes
/// for devices and graphics. Range seen in real listings, not from a standard.
const MAPPED_SLACK_PERCENT: u64 = 7;

pub(super) fn observe(listing: &Listing<'_>, population: &Population<'_>) -> Vec<Observation> {
    let mut seen = Vec::new();
    let mut say = |kind, place, text: String| seen.push(Observation { kind, text, place });
    subsets(listing, &mut say);
    arrays(listing, population, &mut say);
    slots(listing, population, &mut say);
    if let (Some(detected), Some(mapped)) = (population.totals.detected, population.totals.mapped) {
        // Persistent modules are mapped as a whole, in part or not at all, by how they are set up; so are other tiers.
        let volatile = population.totals.visible_least();
        let slack = detected.0 / 100 * MAPPED_SLACK_PERCENT;
        if mapped.0 > detected.0.saturating_add(slack) || mapped.0 < volatile.0.saturating_sub(slack) {
            let place = listing.array_ranges.first().map(|range| range.head.place);
            say(
                ObservationKind::MappedDiffers,
                place,
                format!(
                    "the address ranges hold {}, the modules {detected}: mirroring, sparing or a firmware habit; it proves no loss",
                    mapped.rounded()
                ),
            );
        }
    }
    seen
}

fn subsets(listing: &Listing<'_>, say: &mut impl FnMut(ObservationKind, Option<Place>, String)) {
    if listing.devices.is_empty() {
        return;
    }
    if listing.processors.is_empty() {
        let text = "no processor records: empty sockets cannot be seen; take a full listing to know";
        say(ObservationKind::NoProcessors, None, text.to_owned());
    }
    if listing.arrays.is_empty() {
        let text =
            "no array records: slots for flash are distinguished from memory slots by their type alone";
        say(ObservationKind::NoArrays, None, text.to_owned());
    }
}

fn arrays(
    listing: &Listing<'_>,
    population: &Population<'_>,
    say: &mut impl FnMut(ObservationKind, Option<Place>, String),
) {
    for (index, array) in listing.arrays.iter().enumerate() {
        if array.usage.get().is_some_and(|usage| !usage.may_be_memory()) {
            continue;
        }
        let own = || population.slots.iter().filter(|slot| slot.array == Some(index));
        let count = own().count();
        if let Field::Stated(promised, place) = array.device_count
            && promised as usize != count
        {
            let text =
                format!("the array promises {promised} slots and lists {count}; the listed ones count");
            say(ObservationKind::SlotCount, Some(place), text);
        }
        let sum: Bytes = own().filter_map(|slot| slot.fitted()?.bytes()).sum();
        if let Field::Stated(maximum, place) = array.maximum_capacity
            && sum > maximum
        {
            let text =
                format!("the array states a maximum of {maximum} and holds {sum}; the maximum is no limit");
            say(ObservationKind::AboveMaximum, Some(place), text);
        }
        if let Field::Stated(correction, place) = array.error_correction {
            let bits = |want| own().any(|slot| slot.fitted().is_some_and(|m| m.check_bits == want));
            if correction == ErrorCorrection::NONE && bits(CheckBits::Present) {
                let text =
                    "the array states no error correction while modules have check bits by their widths";
                say(ObservationKind::EccContradiction, Some(place), text.to_owned());
            } else if correction.corrects() && bits(CheckBits::None) {
                let text =
                    "the array states error correction while modules have no check bits by their widths";
                say(ObservationKind::EccContradiction, Some(place), text.to_owned());
            }
        }
    }
}

fn slots(
    listing: &Listing<'_>,
    population: &Population<'_>,
    say: &mut impl FnMut(ObservationKind, Option<Place>, String),
) {
    let (mut idle, mut marked, mut traced) = (Group::default(), Group::default(), Group::default());
    let mut odd = Odd::default();
    for slot in &population.slots {
        let device = &listing.devices[slot.device];
        let name = &slot.name;
        if let (Some(handle), None) = (device.array_handle.get(), slot.array)
            && !listing.arrays.is_empty()
        {
            let text = format!("{name} belongs to array {handle:#06x}, which the listing does not have");
            say(ObservationKind::ArrayMissing, device.array_handle.place(), text);
        }
        if let Some(module) = slot.fitted() {
            odd.add(name, device, module.size);
            for speed in [device.speed, device.configured_speed] {
                if let Field::Stated(rate, place) = speed
                    && !rate.is_plausible()
                {
                    let text = format!("{name} states {rate}, which counts as unknown");
                    say(ObservationKind::NonsenseSpeed, Some(place), text);
                }
            }
        }
        if let Some(trace) = slot.trace.as_ref().filter(|trace| trace.compared) {
            traced.add(name, trace.fields.first().map(|(_, place)| *place));
        }
        match &slot.state {
            SlotState::NotRunning(_) => idle.add(name, device.size.place()),
            SlotState::Fitted(module) if matches!(module.size, ModuleSize::AtLeast(_)) => {
                marked.add(name, device.size.place());
            }
            _ => {}
        }
    }
    if let Some((names, place)) = idle.done() {
        let text =
            format!("empty by size, yet the firmware names a module there, which is not in use: {names}");
        say(ObservationKind::NotRunning, place, text);
    }
    if let Some((names, place)) = traced.done() {
        let text = format!(
            "no size, yet the record states of a module what that of another empty slot does not; something answered there: {names}"
        );
        say(ObservationKind::Trace, place, text);
    }
    if let Some((names, place)) = marked.done() {
        let text = format!("32 GiB or more, the records are too short to state how much: {names}");
        say(ObservationKind::SizeMarker, place, text);
    }
    odd.done(say);
}

/// Statements that no module of the generation can make true, one group for each kind.
#[derive(Default)]
struct Odd<'s> {
    clocks: Group<'s>,
    speeds: Group<'s>,
    widths: Group<'s>,
    sizes: Group<'s>,
}

impl<'s> Odd<'s> {
    fn add(&mut self, name: &'s str, device: &MemoryDevice<'_>, size: ModuleSize) {
        match module::odd_speed(device) {
            Some(OddSpeed::Clock) => self.clocks.add(name, device.configured_speed.place()),
            Some(OddSpeed::OutOfReach) => self.speeds.add(name, device.configured_speed.place()),
            None => {}
        }
        if module::has_impossible_widths(device) {
            self.widths.add(name, device.total_width.place());
        }
        if let (ModuleSize::Unknown, Some(DeviceSize::Fitted(_))) = (size, device.size.get()) {
            self.sizes.add(name, device.size.place());
        }
    }

    fn done(self, say: &mut impl FnMut(ObservationKind, Option<Place>, String)) {
        for (group, kind, text) in [
            (
                self.clocks,
                ObservationKind::ClockForSpeed,
                "the configured speed is half the rated one and below what the generation runs, most likely the clock in MHz of older firmware; it counts as unknown",
            ),
            (
                self.speeds,
                ObservationKind::NonsenseSpeed,
                "the configured speed is none that the generation runs; it counts as unknown",
            ),
            (
                self.widths,
                ObservationKind::NonsenseWidth,
                "no module has the stated widths; they say nothing about check bits",
            ),
            (
                self.sizes,
                ObservationKind::NonsenseSize,
                "no module of the generation has the stated size; it counts as unknown",
            ),
        ] {
            if let Some((names, place)) = group.done() {
                say(kind, place, format!("{text}: {names}"));
            }
        }
    }
}

/// Slots that share an observation, with the first one's place.
#[derive(Default)]
struct Group<'s> {
    names: Vec<&'s str>,
    place: Option<Place>,
}

impl<'s> Group<'s> {
    fn add(&mut self, name: &'s str, place: Option<Place>) {
        self.place = self.place.or(place);
        self.names.push(name);
    }

    fn done(self) -> Option<(String, Option<Place>)> {
        if self.names.is_empty() { None } else { Some((comma_list(self.names), self.place)) }
    }
}
