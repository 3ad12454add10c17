//! Which slot a source of evidence means.

use std::ops::Range;

use super::super::Context;
use crate::population::{Mention, Mentions, Population, Slot, identity};
use crate::sources::{MemoryEvent, Sources};

/// The slots of a machine as other sources name them.
pub(super) struct Places<'c, 'a> {
    context: &'c Context<'c, 'a>,
    mentions: Mentions<'c>,
    /// The sources number sockets in another way than the labels.
    otherwise: bool,
}

impl<'c, 'a> Places<'c, 'a> {
    pub(super) fn new(context: &'c Context<'c, 'a>) -> Self {
        let case = context.case;
        let mentions = Mentions::new(&case.population, case.listing);
        let otherwise = mentions.count_otherwise(texts(case.sources));
        Self { context, mentions, otherwise }
    }

    /// The one slot that is labelled so: by its name, or by both labels of its record.
    pub(super) fn exactly(&self, label: &str) -> Option<String> {
        let label = identity::collapse(label);
        let case = self.context.case;
        let same = |slot: &&Slot<'_>| {
            let device = &case.listing.devices[slot.device];
            let locator = identity::collapse(device.locator.get().unwrap_or_default());
            let bank = identity::collapse(device.bank_locator.get().unwrap_or_default());
            slot.name == label || (!locator.is_empty() && label == format!("{bank} {locator}"))
        };
        let mut slots = case.population.slots.iter().filter(same);
        match (slots.next(), slots.next()) {
            (Some(slot), None) => Some(slot.name.to_string()),
            _ => None,
        }
    }

    /// The slot that a label means.
    pub(super) fn labelled(&self, label: Option<&str>) -> Mention {
        let Some(label) = label else { return Mention::None };
        self.exactly(label).map_or_else(|| self.mentions.likely(label, self.otherwise), Mention::Slot)
    }

    /// The slot that an event of a log is about. The bytes of a record are no words.
    pub(super) fn of_event(&self, event: &MemoryEvent) -> Mention {
        if event.is_record { Mention::None } else { self.in_text(&event.line.text) }
    }

    /// The slot whose name is a word of a line, or that is named there in another way.
    pub(super) fn in_text(&self, text: &str) -> Mention {
        match named(&self.context.case.population, text) {
            Mention::None => self.mentions.likely(text, self.otherwise),
            mention => mention,
        }
    }
}

/// Every text that may name a slot.
fn texts(sources: &Sources) -> impl Iterator<Item = &str> {
    let rows = sources.events.iter().flat_map(|log| {
        let read = log.events.iter().filter(|event| !event.is_record).map(|event| &event.line);
        read.chain(&log.unread).map(|line| line.text.as_str())
    });
    let counted = sources.edac.iter().flat_map(|edac| {
        edac.modules.iter().chain(edac.rows.iter().flat_map(|row| &row.channels)).map(|module| &module.label)
    });
    let resources = sources.redfish.iter().flat_map(|redfish| redfish.modules.iter().map(|own| &own.label));
    rows.chain(counted.chain(resources).filter_map(Option::as_deref))
}

/// The one slot whose name is a word of a text. A name must have a letter and a digit to be distinguished from other
/// words.
fn named(population: &Population<'_>, text: &str) -> Mention {
    let inside = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-'));
    let place = |name: &str| {
        text.match_indices(name).map(|(at, _)| at).find(|at| {
            !inside(text[..*at].chars().next_back()) && !inside(text[at + name.len()..].chars().next())
        })
    };
    let telling = |name: &&str| {
        name.bytes().any(|b| b.is_ascii_alphabetic()) && name.bytes().any(|b| b.is_ascii_digit())
    };
    let names = population.slots.iter().map(|slot| slot.name.as_ref()).filter(telling);
    let mut there: Vec<(Range<usize>, &str)> =
        names.filter_map(|name| place(name).map(|at| (at..at + name.len(), name))).collect();
    there.sort_by_key(|(range, _)| std::cmp::Reverse(range.len()));
    // `A1` is a word of `A1 B` as well; names that lie inside the longest one are not meant.
    let Some((longest, name)) = there.first().cloned() else { return Mention::None };
    let within = |range: &Range<usize>| range.start >= longest.start && range.end <= longest.end;
    if there.iter().all(|(range, _)| within(range)) {
        return Mention::Slot(name.to_owned());
    }
    Mention::Several(there.into_iter().map(|(_, name)| name.to_owned()).collect())
}
