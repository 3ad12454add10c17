//! Records that are there twice: a module counts once.

use std::collections::HashMap;

use super::observation::{Observation, ObservationKind};
use super::slots::Slot;
use crate::base::words::counted;
use crate::records::{Field, Listing, MemoryDevice};

/// A slot's record by its index, with that of its array.
type Chosen = (usize, Option<usize>);

/// The chosen records without those that repeat an earlier one, and those.
///
/// Two records are one where they have the same handle and labels, and no part of their identity is stated and
/// different. A record that repeats another and leaves something out is that record still.
pub(super) fn without_repeats(listing: &Listing<'_>, chosen: Vec<Chosen>) -> (Vec<Chosen>, Vec<usize>) {
    let mut first: HashMap<u16, Vec<usize>> = HashMap::new();
    let mut repeated = Vec::new();
    let kept = chosen
        .into_iter()
        .filter(|(index, _)| {
            let device = &listing.devices[*index];
            let Some(handle) = device.head.handle else { return true };
            let same = first.entry(handle).or_default();
            if same.iter().any(|other| is_one(&listing.devices[*other], device)) {
                repeated.push(*index);
                return false;
            }
            same.push(*index);
            true
        })
        .collect();
    (kept, repeated)
}

fn is_one(a: &MemoryDevice<'_>, b: &MemoryDevice<'_>) -> bool {
    fn agree<T: PartialEq>(a: &Field<T>, b: &Field<T>) -> bool {
        a.stated().zip(b.stated()).is_none_or(|(a, b)| a == b)
    }
    a.locator.get() == b.locator.get()
        && a.bank_locator.get() == b.bank_locator.get()
        && agree(&a.array_handle, &b.array_handle)
        && agree(&a.serial, &b.serial)
        && agree(&a.part_number, &b.part_number)
        && agree(&a.manufacturer, &b.manufacturer)
        && agree(&a.size, &b.size)
}

/// Slots whose records may be one: without handles, nothing tells a record that is printed twice from a second module.
pub(super) fn doubled(listing: &Listing<'_>, slots: &[Slot<'_>]) -> Vec<(usize, usize)> {
    if listing.has_handles {
        return Vec::new();
    }
    let mut first: HashMap<[Option<&str>; 2], Vec<usize>> = HashMap::new();
    let mut pairs = Vec::new();
    for (slot, fitted) in slots.iter().enumerate().filter(|(_, slot)| slot.fitted().is_some()) {
        let device = &listing.devices[fitted.device];
        let same = first.entry([device.locator.get(), device.bank_locator.get()]).or_default();
        let other = same.iter().find(|other| is_one(&listing.devices[slots[**other].device], device));
        match other {
            Some(other) => pairs.push((slot, *other)),
            None => same.push(slot),
        }
    }
    pairs
}

/// What to say of records that were left out.
pub(super) fn observation(listing: &Listing<'_>, repeated: &[usize]) -> Option<Observation> {
    let first = repeated.first()?;
    let text = format!(
        "{} with the handle and the labels of an earlier one: the same record again, which counts once",
        counted(repeated.len(), "memory record")
    );
    let place = Some(listing.devices[*first].head.place);
    Some(Observation { kind: ObservationKind::RepeatedRecord, text, place })
}
