//! The pattern in which planned modules are missing.
//!
//! Where losses can be read in several ways, the reading with the fewest causes counts: what explains most of them is
//! taken first, and what it explains is no part of another pattern.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap, HashMap, HashSet};

use super::finding::{Finding, FindingKind};
use crate::plan::Plan;
use crate::population::{Analogy, Channel, Location, Population};

/// How far what is missing reaches around one slot.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Pattern {
    /// Every planned module of one socket, not all of another.
    Socket(u16),
    /// Every planned module of one channel, not all of another; the channel with its socket, in words.
    Channel(String),
    /// Every planned module at one position of several channels, while most of those before it are there.
    Position {
        /// The position.
        position: u16,
        /// The socket, where it is so on one of several.
        socket: Option<u16>,
    },
    /// Those of one channel from this slot on, while the ones before it are there.
    Tail(String),
    /// Every planned module of a group that only the slots' names show, not all of another; what the names begin with.
    Group(String),
    /// This slot by itself.
    #[default]
    Alone,
}

/// The pattern of each slot that `findings` state as missing of `plan`; what has none is by itself.
pub(super) fn patterns(
    population: &Population<'_>,
    plan: &Plan,
    findings: &[Finding],
) -> HashMap<String, Pattern> {
    let missing = findings.iter().filter(|finding| finding.kind == FindingKind::Missing);
    let lost: HashSet<&str> = missing.flat_map(|finding| finding.slots.iter().map(String::as_str)).collect();
    if lost.len() < 2 {
        return HashMap::new();
    }
    let unlisted = |name: &&str| population.slot(name).is_none();
    let analogy = if lost.iter().any(unlisted) { Analogy::of(population) } else { Analogy::default() };
    let place = |name| {
        let location = match population.slot(name) {
            Some((_, slot)) => slot.location,
            None => analogy.locate(name)?,
        };
        Some(Place { name, location, lost: lost.contains(name), pattern: None })
    };
    let places = plan.modules().filter_map(|(planned, _)| place(planned.slot.as_str())).collect();
    let found = explained(places).into_iter();
    found.filter_map(|place| Some((place.name.to_owned(), place.pattern?))).collect()
}

/// A slot that is planned to be filled.
struct Place<'l> {
    name: &'l str,
    location: Location<'l>,
    lost: bool,
    /// What explains its loss.
    pattern: Option<Pattern>,
}

/// Slots, by their index, that are lost as one if all of them are.
struct Group {
    pattern: Pattern,
    slots: Vec<usize>,
}

impl Group {
    /// How many of its slots nothing explains yet.
    fn open(&self, places: &[Place<'_>]) -> usize {
        self.slots.iter().filter(|slot| is_open(&places[**slot])).count()
    }
}

fn is_open(place: &Place<'_>) -> bool {
    place.lost && place.pattern.is_none()
}

/// Gives lost slots their patterns, those that explain most of them first; among equal ones the socket before the
/// channel, before the position, before the end of a channel, before a group that only names show.
fn explained(mut places: Vec<Place<'_>>) -> Vec<Place<'_>> {
    let groups = groups(&places);
    let before = before(&places);
    let entry = |number: usize, places: &[Place<'_>]| (groups[number].open(places), Reverse(number));
    let mut waiting: BinaryHeap<_> = (0..groups.len()).map(|number| entry(number, &places)).collect();
    // What a pattern before it may yet make one.
    let mut aside = Vec::new();
    while let Some((count, Reverse(number))) = waiting.pop() {
        let group = &groups[number];
        let now = group.open(&places);
        if now < 2 {
            continue;
        }
        if now < count {
            waiting.push((now, Reverse(number)));
            continue;
        }
        let position = matches!(group.pattern, Pattern::Position { .. });
        let holds = match group.pattern {
            Pattern::Position { .. } => position_is_lost(group, &places, &before),
            Pattern::Tail(_) => now == group.slots.len(),
            Pattern::Socket(_) | Pattern::Channel(_) | Pattern::Group(_) | Pattern::Alone => true,
        };
        if !holds {
            aside.push(number);
            continue;
        }
        for slot in &group.slots {
            places[*slot].pattern.get_or_insert_with(|| group.pattern.clone());
        }
        if position {
            waiting.extend(aside.drain(..).map(|number| entry(number, &places)));
        }
    }
    places
}

/// The groups that are lost as a whole, in the order in which they are preferred, each with more than one slot.
fn groups(places: &[Place<'_>]) -> Vec<Group> {
    let mut sockets: BTreeMap<u16, Vec<usize>> = BTreeMap::new();
    let mut channels: BTreeMap<(Option<u16>, Channel<'_>), Vec<usize>> = BTreeMap::new();
    let mut rows: BTreeMap<(u16, Option<u16>), Vec<usize>> = BTreeMap::new();
    let mut named: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (index, Place { name, location, .. }) in places.iter().enumerate() {
        if let Some(socket) = location.socket {
            sockets.entry(socket).or_default().push(index);
        }
        let Some(channel) = location.channel else {
            if let Some(group) = group_of(name) {
                named.entry(group).or_default().push(index);
            }
            continue;
        };
        channels.entry((location.socket, channel)).or_default().push(index);
        let Some(position) = location.position else { continue };
        rows.entry((position, None)).or_default().push(index);
        if location.socket.is_some() {
            rows.entry((position, location.socket)).or_default().push(index);
        }
    }
    let all_lost = places.iter().filter(|place| place.lost).count();
    let lost = |slots: &[usize]| slots.iter().all(|slot| places[*slot].lost);
    // A group is lost as one if it is more than one module, all of it is lost, and the rest is not.
    let whole = |slots: &[usize]| {
        let rest_is_lost = all_lost - slots.len() == places.len() - slots.len();
        slots.len() > 1 && !rest_is_lost
    };
    let mut groups = Vec::new();
    for (socket, slots) in sockets {
        if lost(&slots) && whole(&slots) {
            groups.push(Group { pattern: Pattern::Socket(socket), slots });
        }
    }
    let mut tails = Vec::new();
    for ((socket, channel), slots) in channels {
        if !lost(&slots) {
            tails.extend(tail(places, &slots));
        } else if whole(&slots) {
            let of = socket.map_or_else(String::new, |socket| format!(" of socket {socket}"));
            groups.push(Group { pattern: Pattern::Channel(format!("{channel}{of}")), slots });
        }
    }
    // All rows of the machine come before those of one socket.
    let (all, single): (Vec<_>, Vec<_>) = rows.into_iter().partition(|((_, socket), _)| socket.is_none());
    for ((position, socket), slots) in all.into_iter().chain(single) {
        if slots.len() > 1 && lost(&slots) {
            groups.push(Group { pattern: Pattern::Position { position, socket }, slots });
        }
    }
    groups.extend(tails);
    for (group, slots) in named {
        if lost(&slots) && whole(&slots) {
            groups.push(Group { pattern: Pattern::Group(group.to_owned()), slots });
        }
    }
    groups
}

/// What a slot's name says of the card or bank it is on: what is before its last number, where that has a number too, as in
/// `Card 1 DIMM 3`. What makes equal names unique says nothing.
fn group_of(name: &str) -> Option<&str> {
    if name.contains(" #") || name.contains(" @ ") {
        return None;
    }
    let before = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let is_numbered = before.len() < name.len() && before.bytes().any(|b| b.is_ascii_digit());
    is_numbered.then(|| before.trim_end())
}

/// For each slot, those of its channel at lower positions.
fn before(places: &[Place<'_>]) -> Vec<Vec<usize>> {
    let mut channels: HashMap<(Option<u16>, Channel<'_>), Vec<usize>> = HashMap::new();
    for (index, Place { location, .. }) in places.iter().enumerate() {
        if let (Some(channel), Some(_)) = (location.channel, location.position) {
            channels.entry((location.socket, channel)).or_default().push(index);
        }
    }
    let of = |place: &Place<'_>| {
        let own = place.location.channel.and_then(|channel| channels.get(&(place.location.socket, channel)));
        let earlier = |other: &&usize| places[**other].location.position < place.location.position;
        own.into_iter().flatten().filter(earlier).copied().collect()
    };
    places.iter().map(of).collect()
}

/// Whether a row of slots is lost as one: each is behind a planned one in its channel, and most of them are behind ones
/// that run, or that are lost with a row of their own.
fn position_is_lost(group: &Group, places: &[Place<'_>], before: &[Vec<usize>]) -> bool {
    let is_there = |slot: &usize| {
        let place = &places[*slot];
        !place.lost || matches!(place.pattern, Some(Pattern::Position { .. }))
    };
    let behind_running = group.slots.iter().filter(|slot| before[**slot].iter().all(is_there)).count();
    group.slots.iter().all(|slot| !before[*slot].is_empty()) && behind_running * 2 > group.slots.len()
}

/// The slots of a channel from the first that is lost on, if those after it are lost too and some before it are there.
fn tail(places: &[Place<'_>], channel: &[usize]) -> Option<Group> {
    let at = |slot: &usize| places[*slot].location.position;
    let first = channel.iter().filter(|slot| places[**slot].lost).min_by_key(|slot| at(slot))?;
    at(first)?;
    let slots: Vec<usize> = channel.iter().copied().filter(|slot| at(slot) >= at(first)).collect();
    let all_lost = slots.iter().all(|slot| places[*slot].lost);
    let pattern = Pattern::Tail(places[*first].name.to_owned());
    (slots.len() > 1 && slots.len() < channel.len() && all_lost).then_some(Group { pattern, slots })
}
