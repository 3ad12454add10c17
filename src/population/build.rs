//! Rebuilding the population from the records.

use std::borrow::Cow;

use super::identity::{clean_part, collapse};
use super::module::Module;
use super::slots::{Population, Slot, SlotState, Socket};
use super::topology::{Surroundings, locate};
use super::{doubles, labels, module, observe, tier, totals, trace};
use crate::records::enums::{ArrayUse, ErrorCorrection, MemoryType};
use crate::records::{DeviceSize, Field, Listing, MemoryDevice};

/// The name of a slot whose record has no usable Locator.
const UNLABELLED: &str = "unlabelled";

/// Rebuilds the population that a listing describes.
pub fn rebuild<'a>(listing: &Listing<'a>) -> Population<'a> {
    let array_order = memory_arrays(listing);
    let chosen: Vec<(usize, Option<usize>)> = listing
        .devices
        .iter()
        .zip(arrays_of(listing))
        .enumerate()
        .filter_map(|(index, (device, array))| {
            is_memory_slot(listing, device, array).then_some((index, array))
        })
        .collect();
    let (chosen, repeated) = doubles::without_repeats(listing, chosen);
    let names = Names::of(listing, &chosen);
    let mut joined = Vec::with_capacity(64);
    let labels: Vec<labels::Label<'a>> =
        names.locators.iter().zip(&names.banks).map(|(l, b)| read_label(l, b, &mut joined)).collect();
    let positions: Vec<Option<usize>> = chosen
        .iter()
        .map(|(_, array)| array.and_then(|array| array_order.iter().position(|index| *index == array)))
        .collect();
    let around = Surroundings {
        processors: listing.processors.len(),
        array_of: &positions,
        arrays: array_order.len(),
    };
    let places = locate(&labels, around);
    let running = running_parts(listing, &chosen);
    let mut slots: Vec<Slot<'a>> = chosen
        .iter()
        .zip(names.unique())
        .zip(places)
        .zip(&labels)
        .map(|((((device, array), name), location), label)| {
            let state = state(&listing.devices[*device], &running);
            let nameless = label.reading() == Some(labels::Reading::Placeholder) && state == SlotState::Empty;
            let record = array.and_then(|array| listing.arrays.get(array));
            let tier = tier::tier(&listing.devices[*device], record, &state);
            Slot { name, location, state, device: *device, array: *array, tier, trace: None, nameless }
        })
        .collect();
    for (slot, trace) in trace::traces(listing, &slots).into_iter().enumerate() {
        slots[slot].trace = trace;
    }
    let error_correction = array_order
        .iter()
        .filter_map(|index| listing.arrays[*index].error_correction.get())
        .min_by_key(|correction| (*correction != ErrorCorrection::NONE, correction.0));
    let totals = totals::sum(&slots, listing);
    let sockets = sockets(listing, &slots);
    let mut population = Population { slots, sockets, totals, error_correction, ..Population::default() };
    population.index_names();
    population.doubled = doubles::doubled(listing, &population.slots);
    population.observations = observe::observe(listing, &population);
    population.observations.extend(doubles::observation(listing, &repeated));
    population
}

/// The array of each device: by handle, or the array printed before it where the quiet format hides handles.
///
/// Without handles that holds only if every array is followed by its devices; where some are printed in a
/// row, it is unproven which devices belong to which.
fn arrays_of(listing: &Listing<'_>) -> Vec<Option<usize>> {
    let by_handle = |device: &MemoryDevice<'_>| {
        let handle = device.array_handle.get()?;
        listing.arrays.iter().position(|array| array.head.handle == Some(handle))
    };
    if listing.has_handles {
        return listing.devices.iter().map(by_handle).collect();
    }
    let before = |device: &MemoryDevice<'_>| {
        listing.arrays.iter().rposition(|array| array.head.order < device.head.order)
    };
    let of_devices: Vec<Option<usize>> = listing.devices.iter().map(before).collect();
    let bare = |array: usize| {
        listing.arrays[array].device_count.get() != Some(0) && !of_devices.contains(&Some(array))
    };
    if !listing.devices.is_empty() && listing.arrays.len() > 1 && (0..listing.arrays.len()).any(bare) {
        return vec![None; listing.devices.len()];
    }
    of_devices
}

/// Arrays that can hold main memory, in the order of the listing.
fn memory_arrays(listing: &Listing<'_>) -> Vec<usize> {
    let may_be = |index: &usize| listing.arrays[*index].usage.get().is_none_or(ArrayUse::may_be_memory);
    (0..listing.arrays.len()).filter(may_be).collect()
}

/// Both the array's use and the device's type are asked: either alone lets a flash device through.
fn is_memory_slot(listing: &Listing<'_>, device: &MemoryDevice<'_>, array: Option<usize>) -> bool {
    device.memory_type.get() != Some(MemoryType::FLASH)
        && array.is_none_or(|index| listing.arrays[index].usage.get().is_none_or(ArrayUse::may_be_memory))
}

/// The label's reading borrows from the input where nothing was collapsed; a collapsed label's does not live
/// long enough, so its letters are looked up in the alphabet of channel names.
fn read_label<'a>(locator: &Cow<'a, str>, bank: &Cow<'a, str>, joined: &mut Vec<u8>) -> labels::Label<'a> {
    match (locator, bank) {
        (Cow::Borrowed(locator), Cow::Borrowed(bank)) => labels::read(locator, bank, joined),
        (locator, bank) => {
            let label = labels::read(locator, bank, joined);
            labels::Label {
                rule: label.rule,
                socket: label.socket,
                controller: label.controller,
                channel: label.channel.and_then(short_name),
                position: label.position,
                slot: label.slot,
                letter: label.letter.and_then(short_name),
            }
        }
    }
}

/// A channel's letter or number as a constant.
fn short_name(name: &str) -> Option<&'static str> {
    const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    const DIGITS: &str = "0123456789";
    [LETTERS, DIGITS].into_iter().find_map(|all| all.find(name).and_then(|at| all.get(at..at + name.len())))
}

/// Both labels of a slot as printed, runs of spaces collapsed.
pub(super) fn labels_of<'a>(
    listing: &Listing<'a>,
    device: &MemoryDevice<'a>,
) -> (Cow<'a, str>, Cow<'a, str>) {
    let printed = |field: &Field<&'a str>| match field {
        Field::Stated(text, _) => collapse(text),
        // `Not Specified` is a label like any other when it comes to naming.
        Field::Unknown(place) => collapse(listing.value(*place)),
        Field::Absent => Cow::Borrowed(""),
    };
    (printed(&device.locator), printed(&device.bank_locator))
}

/// Both labels as used in names: a slot without a Locator has a stand-in.
pub(crate) fn printed_labels<'a>(
    listing: &Listing<'a>,
    device: &MemoryDevice<'a>,
) -> (Cow<'a, str>, Cow<'a, str>) {
    let (locator, bank) = labels_of(listing, device);
    (if locator.is_empty() { Cow::Borrowed(UNLABELLED) } else { locator }, bank)
}

/// Names of the chosen slots.
struct Names<'a> {
    locators: Vec<Cow<'a, str>>,
    banks: Vec<Cow<'a, str>>,
}

impl<'a> Names<'a> {
    fn of(listing: &Listing<'a>, chosen: &[(usize, Option<usize>)]) -> Self {
        let (locators, banks) =
            chosen.iter().map(|(index, _)| labels_of(listing, &listing.devices[*index])).unzip();
        Self { locators, banks }
    }

    /// Unique names in the order of the slots.
    fn unique(self) -> Vec<Cow<'a, str>> {
        let Self { locators, banks } = self;
        let mut names: Vec<Cow<'a, str>> = locators
            .into_iter()
            .map(|name| if name.is_empty() { Cow::Borrowed(UNLABELLED) } else { name })
            .collect();
        let mut order: Vec<usize> = (0..names.len()).collect();
        order.sort_by(|a, b| names[*a].cmp(&names[*b]).then(a.cmp(b)));
        let repeated: Vec<Vec<usize>> = order
            .chunk_by(|a, b| names[*a] == names[*b])
            .filter(|group| group.len() > 1)
            .map(<[usize]>::to_vec)
            .collect();
        for group in &repeated {
            let same_bank = |bank: &str| group.iter().filter(|index| banks[**index] == bank).count();
            let renamed: Vec<String> = group
                .iter()
                .enumerate()
                .map(|(number, index)| {
                    let (name, bank) = (&names[*index], &banks[*index]);
                    if !bank.is_empty() && same_bank(bank) == 1 {
                        format!("{name} @ {bank}")
                    } else {
                        format!("{name} #{}", number + 1)
                    }
                })
                .collect();
            for (index, name) in group.iter().zip(renamed) {
                names[*index] = Cow::Owned(name);
            }
        }
        if !repeated.is_empty() {
            settle_clashes(&mut names);
        }
        names
    }
}

/// A made-up name can still clash with a label that looks like one; such a name gets another number.
fn settle_clashes(names: &mut [Cow<'_, str>]) {
    let mut taken = std::collections::HashSet::new();
    for name in names {
        let mut number = 2;
        let base = name.clone();
        while !taken.insert(name.to_string()) {
            *name = Cow::Owned(format!("{base} #{number}"));
            number += 1;
        }
    }
}

/// Part numbers of the modules whose memory is in use.
fn running_parts<'a>(listing: &Listing<'a>, chosen: &[(usize, Option<usize>)]) -> Vec<Cow<'a, str>> {
    let mut parts: Vec<Cow<'a, str>> = chosen
        .iter()
        .map(|(index, _)| &listing.devices[*index])
        .filter(|device| matches!(device.size.get(), Some(DeviceSize::Fitted(_) | DeviceSize::OverMarker)))
        .filter_map(|device| device.part_number.get().and_then(clean_part))
        .collect();
    parts.sort_unstable();
    parts.dedup();
    parts
}

fn state<'a>(device: &MemoryDevice<'a>, running: &[Cow<'_, str>]) -> SlotState<'a> {
    match device.size.get() {
        Some(DeviceSize::Fitted(_) | DeviceSize::OverMarker) => SlotState::Fitted(module::describe(device)),
        Some(DeviceSize::Empty) => {
            if device.part_number.stated().is_none() {
                return SlotState::Empty;
            }
            let module = module::describe(device);
            if names_a_module(&module, running) { SlotState::NotRunning(module) } else { SlotState::Empty }
        }
        // FFFFh means a module of unknown size (DSP0134 7.18, offset 0Ch); some firmware prints it for a slot
        // it knows nothing about, so that only a module with an identity is believed.
        None => {
            let module = module::describe(device);
            let known = module.part.is_some() || module.serial.is_some();
            if known { SlotState::Fitted(module) } else { SlotState::Unknown }
        }
    }
}

/// Whether an empty slot's record names a module that firmware has read and left out.
///
/// Its part number must look like one (letters and digits; firmware of small systems fills in plain numbers)
/// and must either be that of a running module or come with a maker and a rated speed.
fn names_a_module(module: &Module<'_>, running: &[Cow<'_, str>]) -> bool {
    let Some(part) = module.part.as_deref() else { return false };
    let looks_real = part.len() >= 6
        && part.bytes().any(|b| b.is_ascii_digit())
        && part.bytes().any(|b| b.is_ascii_alphabetic());
    looks_real
        && (running.iter().any(|own| own == part) || (module.maker.is_some() && module.rated.is_some()))
}

/// Processor sockets with the numbers that slot labels use for them.
fn sockets<'a>(listing: &Listing<'a>, slots: &[Slot<'a>]) -> Vec<Socket<'a>> {
    let mut numbers: Vec<u16> = slots.iter().filter_map(|slot| slot.location.socket).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let own: Vec<Option<u16>> =
        listing.processors.iter().map(|p| p.socket.get().and_then(trailing_number)).collect();
    let by_number = numbers.iter().all(|number| own.contains(&Some(*number)));
    let by_order = numbers.len() == listing.processors.len();
    listing
        .processors
        .iter()
        .enumerate()
        .map(|(record, processor)| Socket {
            number: match (by_number, by_order) {
                (true, _) => own[record],
                (false, true) => numbers.get(record).copied(),
                (false, false) => None,
            },
            label: processor.socket.get(),
            processor: processor.version.get(),
            status: processor.status.get(),
            record,
        })
        .collect()
}

/// The number at the end of a socket's label: `CPU 1`, `Proc2`, `P0`, `SOCKET 1`.
fn trailing_number(label: &str) -> Option<u16> {
    let digits = label.bytes().rev().take_while(u8::is_ascii_digit).count();
    label.get(label.len() - digits..)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::records;
    use crate::units::Bytes;

    fn population_of(body: &str, check: impl Fn(&Population<'_>)) {
        let text = Text::from_bytes("test", body.as_bytes().to_vec()).unwrap();
        check(&rebuild(&records::read(&text)[0]));
    }

    fn slot(handle: u16, fields: &str) -> String {
        format!("Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n{fields}\n\n")
    }

    #[test]
    fn flash_is_no_memory_by_array_or_by_type() {
        let flash = "Handle 0x0001, DMI type 16, 15 bytes\nPhysical Memory Array\n\tUse: Flash Memory\n\n";
        let ram = "Handle 0x0002, DMI type 16, 15 bytes\nPhysical Memory Array\n\tUse: System Memory\n\n";
        let body = [
            flash,
            ram,
            &slot(3, "\tArray Handle: 0x0001\n\tSize: 4 MB\n\tLocator: BIOS\n\tType: Other"),
            &slot(4, "\tArray Handle: 0x0002\n\tSize: 4 MB\n\tLocator: SPI ROM\n\tType: Flash"),
            &slot(5, "\tArray Handle: 0x0002\n\tSize: 4 GB\n\tLocator: A1\n\tType: DDR3"),
        ]
        .concat();
        population_of(&body, |p| {
            assert_eq!((p.totals.slots, p.totals.detected), (1, Some(Bytes::gib(4))));
        });
    }

    #[test]
    fn names_are_unique_by_the_contract() {
        let body = [
            slot(1, "\tSize: 1 GB\n\tLocator: DIMM 0\n\tBank Locator: P0 CHANNEL A"),
            slot(2, "\tSize: 1 GB\n\tLocator: DIMM  0 \n\tBank Locator: P0 CHANNEL B"),
            slot(3, "\tSize: 1 GB\n\tLocator: NO DIMM\n\tBank Locator: NO DIMM"),
            slot(4, "\tSize: 1 GB\n\tLocator: NO DIMM\n\tBank Locator: NO DIMM"),
            slot(5, "\tSize: 1 GB\n\tLocator: X1"),
        ]
        .concat();
        population_of(&body, |p| {
            let names: Vec<_> = p.slots.iter().map(|s| s.name.as_ref()).collect();
            assert_eq!(
                names,
                ["DIMM 0 @ P0 CHANNEL A", "DIMM 0 @ P0 CHANNEL B", "NO DIMM #1", "NO DIMM #2", "X1"]
            );
        });
    }

    #[test]
    fn a_named_module_in_an_empty_slot_is_not_running() {
        let module = "\tManufacturer: Samsung\n\tPart Number: M393B1G70BH0-YK0  \n\tSpeed: 1600 MHz";
        let body = [
            slot(1, &format!("\tSize: 8192 MB\n\tLocator: A1\n{module}")),
            slot(2, &format!("\tSize: No Module Installed\n\tLocator: A2\n{module}")),
            slot(3, "\tSize: No Module Installed\n\tLocator: A3\n\tManufacturer: NO DIMM\n\tPart Number: NO DIMM"),
            slot(4, "\tSize: No Module Installed\n\tLocator: A4\n\tManufacturer: Micron\n\tPart Number: 6478545886\n\tSpeed: 2400 MHz"),
        ]
        .concat();
        population_of(&body, |p| {
            let states: Vec<_> = p.slots.iter().map(Slot::state_word).collect();
            assert_eq!(states, ["fitted", "not-running", "empty", "empty"]);
            assert_eq!(p.totals.detected, Some(Bytes::gib(8)));
        });
    }

    #[test]
    fn an_inexact_size_leaves_the_total_open() {
        let body = slot(1, "\tSize: 32767 MB\n\tLocator: A1") + &slot(2, "\tSize: 16 GB\n\tLocator: A2");
        population_of(&body, |p| assert_eq!(p.totals.detected, None));
    }

    #[test]
    fn quiet_listings_find_their_array_by_order() {
        let body = "Physical Memory Array\n\tUse: Flash Memory\n\nMemory Device\n\tSize: 4 MB\n\tType: Other\n\n\
                    Physical Memory Array\n\tUse: System Memory\n\nMemory Device\n\tSize: 4 GB\n\tLocator: A1\n\n";
        population_of(body, |p| assert_eq!(p.totals.slots, 1));
    }

    #[test]
    fn quiet_arrays_in_a_row_leave_the_array_open() {
        let flash = "Physical Memory Array\n\tUse: Flash Memory\n\tNumber Of Devices: 1\n\n";
        let ram = "Physical Memory Array\n\tUse: System Memory\n\tNumber Of Devices: 1\n\n";
        let device = "Memory Device\n\tSize: 4 GB\n\tLocator: A1\n\n";
        let bios = "Memory Device\n\tSize: 4 MB\n\tLocator: BIOS\n\tType: Flash\n\n";
        for body in [[ram, flash, device, bios].concat(), [flash, ram, bios, device].concat()] {
            population_of(&body, |p| {
                assert_eq!((p.totals.slots, p.totals.detected), (1, Some(Bytes::gib(4))));
                assert_eq!(p.slots[0].array, None);
            });
        }
    }
}
