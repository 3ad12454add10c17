//! The pattern in which planned modules are missing.

use std::collections::HashSet;

use super::finding::{Finding, FindingKind};
use crate::plan::Plan;
use crate::population::{Location, Population, Slot};

/// How far what is missing reaches around one slot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pattern {
    /// Every planned module of one socket, not all of another.
    Socket(u16),
    /// Every planned module of one channel, not all of another; the channel with its socket, in words.
    Channel(String),
    /// Every planned module at one position of several channels, while those before it are there.
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
    Alone,
}

/// What is missing of the planned slots that the listing has.
#[derive(Debug)]
pub struct Losses<'l> {
    planned: Vec<&'l Slot<'l>>,
    lost: HashSet<&'l str>,
    population: &'l Population<'l>,
}

impl<'l> Losses<'l> {
    /// What `findings` state as missing of `plan`.
    pub fn new(population: &'l Population<'_>, plan: &'l Plan, findings: &'l [Finding]) -> Self {
        let missing = findings.iter().filter(|finding| finding.kind == FindingKind::Missing);
        let slots = plan.modules().filter_map(|(planned, _)| population.slot(&planned.slot));
        Self {
            planned: slots.map(|(_, slot)| slot).collect(),
            lost: missing.flat_map(|finding| finding.slots.iter().map(String::as_str)).collect(),
            population,
        }
    }

    /// The pattern around the slot of that name.
    pub fn around(&self, name: &str) -> Pattern {
        let Some((_, slot)) = self.population.slot(name) else { return Pattern::Alone };
        let here = slot.location;
        let planned = self.planned.as_slice();
        let gone = |slot: &Slot<'_>| self.lost.contains(slot.name.as_ref());
        // A group is lost as one if it is more than one module, all of it is lost, and the rest is not.
        let whole = |same: &dyn Fn(&Location<'_>) -> bool| {
            let (own, rest): (Vec<&Slot<'_>>, Vec<&Slot<'_>>) =
                planned.iter().partition(|slot| same(&slot.location));
            own.len() > 1 && own.into_iter().all(gone) && !rest.into_iter().all(gone)
        };
        if let Some(socket) = here.socket
            && whole(&|other| other.socket == Some(socket))
        {
            return Pattern::Socket(socket);
        }
        let Some(channel) = here.channel else {
            let group = group_of(&slot.name);
            let own: Vec<&Slot<'_>> =
                planned.iter().copied().filter(|other| group_of(&other.name) == group).collect();
            let is_whole = own.len() > 1 && own.len() < planned.len() && own.into_iter().all(gone);
            let rest = planned.iter().any(|other| !gone(other));
            return match group {
                Some(group) if is_whole && rest => Pattern::Group(group.to_owned()),
                _ => Pattern::Alone,
            };
        };
        if whole(&|other| same_channel(other, &here)) {
            let socket = here.socket.map_or_else(String::new, |socket| format!(" of socket {socket}"));
            return Pattern::Channel(format!("{channel}{socket}"));
        }
        if let Some(position) = here.position {
            if position_is_lost(position, planned, gone) {
                return Pattern::Position { position, socket: None };
            }
            let own: Vec<&Slot<'_>> =
                planned.iter().copied().filter(|slot| slot.location.socket == here.socket).collect();
            if here.socket.is_some() && position_is_lost(position, &own, gone) {
                return Pattern::Position { position, socket: here.socket };
            }
        }
        match here.position.and_then(|_| lost_tail(&here, planned, gone)) {
            Some(first) => Pattern::Tail(first.name.to_string()),
            None => Pattern::Alone,
        }
    }
}

/// What a slot's name says of the card or bank it is on: what is before its last number, where that has a number too, as in
/// `Card 1 DIMM 3`.
fn group_of(name: &str) -> Option<&str> {
    let before = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let is_numbered = before.len() < name.len() && before.bytes().any(|b| b.is_ascii_digit());
    is_numbered.then(|| before.trim_end())
}

fn same_channel(a: &Location<'_>, b: &Location<'_>) -> bool {
    a.socket == b.socket && a.channel == b.channel
}

/// Whether every slot at this position is lost, in two channels or more, and nothing before it.
fn position_is_lost(position: u16, planned: &[&Slot<'_>], gone: impl Fn(&Slot<'_>) -> bool) -> bool {
    let of = |test: fn(u16, u16) -> bool| -> Vec<&Slot<'_>> {
        let right = |slot: &&Slot<'_>| slot.location.position.is_some_and(|other| test(other, position));
        planned.iter().copied().filter(right).collect()
    };
    let (at, before) = (of(|other, here| other == here), of(|other, here| other < here));
    let behind_a_running_one =
        |slot: &Slot<'_>| before.iter().any(|other| same_channel(&other.location, &slot.location));
    at.len() > 1
        && at.iter().all(|slot| gone(slot) && behind_a_running_one(slot))
        && !before.iter().any(|slot| gone(slot))
}

/// The first slot of this channel that is lost, if those after it are lost too and some before it are there.
fn lost_tail<'s, 'a>(
    here: &Location<'_>,
    planned: &[&'s Slot<'a>],
    gone: impl Fn(&Slot<'_>) -> bool,
) -> Option<&'s Slot<'a>> {
    let own: Vec<&'s Slot<'a>> =
        planned.iter().copied().filter(|slot| same_channel(&slot.location, here)).collect();
    let first = own.iter().copied().filter(|slot| gone(slot)).min_by_key(|slot| slot.location.position)?;
    let (tail, head): (Vec<&Slot<'_>>, Vec<&Slot<'_>>) =
        own.iter().partition(|slot| slot.location.position >= first.location.position);
    (tail.len() > 1 && !head.is_empty() && tail.into_iter().all(gone)).then_some(first)
}
