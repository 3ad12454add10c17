//! Without a plan: which slots most likely hold the modules that are not detected.
//!
//! People fill boards evenly and alike. Of all ways to add what is missing, the ones that make the population
//! most even and most alike from channel to channel are the most plausible, and the slots they fill are the
//! suspects (common practice, no source). Where several ways are equally good, all are named.

use super::claim::{Counted, FittedClaim};
use crate::board::{Board, ChannelLoad, Fitting, Load, RuleKind, check};
use crate::plan::agreement::could_be;
use crate::plan::{self, Demand, Expectation, ModuleSpec, Plan, PlannedSlot, from_population};
use crate::population::{Population, Slot, SlotState, Tier};
use crate::records::Listing;
use crate::units::Bytes;

/// The most plausible slots of the missing modules.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspicion {
    /// Modules whose slots are looked for: stated to be fitted, not detected, and no other one in their place.
    pub missing: Vec<ModuleSpec>,
    /// Equally plausible sets of slots, each as large as `missing` but for those in whose place another module is.
    pub ways: Vec<Vec<String>>,
    /// The slots of the first way with the module of each.
    pub first: Vec<(String, ModuleSpec)>,
    /// Whether more ways would have been equally plausible than are named, or not all could be tried.
    pub open: bool,
}

impl Suspicion {
    /// All slots of all ways, each once.
    pub fn slots(&self) -> Vec<String> {
        let mut slots: Vec<String> = Vec::new();
        for slot in self.ways.iter().flatten() {
            if !slots.contains(slot) {
                slots.push(slot.clone());
            }
        }
        slots
    }
}

/// More ways than this are not tried one by one.
const MOST_WAYS: usize = 20_000;

/// More equally plausible ways than this are not named.
const MOST_NAMED: usize = 24;

/// The part of what someone says was fitted that is not looked for in main memory: modules of other tiers, and what a
/// label promises beyond what a persistent module gives.
pub(super) fn beyond_main(claim: &FittedClaim, population: &Population<'_>) -> Bytes {
    match claim {
        FittedClaim::Modules(modules) => {
            let beyond =
                Counted::of(modules, population).found.into_iter().filter_map(|(slot, module, kind)| {
                    let size = modules.get(kind?)?.1.size.unwrap_or_default();
                    Some(Bytes(size.0.saturating_sub(population.part_of(slot, module, Tier::Main).0)))
                });
            beyond.sum()
        }
        FittedClaim::Total(total) => {
            let totals = population.totals;
            let others = [totals.hbm, totals.cxl, totals.persistent, totals.cache()];
            let main = totals.main_at_least();
            // Whoever stated the whole sum meant it so.
            let all: Bytes = others.into_iter().chain([main]).sum();
            let meant = |beyond: &Bytes| beyond.0 > 0 && [main, *beyond].into_iter().sum::<Bytes>() == *total;
            let whole = [Bytes(all.0 - main.0), Bytes(totals.detected_at_least.0.saturating_sub(main.0))];
            whole.into_iter().chain(others).find(meant).unwrap_or_default()
        }
    }
}

/// What is missing of `claim`: the modules of each kind beyond those detected, or as many modules like the
/// commonest detected one as the total is short of.
pub fn missing(claim: &FittedClaim, population: &Population<'_>, listing: &Listing<'_>) -> Vec<ModuleSpec> {
    match claim {
        FittedClaim::Modules(modules) => Counted::of(modules, population).missing,
        FittedClaim::Total(total) => {
            let main = population.totals.main_at_least().0;
            let shortfall = total.0.saturating_sub(main).saturating_sub(beyond_main(claim, population).0);
            let plan = from_population(listing, population, true).plan;
            let mut kinds: Vec<(usize, &ModuleSpec)> = Vec::new();
            let is_dimm = |name: &str| population.slot(name).is_some_and(|(_, slot)| slot.takes_dimms());
            for (_, wanted) in plan.modules().filter(|(planned, _)| is_dimm(&planned.slot)) {
                match kinds.iter_mut().find(|(_, other)| *other == wanted) {
                    Some((count, _)) => *count += 1,
                    None => kinds.push((1, wanted)),
                }
            }
            kinds.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
            let fits = |wanted: &&ModuleSpec| {
                wanted
                    .size
                    .is_some_and(|size| size.0 > 0 && shortfall > 0 && shortfall.is_multiple_of(size.0))
            };
            let like = kinds.into_iter().map(|(_, wanted)| wanted).find(fits);
            like.map_or_else(Vec::new, |wanted| {
                let count = wanted.size.map_or(0, |size| shortfall / size.0);
                vec![wanted.clone(); usize::try_from(count).unwrap_or(0)]
            })
        }
    }
}

/// How plausible a fitting is; smaller is more plausible.
type Plausibility = (usize, u128, u128, usize, usize, usize);

/// The most plausible slots for `missing` on `board`, whose slots are the population's.
pub fn suspects(board: &Board, population: &Population<'_>, missing: Vec<ModuleSpec>) -> Suspicion {
    suspects_beside(board, population, missing, &[], Vec::new())
}

/// The same where modules in the slots `others` may stand in the place of missing ones: what is even without them shows
/// which do; a slot with a module is no suspect. Something else names the slots `named`, in which there is one.
pub(super) fn suspects_beside(
    board: &Board,
    population: &Population<'_>,
    missing: Vec<ModuleSpec>,
    others: &[String],
    named: Vec<String>,
) -> Suspicion {
    let mut idle: Vec<String> = idle_slots(population);
    idle.extend(named.into_iter().filter(|slot| !idle.contains(slot)).collect::<Vec<_>>());
    let is_other = |name: &str| others.iter().any(|other| other == name);
    let may_hold =
        |name: &str| is_other(name) || population.slot(name).is_some_and(|(_, slot)| slot.module().is_none());
    let resting = |name: &str| population.slot(name).and_then(|(_, slot)| slot.fitted()).map(Load::from);
    let empty: Vec<Candidate> = board
        .slots()
        .filter(|name| may_hold(name) && !idle.iter().any(|own| own == name))
        .map(|name| Candidate { slot: name.to_owned(), resting: resting(name) })
        .collect();
    // A module that firmware names without using it, or that has answered, is one of the missing, and its slot is known.
    let known: Vec<String> = idle.into_iter().take(missing.len()).collect();
    let open_count = missing.len() - known.len();
    if open_count == 0 || empty.len() < open_count {
        let first = known.iter().cloned().zip(missing.iter().cloned()).collect();
        let ways = if known.is_empty() { Vec::new() } else { vec![known] };
        return Suspicion { open: open_count > 0, ways, first, missing };
    }
    let mut fitting = Fitting::of_population(board, population);
    let loads: Vec<Load> = missing.iter().map(Load::from).collect();
    for (slot, load) in known.iter().zip(&loads) {
        set(&mut fitting, slot, Some(*load));
    }
    let loads = &loads[known.len()..];
    let (chosen, mut open) = if count_ways(empty.len(), open_count) <= MOST_WAYS {
        every_way(board, &mut fitting, &empty, loads)
    } else {
        (vec![one_by_one(board, &mut fitting, &empty, loads)], true)
    };
    open |= chosen.len() > MOST_NAMED;
    let whole: Vec<Vec<String>> =
        chosen.into_iter().take(MOST_NAMED).map(|way| known.iter().cloned().chain(way).collect()).collect();
    let first = whole.first().map(|way| way.iter().cloned().zip(missing.iter().cloned()));
    let first = first.into_iter().flatten().filter(|(slot, _)| !is_other(slot)).collect();
    let mut ways: Vec<Vec<String>> = Vec::new();
    for way in whole {
        let way: Vec<String> = way.into_iter().filter(|slot| !is_other(slot)).collect();
        if !way.is_empty() && !ways.contains(&way) {
            ways.push(way);
        }
    }
    Suspicion { missing, ways, first, open }
}

/// A slot that may hold a missing module, and what it holds if it does not.
struct Candidate {
    slot: String,
    resting: Option<Load>,
}

/// Slots whose modules firmware names without using them, or in which something has answered.
pub(super) fn idle_slots(population: &Population<'_>) -> Vec<String> {
    let idle = population.slots.iter().filter(|slot| matches!(slot.state, SlotState::NotRunning(_)));
    let answered = |slot: &&Slot<'_>| slot.trace.as_ref().is_some_and(|trace| trace.compared);
    idle.chain(population.slots.iter().filter(answered)).map(|slot| slot.name.to_string()).collect()
}

fn count_ways(slots: usize, modules: usize) -> usize {
    (0..modules).fold(1usize, |ways, n| ways.saturating_mul(slots - n) / (n + 1))
}

fn set(fitting: &mut Fitting, slot: &str, load: Option<Load>) {
    let slots = fitting.channels.iter_mut().flat_map(|channel| &mut channel.slots);
    for (name, content) in slots {
        if name == slot {
            *content = load;
        }
    }
}

/// Tries all sets of slots; returns all best ones.
fn every_way(
    board: &Board,
    fitting: &mut Fitting,
    empty: &[Candidate],
    loads: &[Load],
) -> (Vec<Vec<String>>, bool) {
    let mut best: Option<Plausibility> = None;
    let mut ways: Vec<Vec<String>> = Vec::new();
    let mut chosen: Vec<usize> = (0..loads.len()).collect();
    loop {
        for (at, load) in chosen.iter().zip(loads) {
            set(fitting, &empty[*at].slot, Some(*load));
        }
        let plausibility = plausibility(board, fitting);
        if best.is_none_or(|best| plausibility < best) {
            best = Some(plausibility);
            ways.clear();
        }
        if best == Some(plausibility) {
            ways.push(chosen.iter().map(|at| empty[*at].slot.clone()).collect());
        }
        for at in &chosen {
            set(fitting, &empty[*at].slot, empty[*at].resting);
        }
        let Some(place) = (0..chosen.len()).rev().find(|p| chosen[*p] < empty.len() - chosen.len() + p)
        else {
            return (ways, false);
        };
        chosen[place] += 1;
        for next in place + 1..chosen.len() {
            chosen[next] = chosen[next - 1] + 1;
        }
    }
}

/// Adds the modules one after the other, each where it fits best.
fn one_by_one(board: &Board, fitting: &mut Fitting, empty: &[Candidate], loads: &[Load]) -> Vec<String> {
    let mut way = Vec::new();
    for load in loads {
        let free = empty.iter().filter(|candidate| !way.contains(&candidate.slot));
        let best = free
            .min_by_key(|candidate| {
                set(fitting, &candidate.slot, Some(*load));
                let plausibility = plausibility(board, fitting);
                set(fitting, &candidate.slot, candidate.resting);
                plausibility
            })
            .map(|candidate| candidate.slot.clone());
        if let Some(slot) = best {
            set(fitting, &slot, Some(*load));
            way.push(slot);
        }
    }
    way
}

/// Broken rules; how unequal the sockets in use are, then the channels in use; in how many ways channels, then
/// sockets are filled; how many channels are filled out of order.
fn plausibility(board: &Board, fitting: &Fitting) -> Plausibility {
    let size = |loads: &mut dyn Iterator<Item = &Load>| -> u128 {
        loads.filter_map(|load| load.size).map(|size| u128::from(size.0 / Bytes::MIB)).sum()
    };
    let faults = check(board, fitting)
        .iter()
        .filter(|violation| violation.fault && violation.kind != RuleKind::SlotOrder)
        .count();
    let used: Vec<&ChannelLoad> = fitting.channels.iter().filter(|channel| channel.count() > 0).collect();
    let sockets = fitting.sockets();
    let of_socket =
        |number: &u16| size(&mut used.iter().filter(|c| c.socket == *number).flat_map(|c| c.loads()));
    let socket_sizes: Vec<u128> = sockets.iter().map(of_socket).collect();
    let channel_sizes: Vec<u128> = used.iter().map(|channel| size(&mut channel.loads())).collect();
    // Sizes distinguish fillings; what else is known of a module differs between what is stated and what is detected.
    let filling = |channel: &ChannelLoad| -> Vec<Option<Option<Bytes>>> {
        channel.slots.iter().map(|(_, load)| load.map(|load| load.size)).collect()
    };
    let channels = distinct(used.iter().map(|channel| filling(channel)).collect());
    let of_socket = |number: &u16| -> Vec<Vec<Option<Option<Bytes>>>> {
        fitting.channels.iter().filter(|channel| channel.socket == *number).map(filling).collect()
    };
    let patterns = distinct(sockets.iter().map(of_socket).collect());
    let gaps = fitting.channels.iter().filter(|channel| {
        let filled: Vec<bool> = channel.slots.iter().map(|(_, load)| load.is_some()).collect();
        filled.windows(2).any(|pair| !pair[0] && pair[1])
    });
    (faults, spread(&socket_sizes), spread(&channel_sizes), channels, patterns, gaps.count())
}

fn distinct<T: Ord>(mut all: Vec<T>) -> usize {
    all.sort_unstable();
    all.dedup();
    all.len()
}

/// How far sizes lie apart: their variance.
fn spread(sizes: &[u128]) -> u128 {
    let count = sizes.len().max(1) as u128;
    let sum: u128 = sizes.iter().sum();
    let squares: u128 = sizes.iter().map(|size| size * size).sum();
    (count * squares - sum * sum) / (count * count)
}

/// The plan that stands in where there is an earlier listing: what was in use then.
pub(super) fn earlier_plan(listing: &Listing<'_>, population: &Population<'_>) -> Plan {
    let plan = assumed_plan(listing, population, None);
    Plan { name: Some("what the earlier listing has".to_owned()), ..plan }
}

/// The plan that stands in where there is none: what is detected, and the missing modules in the first of the
/// plausible ways. Modules that do not run are not accepted.
pub fn assumed_plan(
    listing: &Listing<'_>,
    population: &Population<'_>,
    suspicion: Option<&Suspicion>,
) -> Plan {
    let mut plan = from_population(listing, population, false).plan;
    plan.name = Some("what is detected, and what should be".to_owned());
    plan.slots.retain(|planned| planned.demand != Demand::Idle);
    // Speed, total and correction are as they are; only modules are looked for.
    plan.expect = Expectation { ecc: plan.expect.ecc, ..Expectation::default() };
    let Some(suspicion) = suspicion else { return plan };
    for (slot, wanted) in &suspicion.first {
        // What was stated names no slot. A module other than the assumed one is no reason to replace it.
        let demand = match population.slot(slot).map(|(_, slot)| &slot.state) {
            Some(SlotState::NotRunning(module)) if !could_be(wanted, module) => plan::wanted(module, true),
            _ => wanted.clone(),
        };
        let demand = Demand::Module(demand);
        match plan.slots.iter_mut().find(|planned| planned.slot == *slot) {
            Some(planned) => planned.demand = demand,
            None => plan.slots.push(PlannedSlot { slot: slot.clone(), line: None, demand }),
        }
    }
    plan
}
