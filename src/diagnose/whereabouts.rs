//! What the findings state of where each planned module is.

use std::collections::{HashMap, HashSet};

use crate::audit::{Finding, FindingKind};

/// What the findings say of where the module of each planned slot is.
pub(super) struct Whereabouts<'w> {
    elsewhere: HashMap<&'w str, &'w str>,
    nowhere: HashSet<&'w str>,
    /// Slots of a socket without a processor.
    dead: HashSet<&'w str>,
}

impl<'w> Whereabouts<'w> {
    pub(super) fn new(findings: &'w [Finding]) -> Self {
        let mut told = Self { elsewhere: HashMap::new(), nowhere: HashSet::new(), dead: HashSet::new() };
        for finding in findings {
            let (slot, other) = (finding.slot.as_deref(), finding.other_slot.as_deref());
            match finding.kind {
                FindingKind::WrongSlot | FindingKind::NotRunning => {
                    told.elsewhere.extend(other.zip(slot));
                }
                FindingKind::Missing | FindingKind::WrongModule => {
                    told.nowhere.extend(finding.slots.iter().map(String::as_str));
                }
                FindingKind::NoCpu => told.dead.extend(finding.slots.iter().map(String::as_str)),
                _ => {}
            }
        }
        told
    }

    /// The slot that holds the module of `place`.
    pub(super) fn source(&self, place: &'w str) -> Option<&'w str> {
        match self.elsewhere.get(place) {
            Some(slot) => Some(slot),
            None => (!self.nowhere.contains(place)).then_some(place),
        }
    }

    /// Whether hands can do anything for a planned slot: not without its processor, and not where a damaged
    /// listing has lost the slot's record, which then says nothing of what is there.
    pub(super) fn can_be_filled(&self, place: &str, home: Option<usize>) -> bool {
        !self.dead.contains(place)
            && (home.is_some() || self.elsewhere.contains_key(place) || self.nowhere.contains(place))
    }
}
