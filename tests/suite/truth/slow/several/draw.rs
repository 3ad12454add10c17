//! Which faults are put together: drawn by a rule that is the same in every run and varies from listing to listing.

use std::collections::BTreeSet;

use asfitted::audit::FindingKind;
use asfitted::population::Slot;
use asfitted::units::TransferRate;

use crate::util::faults::{Change, Content, Expected, FIELDS, Machine, numbers};
use crate::util::random::Random;

/// How often a combination is drawn again that cannot be made or whose reading is not clear.
const DRAWS: usize = 60;

/// What a loss of several modules has in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pattern {
    Channel,
    Socket,
    SecondSlotsOfOneSocket,
    SecondSlots,
}

impl Pattern {
    pub const ALL: [Self; 4] = [Self::Channel, Self::Socket, Self::SecondSlotsOfOneSocket, Self::SecondSlots];

    pub fn name(self) -> &'static str {
        match self {
            Self::Channel => "a channel",
            Self::Socket => "a socket",
            Self::SecondSlotsOfOneSocket => "second slots of a socket",
            Self::SecondSlots => "all second slots",
        }
    }
}

/// Faults that are made at once.
pub struct Combination {
    pub changes: Vec<Change>,
    /// The pattern among them, with its slots.
    pub pattern: Option<(Pattern, Vec<String>)>,
    /// What must be found, by each reading of equal work.
    pub readings: Vec<Vec<Expected>>,
}

/// Modules that are lost as one, if all of them are: of a socket, of a channel, of one position on a socket or on all.
fn groups(machine: &Machine<'_, '_>) -> Vec<Vec<usize>> {
    let mut result = BTreeSet::new();
    for slot in &machine.fitted {
        let here = machine.at(*slot);
        if here.socket.is_some() {
            result.insert(machine.socket_of(*slot));
            result.insert(machine.fitted_at(|l| l.socket == here.socket && l.position == here.position));
        }
        result.insert(machine.channel_of(*slot));
        result.insert(machine.fitted_at(|l| here.position.is_some() && l.position == here.position));
    }
    let several = |group: &Vec<usize>| group.len() > 1 && group.len() < machine.fitted.len();
    result.into_iter().filter(several).collect()
}

fn are_lost(group: &[usize], lost: &[String], machine: &Machine<'_, '_>) -> bool {
    group.iter().all(|slot| lost.contains(&machine.name(*slot)))
}

/// The slots that a reading says are missing.
fn lost(reading: &[Expected]) -> Vec<String> {
    let missing = reading.iter().filter(|expected| expected.kind == FindingKind::Missing);
    missing.flat_map(|expected| expected.slots.clone()).collect()
}

pub struct Draw<'d, 'm, 'a> {
    pub machine: &'d Machine<'m, 'a>,
    pub random: Random,
}

impl Draw<'_, '_, '_> {
    /// Whether a persistent module stands beside others that are set up for something else: put into one's slot it would
    /// be the planned module, and leave the other total short.
    fn has_twins_of_other_use(&self, slot: usize) -> bool {
        let own = &self.machine.population.slots[slot];
        let persistent = |slot: &Slot<'_>| slot.fitted().is_some_and(|module| module.persistent);
        let others = &self.machine.population.slots;
        persistent(own) && others.iter().any(|other| persistent(other) && other.tier != own.tier)
    }

    /// One fault of any kind, away from those that are there.
    fn change(&mut self, others: &[Change]) -> Option<Change> {
        let machine = self.machine;
        let slot = self.random.one_of(&machine.fitted)?;
        let free: Vec<usize> =
            machine.empty.iter().copied().filter(|slot| !machine.is_nameless(*slot)).collect();
        let to = self.random.one_of(&free);
        let change = match self.random.below(10) {
            0 => Some(Change::Removed { slot, like: self.random.one_of(&machine.empty) }),
            1 => Some(Change::Removed { slot, like: None }),
            2 => to.map(|to| Change::Moved { from: slot, to }),
            3 => to.filter(|_| !self.has_twins_of_other_use(slot)).map(|to| Change::Added { from: slot, to }),
            4 => machine.swap(self.random.below(machine.fitted.len())),
            5 | 6 => machine.other_field(self.random.below(FIELDS.len()), slot),
            7 => machine.half_seated(slot),
            8 => machine.slowed(),
            _ => {
                let listed = self.random.percent(50);
                machine.at(slot).socket.and_then(|socket| machine.no_processor(socket, listed))
            }
        }?;
        // A speed is lowered once, and a socket cannot lose what it has no processor for.
        let twice = others.iter().any(|other| {
            let same = other.family() == change.family();
            same && (change.is_everywhere() || matches!(change, Change::NoProcessor { .. }))
        });
        let apart =
            !others.iter().any(|other| other.slots().iter().any(|slot| change.slots().contains(slot)));
        (apart && !twice).then_some(change)
    }

    /// Whether the text could be that of a machine: without any module none starts, and a speed of half the rated one is
    /// taken for the clock in MHz that older firmware prints in its place.
    fn is_a_machine(&self, changes: &[Change]) -> bool {
        let contents = self.machine.contents(changes);
        let rated = changes.iter().filter_map(|change| match change {
            Change::Field { now, .. } => now.rated,
            _ => None,
        });
        let slowed = changes.iter().find_map(|change| match change {
            Change::Slowed { to, .. } => Some(*to),
            _ => None,
        });
        let half = |rated: TransferRate| slowed.is_some_and(|slowed| slowed * 2 <= rated.0 + 2);
        contents.iter().any(|content| matches!(content, Content::Module(_))) && !rated.into_iter().any(half)
    }

    /// So many faults of different slots.
    pub fn several(&mut self, count: usize) -> Option<Combination> {
        for _ in 0..DRAWS {
            let mut changes: Vec<Change> = Vec::new();
            for _ in 0..DRAWS {
                if changes.len() < count {
                    changes.extend(self.change(&changes));
                }
            }
            if changes.len() < count {
                return None;
            }
            if !self.is_a_machine(&changes) {
                continue;
            }
            if let Some(readings) = self.readings_of_singles(&changes) {
                return Some(Combination { changes, pattern: None, readings });
            }
        }
        None
    }

    /// What must be found, if the faults stay single ones: where two of them empty a channel, or all of any other group,
    /// they are read as that group's.
    fn readings_of_singles(&self, changes: &[Change]) -> Option<Vec<Vec<Expected>>> {
        let machine = self.machine;
        let readings = machine.readings(changes)?;
        let groups = groups(machine);
        let single = |reading: &Vec<Expected>| {
            let lost = lost(reading);
            let of_channel = |name: &String| {
                let (slot, _) = machine.population.slot(name).unwrap();
                let channel = machine.channel_of(slot);
                channel.iter().filter(|slot| lost.contains(&machine.name(**slot))).count() < 2
            };
            lost.iter().all(of_channel) && !groups.iter().any(|group| are_lost(group, &lost, machine))
        };
        readings.iter().all(single).then_some(readings)
    }

    /// A pattern by itself.
    pub fn pattern(&mut self, pattern: Pattern) -> Option<Combination> {
        let slots = self.slots_of(pattern)?;
        let like = self.random.one_of(&self.machine.empty).filter(|like| self.keeps_places(*like, &slots));
        let changes: Vec<Change> = slots.iter().map(|slot| Change::Removed { slot: *slot, like }).collect();
        let readings = self.machine.readings(&changes)?;
        // A socket that the listing calls unpopulated although it shows modules there is another case.
        let all_missing = readings.iter().all(|reading| lost(reading).len() == slots.len());
        let names = slots.iter().map(|slot| self.machine.name(*slot)).collect();
        all_missing.then_some(Combination { changes, pattern: Some((pattern, names)), readings })
    }

    /// Whether `slots`, printed as this empty one, still have their places: by their labels or, where the label goes too, by
    /// the names that the plan has, as far as the slots that are left prove what in such names is the socket. Some
    /// firmware leaves out one of two labels, and with it the socket: what is lost there is not seen to be one socket's.
    fn keeps_places(&self, like: usize, slots: &[usize]) -> bool {
        let machine = self.machine;
        if !machine.is_nameless(like) {
            return machine.at(like).socket.is_some();
        }
        let says = |slot: &usize, at: usize| {
            numbers(&machine.name(*slot)).get(at).copied() == machine.at(*slot).socket
        };
        let left = || machine.fitted.iter().filter(|slot| !slots.contains(slot));
        let proven: Vec<usize> = (0..4).filter(|at| left().all(|slot| says(slot, *at))).collect();
        matches!(proven.as_slice(), [at] if machine.fitted.iter().all(|slot| says(slot, *at)))
    }

    /// The pattern with one more fault elsewhere.
    pub fn with_one_more(&mut self, base: &Combination) -> Option<Combination> {
        let (pattern, names) = base.pattern.clone()?;
        for _ in 0..DRAWS {
            let mut changes = base.changes.clone();
            // A processor that is not there leaves nothing of the pattern, or all of another socket.
            let single = self.change(&changes).filter(|c| !matches!(c, Change::NoProcessor { .. }));
            changes.extend(single);
            if changes.len() == base.changes.len() {
                continue;
            }
            if !self.is_a_machine(&changes) {
                continue;
            }
            let Some(readings) = self.machine.readings(&changes) else { continue };
            if readings.iter().all(|reading| self.is_the_pattern_and_one(pattern, &names, reading)) {
                return Some(Combination { changes, pattern: Some((pattern, names)), readings });
            }
        }
        None
    }

    /// Whether the pattern is still the reading with the fewest causes.
    ///
    /// A module that is moved, or one more, is taken for one of those that are gone if it is like them: then the pattern
    /// is not whole. One that is gone besides may complete another group. It may not, but for the first module of a
    /// channel whose second one is gone with all second ones: that is two causes, while the channel and each of the
    /// other second slots by itself would be more, if there are two others at least. Of two second slots that are gone one
    /// alone is behind a module that runs then, and that is no row.
    fn is_the_pattern_and_one(&self, pattern: Pattern, names: &[String], reading: &[Expected]) -> bool {
        let machine = self.machine;
        let lost = lost(reading);
        if !names.iter().all(|name| lost.contains(name)) || lost.len() == machine.fitted.len() {
            return false;
        }
        let rows = matches!(pattern, Pattern::SecondSlots | Pattern::SecondSlotsOfOneSocket);
        let shares_channel = |name: &String| {
            let slot = machine.population.slot(name).unwrap().0;
            machine.channel_of(slot).iter().any(|slot| names.contains(&machine.name(*slot)))
        };
        if rows && names.len() < 3 && lost.iter().any(|name| !names.contains(name) && shares_channel(name)) {
            return false;
        }
        groups(machine).iter().all(|group| {
            let new = !are_lost(group, names, machine) && are_lost(group, &lost, machine);
            let channel = group.first().is_some_and(|slot| machine.channel_of(*slot) == *group);
            !new || (rows && channel && group.len() == 2)
        })
    }

    fn slots_of(&mut self, pattern: Pattern) -> Option<Vec<usize>> {
        let machine = self.machine;
        let slot = self.random.one_of(&machine.fitted)?;
        let slots = match pattern {
            Pattern::Channel => {
                let of_two = |slot: &usize| {
                    let channel = machine.channel_of(*slot).len();
                    channel > 1 && channel < machine.socket_of(*slot).len()
                };
                let any: Vec<usize> = machine.fitted.iter().copied().filter(of_two).collect();
                machine.channel_of(self.random.one_of(&any)?)
            }
            Pattern::Socket => machine.socket_of(slot),
            Pattern::SecondSlots => self.second_slots(None)?,
            Pattern::SecondSlotsOfOneSocket => {
                let slots = self.second_slots(Some(slot))?;
                // One socket of several that have such slots.
                (slots.len() < self.second_slots(None)?.len()).then_some(slots)?
            }
        };
        (slots.len() > 1 && slots.len() < machine.fitted.len()).then_some(slots)
    }

    /// The modules in the second slots of their channels, of the socket of one slot or of all; `None` where one of them
    /// has none before it.
    fn second_slots(&self, of: Option<usize>) -> Option<Vec<usize>> {
        let machine = self.machine;
        let positions: BTreeSet<u16> =
            machine.population.slots.iter().filter_map(|slot| slot.location.position).collect();
        let second = *positions.iter().nth(1)?;
        let socket = of.map(|slot| machine.at(slot).socket);
        let slots =
            machine.fitted_at(|l| l.position == Some(second) && socket.is_none_or(|own| l.socket == own));
        let behind_one = |slot: &usize| {
            let before = |other: &usize| machine.at(*other).position < Some(second);
            machine.channel_of(*slot).iter().any(before)
        };
        slots.iter().all(behind_one).then_some(slots)
    }
}
