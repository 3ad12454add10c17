//! Searches that try everything.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use super::case::Case;

/// Fewest modules from the box, then fewest movements, over every way to give modules slots.
pub fn fewest(case: &Case) -> (usize, usize) {
    let mut search = Search {
        places: case.places(),
        fits: case.modules().iter().map(|at| case.fitting(*at)).collect(),
        modules: case.modules(),
        target: HashMap::new(),
        best: (usize::MAX, usize::MAX),
    };
    search.step(0, 0);
    search.best
}

/// Every way to give each module a slot, or to take it out.
struct Search {
    places: Vec<usize>,
    modules: Vec<usize>,
    fits: Vec<Vec<usize>>,
    /// Module of each place, by slots.
    target: HashMap<usize, usize>,
    best: (usize, usize),
}

impl Search {
    fn step(&mut self, module: usize, moved: usize) {
        let left = self.modules.len() - module;
        let least = self.places.len().saturating_sub(self.target.len() + left);
        if (least, least + moved) >= self.best {
            return;
        }
        if left == 0 {
            let fetched = self.places.len() - self.target.len();
            self.best = self.best.min((fetched, fetched + moved + self.rings()));
            return;
        }
        let at = self.modules[module];
        for slot in self.fits[module].clone() {
            if self.target.contains_key(&slot) {
                continue;
            }
            self.target.insert(slot, at);
            self.step(module + 1, moved + usize::from(slot != at));
            self.target.remove(&slot);
        }
        self.step(module + 1, moved + 1);
    }

    fn rings(&self) -> usize {
        let mut seen = Vec::new();
        let mut rings = 0;
        for start in self.target.keys() {
            let (mut at, mut length) = (*start, 0);
            while !seen.contains(&at) {
                seen.push(at);
                length += 1;
                let Some(from) = self.target.get(&at) else { break };
                at = *from;
                if at == *start {
                    rings += usize::from(length > 1);
                }
            }
        }
        rings
    }
}

const MAT: usize = usize::MAX;
const BOX: usize = usize::MAX - 1;

/// Fewest modules from the box, then fewest movements, over states of a board: each edge takes one module from
/// where it is (slot, mat, box) to a free slot or the mat.
pub fn fewest_on_the_board(case: &Case) -> (usize, usize) {
    let (modules, places) = (case.modules(), case.places());
    let rest = case.at_rest();
    // Modules at hand, then one in the box for each planned slot.
    let start: Vec<usize> = modules.iter().copied().chain(places.iter().map(|_| BOX)).collect();
    let done = |state: &[usize]| {
        let held = |slot: usize| state.iter().position(|at| *at == slot);
        let filled = places.iter().enumerate().all(|(number, slot)| match held(*slot) {
            Some(own) if own < modules.len() => case.can_be(modules[own], *slot),
            Some(boxed) => boxed - modules.len() == number,
            None => false,
        });
        filled && state[..modules.len()].iter().all(|at| *at == MAT || places.contains(at))
    };
    let mut known: HashMap<Vec<usize>, (usize, usize)> = HashMap::from([(start.clone(), (0, 0))]);
    let mut open = BinaryHeap::from([Reverse(((0, 0), start))]);
    while let Some(Reverse((cost, state))) = open.pop() {
        if known[&state] < cost {
            continue;
        }
        if done(&state) {
            return cost;
        }
        for module in 0..state.len() {
            let free = (0..case.found.len()).filter(|slot| !state.contains(slot) && !rest.contains(slot));
            let own = (module >= modules.len()).then(|| places[module - modules.len()]);
            // A module from the box goes to the slot it is meant for.
            for to in free.chain([MAT]).filter(|to| own.is_none_or(|own| own == *to)) {
                if to == state[module] {
                    continue;
                }
                let mut next = state.clone();
                next[module] = to;
                let cost = (cost.0 + usize::from(state[module] == BOX), cost.1 + 1);
                if known.get(&next).is_none_or(|old| cost < *old) {
                    known.insert(next.clone(), cost);
                    open.push(Reverse((cost, next)));
                }
            }
        }
    }
    panic!("no way leads to the plan: {case:?}");
}
