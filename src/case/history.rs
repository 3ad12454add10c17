//! What came before the state that a listing shows: an earlier listing of the machine, and what someone says was done.

use crate::population::identity::clean;
use crate::population::{self, Population};
use crate::records::Listing;

/// What something that was done is called and means.
#[derive(Debug, Clone, Copy)]
pub struct WorkDoneInfo {
    /// Its word on the command line.
    pub word: &'static str,
    /// What was done.
    pub meaning: &'static str,
}

table! {
    /// What someone says was done shortly before memory was missed.
    #[non_exhaustive]
    pub enum WorkDone: WorkDoneInfo {
        /// The firmware was updated, or its settings were changed.
        Firmware { word: "firmware", meaning: "the firmware was updated, or its settings were changed" },
        /// A module was replaced or fitted.
        Module { word: "module", meaning: "a module was replaced or fitted" },
    }
}

impl WorkDone {
    /// Its word.
    pub const fn word(self) -> &'static str {
        self.info().word
    }
}

/// An earlier state of the same machine.
#[derive(Debug, Clone)]
pub struct Earlier<'c> {
    /// Its records.
    pub listing: &'c Listing<'c>,
    /// What they prove.
    pub population: Population<'c>,
}

impl<'c> Earlier<'c> {
    pub(super) fn new(listing: &'c Listing<'c>) -> Self {
        Self { listing, population: population::rebuild(listing) }
    }

    /// Whether a module was in use in the slot of that name; `None` where the earlier listing does not have it.
    pub fn had(&self, slot: &str) -> Option<bool> {
        self.population.slot(slot).map(|(_, slot)| slot.fitted().is_some())
    }
}

/// All that is known of the time before.
#[derive(Debug, Clone, Default)]
pub struct History<'c> {
    /// An earlier listing of the machine.
    pub earlier: Option<Earlier<'c>>,
    /// What was done since everything was seen, as someone says.
    pub done: Vec<WorkDone>,
}

impl History<'_> {
    /// Whether someone says that this was done.
    pub fn has(&self, done: WorkDone) -> bool {
        self.done.contains(&done)
    }

    /// The versions of the firmware in the earlier listing and in `now`, where both state one and they differ.
    pub fn firmware_change(&self, now: &Listing<'_>) -> Option<(String, String)> {
        let version = |listing: &Listing<'_>| -> Option<String> {
            let firmware = listing.firmware.first()?;
            let stated = [firmware.version.get().and_then(clean), firmware.date.get().and_then(clean)];
            let words: Vec<&str> = stated.into_iter().flatten().collect();
            (!words.is_empty()).then(|| words.join(" of "))
        };
        let (before, after) = (version(self.earlier.as_ref()?.listing)?, version(now)?);
        (before != after).then_some((before, after))
    }
}
