//! Which found module goes to which planned slot, so that the fewest movements of hands do it.
//!
//! Places and modules that can have to do with each other form parts that are solved one by one. In each, an
//! optimal assignment has the fewest modules from the box, then the most modules that stay. What it does not
//! count are closed rings, each of which costs a movement more. So rings are merged with each other and with
//! open chains as long as that is possible; where a bound does not prove the result the best, branches that
//! forbid or keep the edges of a ring are searched, as is done for tours (Bellmore and Malone 1971). In general
//! the fewest rings are as hard to find as a tour is, so that search has a budget.

use crate::base::assignment::{Costs, assign};

/// How well a module fits a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Fit {
    /// Whether the findings say otherwise.
    pub(super) departs: bool,
    /// Demanded fields that it leaves open and others do not.
    pub(super) doubts: usize,
    /// How far it has to be carried; below 3000.
    pub(super) distance: i64,
}

/// Places to fill, and modules to fill them with.
#[derive(Debug, Default)]
pub(super) struct Puzzle {
    /// For each place, the module that is there now.
    pub(super) sitting: Vec<Option<usize>>,
    /// For each place and module, how it fits; `None` where it cannot be the one.
    pub(super) fits: Vec<Vec<Option<Fit>>>,
    /// For each place, whether the findings say that a detected module fills it.
    pub(super) filled: Vec<bool>,
    /// Number of modules.
    pub(super) modules: usize,
}

impl Puzzle {
    /// The module for each place; `None` where one must be fetched from the box.
    pub(super) fn solve(&self) -> Vec<Option<usize>> {
        let mut result = vec![None; self.sitting.len()];
        for part in self.parts() {
            for (place, module) in part.places.iter().zip(part.solve()) {
                result[*place] = module.map(|module| part.modules[module]);
            }
        }
        result
    }

    /// Splits the puzzle where nothing connects it. Modules are numbered behind the places.
    fn parts(&self) -> Vec<Part> {
        let places = self.sitting.len();
        let mut leader: Vec<usize> = (0..places + self.modules).collect();
        for place in 0..places {
            let fitting = (0..self.modules).filter(|module| self.fits[place][*module].is_some());
            for module in fitting.chain(self.sitting[place]) {
                let (a, b) = (find(&mut leader, place), find(&mut leader, places + module));
                leader[a.max(b)] = a.min(b);
            }
        }
        let mut members: Vec<(Vec<usize>, Vec<usize>)> = vec![Default::default(); places];
        for node in 0..places + self.modules {
            // The leader of a part with a place is a place.
            let at = find(&mut leader, node);
            if node < places {
                members[at].0.push(node);
            } else if at < places {
                members[at].1.push(node - places);
            }
        }
        members.retain(|(places, _)| !places.is_empty());
        members.into_iter().map(|(places, modules)| Part::new(self, places, modules)).collect()
    }
}

fn find(leader: &mut [usize], mut node: usize) -> usize {
    while leader[node] != node {
        leader[node] = leader[leader[node]];
        node = leader[node];
    }
    node
}

/// A cost that no assignment takes.
const NEVER: i64 = i64::MAX / 4;

/// In a larger part, modules alike are not chosen by doubts and distance, so that costs stay far apart.
const MOST_WEIGHED: usize = 400;

/// Open fields that count.
const MOST_DOUBTS: usize = 5;

/// Steps that the search in a part may take: cubes of its size.
const BUDGET: usize = 300_000_000;

/// A part of the puzzle, with its own numbers for places and modules.
struct Part {
    places: Vec<usize>,
    modules: Vec<usize>,
    sitting: Vec<Option<usize>>,
    /// The place in which each module sits.
    seat: Vec<Option<usize>>,
    /// Costs place by place: the modules, then the box.
    costs: Vec<Vec<i64>>,
    /// What a movement costs; all that is cheaper only decides between equals.
    movement: i64,
}

/// A filling: the module of each place.
type Filling = Vec<Option<usize>>;

/// What a branch of the search forbids and demands.
#[derive(Clone, Default)]
struct Branch {
    forbidden: Vec<(usize, usize)>,
    kept: Vec<(usize, usize)>,
    /// Rings of which every edge is kept.
    rings: i64,
}

impl Part {
    fn new(puzzle: &Puzzle, places: Vec<usize>, modules: Vec<usize>) -> Self {
        let local = |module: Option<usize>| module.and_then(|m| modules.iter().position(|own| *own == m));
        let sitting: Vec<Option<usize>> = places.iter().map(|place| local(puzzle.sitting[*place])).collect();
        let mut seat = vec![None; modules.len()];
        for (place, module) in sitting.iter().enumerate() {
            if let Some(module) = module {
                seat[*module] = Some(place);
            }
        }
        let rows = i64::try_from(places.len()).unwrap_or(i64::MAX >> 40);
        let (doubt, departure) = if places.len() <= MOST_WEIGHED {
            (3000 * rows + 1, (3000 * rows + 1) * (5 * rows + 1) + 1)
        } else {
            (0, 1)
        };
        let movement = departure * (rows + 1) + doubt * 5 * (rows + 1);
        let fetch = 2 * movement * (rows + 1);
        let costs = places
            .iter()
            .zip(&sitting)
            .map(|(place, own)| {
                let of = |local: usize, module: &usize| match puzzle.fits[*place][*module] {
                    None => NEVER,
                    Some(fit) => {
                        let departs = if fit.departs { departure } else { 0 };
                        if *own == Some(local) {
                            return departs;
                        }
                        let doubts = i64::try_from(fit.doubts.min(MOST_DOUBTS)).unwrap_or(0);
                        let far = if doubt > 0 { fit.distance.clamp(0, 2999) } else { 0 };
                        movement + departs + doubt * doubts + far
                    }
                };
                let mut row: Vec<i64> = modules.iter().enumerate().map(|(l, m)| of(l, m)).collect();
                row.push(fetch + if puzzle.filled[*place] { departure } else { 0 });
                row
            })
            .collect();
        Self { places, modules, sitting, seat, costs, movement }
    }

    fn cost(&self, place: usize, module: Option<usize>) -> i64 {
        self.costs[place][module.unwrap_or(self.modules.len())]
    }

    /// The cheapest filling of a branch, rings not counted.
    fn cheapest(&self, branch: &Branch) -> Option<(Filling, i64)> {
        let (rows, own) = (self.places.len(), self.modules.len());
        let mut allowed = vec![true; rows * own];
        for (place, module) in &branch.forbidden {
            allowed[place * own + module] = false;
        }
        let mut kept = vec![None; rows];
        for (place, module) in &branch.kept {
            kept[*place] = Some(*module);
        }
        let costs = Costs::new(rows, own + rows, |row, column| {
            let module = (column < own).then_some(column);
            let free = match (kept[row], module) {
                (Some(kept), module) => module == Some(kept),
                (None, Some(module)) => allowed[row * own + module],
                (None, None) => true,
            };
            if free { self.cost(row, module) } else { NEVER }
        });
        let filling: Filling =
            assign(&costs).into_iter().map(|column| (column < own).then_some(column)).collect();
        let mut total = 0i64;
        for (row, module) in filling.iter().enumerate() {
            let barred = match module {
                Some(module) => !allowed[row * own + module] || kept[row].is_some_and(|kept| kept != *module),
                None => kept[row].is_some(),
            };
            if barred || self.cost(row, *module) >= NEVER {
                return None;
            }
            total = total.saturating_add(self.cost(row, *module));
        }
        Some((filling, total))
    }

    fn total(&self, filling: &Filling) -> i64 {
        filling
            .iter()
            .enumerate()
            .map(|(place, module)| self.cost(place, *module))
            .fold(0, i64::saturating_add)
    }

    /// Movements, with each module from the box weighing more than all of them.
    fn movements(&self, filling: &Filling) -> i64 {
        let rings = i64::try_from(self.rings(filling).len()).unwrap_or(0);
        self.total(filling) / self.movement + rings
    }

    /// The place from which the module of a place comes, if it comes from another.
    fn before(&self, filling: &Filling, place: usize) -> Option<usize> {
        filling[place].and_then(|module| self.seat[module]).filter(|seat| *seat != place)
    }

    /// Closed rings of places, each of which gets its module from the one after it.
    fn rings(&self, filling: &Filling) -> Vec<Vec<usize>> {
        let mut seen = vec![false; filling.len()];
        let mut rings = Vec::new();
        for start in 0..filling.len() {
            let mut walk = Vec::new();
            let mut at = Some(start);
            while let Some(place) = at.filter(|place| !seen[*place]) {
                seen[place] = true;
                walk.push(place);
                at = self.before(filling, place);
            }
            // A walk that ends where it began is a ring; one that ends in an older walk is part of a chain.
            if walk.len() > 1 && at == Some(start) {
                rings.push(walk);
            }
        }
        rings
    }

    fn solve(&self) -> Filling {
        let Some((root, cost)) = self.cheapest(&Branch::default()) else {
            return vec![None; self.places.len()];
        };
        // A part without a free place, without the box and without a module left over is moved in rings.
        let closed = self.modules.len() == self.places.len()
            && self.sitting.iter().all(Option::is_some)
            && root.iter().all(Option::is_some);
        let stays = root == self.sitting;
        let least = cost / self.movement + i64::from(closed && !stays);
        let mut best = self.merged(root);
        let size = self.places.len() + self.modules.len();
        let mut budget = BUDGET / size.saturating_pow(3).max(1);
        let mut open = vec![Branch::default()];
        while let Some(branch) = open.pop() {
            if budget == 0 || self.movements(&best) <= least {
                break;
            }
            budget -= 1;
            let Some((filling, cost)) = self.cheapest(&branch) else { continue };
            if cost / self.movement + branch.rings >= self.movements(&best) {
                continue;
            }
            let merged = self.merged(filling.clone());
            if self.movements(&merged) < self.movements(&best) {
                best = merged;
            }
            self.branch(&branch, &filling, &mut open);
        }
        best
    }

    /// The branches in which a ring of `filling` misses one of its edges, and the one that keeps it.
    fn branch(&self, branch: &Branch, filling: &Filling, open: &mut Vec<Branch>) {
        let free = |ring: &Vec<usize>| -> Vec<(usize, usize)> {
            ring.iter()
                .filter_map(|place| filling[*place].map(|module| (*place, module)))
                .filter(|edge| !branch.kept.contains(edge))
                .collect()
        };
        let rings = self.rings(filling);
        let Some(edges) = rings.iter().map(free).filter(|edges| !edges.is_empty()).min_by_key(Vec::len)
        else {
            return;
        };
        let mut kept = branch.clone();
        kept.kept.extend(&edges);
        kept.rings += 1;
        open.push(kept);
        for (at, edge) in edges.iter().enumerate() {
            let mut without = branch.clone();
            without.kept.extend(&edges[..at]);
            without.forbidden.push(*edge);
            open.push(without);
        }
    }

    /// Merges each ring with another or with a chain while two modules can change their targets for that.
    fn merged(&self, mut filling: Filling) -> Filling {
        loop {
            let rings = self.rings(&filling);
            let mut best: Option<(i64, usize, Partner)> = None;
            for (number, ring) in rings.iter().enumerate() {
                for place in ring {
                    for (change, partner) in self.exchanges(&filling, &rings[..=number], *place) {
                        if best.as_ref().is_none_or(|(least, ..)| change < *least) {
                            best = Some((change, *place, partner));
                        }
                    }
                }
            }
            match best {
                Some((_, place, Partner::Place(other))) => filling.swap(place, other),
                Some((_, place, Partner::Module(module))) => filling[place] = Some(module),
                None => return filling,
            }
        }
    }

    /// What the ring that `place` belongs to, the last of `done`, can be merged with, and how much dearer that
    /// makes the filling: a later ring, a chain, or a module that nothing needs. Modules that stay are left
    /// alone.
    fn exchanges(&self, filling: &Filling, done: &[Vec<usize>], place: usize) -> Vec<(i64, Partner)> {
        let Some(own) = filling[place] else { return Vec::new() };
        let old = self.cost(place, Some(own));
        let mut result = Vec::new();
        for (other, module) in filling.iter().enumerate() {
            let stays = module.is_some() && *module == self.sitting[other];
            let (mine, its) = (self.cost(place, *module), self.cost(other, Some(own)));
            if !stays && mine < NEVER && its < NEVER && !done.iter().any(|ring| ring.contains(&other)) {
                result.push((mine + its - old - self.cost(other, *module), Partner::Place(other)));
            }
        }
        for module in (0..self.modules.len()).filter(|module| !filling.contains(&Some(*module))) {
            let cost = self.cost(place, Some(module));
            if cost < NEVER {
                result.push((cost - old, Partner::Module(module)));
            }
        }
        result
    }
}

/// What takes part in a merger.
#[derive(Clone, Copy)]
enum Partner {
    /// The module of this place is replaced.
    Place(usize),
    /// This module, which nothing needs, comes instead.
    Module(usize),
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIT: Option<Fit> = Some(Fit { departs: false, doubts: 0, distance: 0 });

    fn puzzle(sitting: &[Option<usize>], fits: &[&[usize]], modules: usize) -> Puzzle {
        Puzzle {
            sitting: sitting.to_vec(),
            fits: fits
                .iter()
                .map(|own| (0..modules).map(|module| FIT.filter(|_| own.contains(&module))).collect())
                .collect(),
            filled: vec![true; sitting.len()],
            modules,
        }
    }

    fn rings(puzzle: &Puzzle) -> usize {
        count_rings(puzzle, &puzzle.solve())
    }

    fn count_rings(puzzle: &Puzzle, filling: &[Option<usize>]) -> usize {
        let seats: Vec<Option<usize>> = filling
            .iter()
            .map(|module| puzzle.sitting.iter().position(|s| s.is_some() && s == module))
            .collect();
        let (mut rings, mut seen) = (0, vec![false; seats.len()]);
        for start in 0..seats.len() {
            let mut at = start;
            while !seen[at] {
                seen[at] = true;
                match seats[at] {
                    Some(next) if next != at => at = next,
                    _ => break,
                }
                if at == start {
                    rings += 1;
                }
            }
        }
        rings
    }

    #[test]
    fn two_swaps_of_equal_modules_are_one_ring() {
        let two = puzzle(&[Some(0), Some(1), Some(2), Some(3)], &[&[1, 3], &[0, 2], &[1, 3], &[0, 2]], 4);
        assert_eq!(rings(&two), 1);
    }

    /// Swaps of unlike modules that only a module that is right can connect: with three it moves too, which
    /// saves a movement; with two nothing is saved.
    #[test]
    fn a_module_that_is_right_moves_only_where_that_saves_movements() {
        let two = puzzle(
            &[Some(0), Some(1), Some(2), Some(3), Some(4)],
            &[&[1, 3], &[0], &[3, 4], &[2], &[4, 1]],
            5,
        );
        assert_eq!((two.solve()[4], rings(&two)), (Some(4), 2));
        let three = puzzle(
            &[Some(0), Some(1), Some(2), Some(3), Some(4), Some(5), Some(6)],
            &[&[1, 5], &[0], &[3, 6], &[2], &[5, 3], &[4], &[6, 1]],
            7,
        );
        assert_eq!((three.solve()[6], rings(&three)), (Some(1), 1));
    }

    /// Fewest from the box, then fewest movements, over every filling.
    fn fewest(puzzle: &Puzzle, filling: &mut Vec<Option<usize>>, best: &mut (usize, usize)) {
        let place = filling.len();
        if place == puzzle.sitting.len() {
            let result = weigh(puzzle, filling);
            *best = (*best).min(result);
            return;
        }
        for module in (0..puzzle.modules).map(Some).chain([None]) {
            let fits = module.is_none_or(|module| puzzle.fits[place][module].is_some());
            if fits && (module.is_none() || !filling.contains(&module)) {
                filling.push(module);
                fewest(puzzle, filling, best);
                filling.pop();
            }
        }
    }

    fn weigh(puzzle: &Puzzle, filling: &[Option<usize>]) -> (usize, usize) {
        let fetched = filling.iter().filter(|module| module.is_none()).count();
        let stay =
            filling.iter().zip(&puzzle.sitting).filter(|(now, was)| now.is_some() && now == was).count();
        (fetched, puzzle.modules - stay + fetched + count_rings(puzzle, filling))
    }

    /// Any module may fit any place or not, with no kinds behind it, so that merging alone is not enough.
    #[test]
    fn no_filling_takes_fewer_movements() {
        let mut state = 7u64;
        let mut below = |limit: u64| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            usize::try_from((state >> 11) % limit).unwrap()
        };
        let (mut cases, mut ringed) = (0, 0);
        for _ in 0..4000 {
            let places = 2 + below(5);
            let (modules, density) = (places + below(2) - below(2), 15 + below(50));
            let mut sitting: Vec<Option<usize>> =
                (0..places).map(|at| Some(at).filter(|at| *at < modules)).collect();
            sitting.rotate_left(below(2));
            let mut fits: Vec<Vec<usize>> =
                (0..places).map(|_| (0..modules).filter(|_| below(100) < density).collect()).collect();
            // Half of them can be filled without the box, in rings.
            if below(2) == 0 {
                let shift = 1 + below(3);
                for (place, own) in fits.iter_mut().enumerate() {
                    own.push((place ^ shift) % modules.max(1));
                }
            }
            let fits: Vec<&[usize]> = fits.iter().map(Vec::as_slice).collect();
            let puzzle = puzzle(&sitting, &fits, modules);
            let mut best = (usize::MAX, usize::MAX);
            fewest(&puzzle, &mut Vec::new(), &mut best);
            let filling = puzzle.solve();
            assert_eq!(weigh(&puzzle, &filling), best, "{puzzle:?}");
            cases += 1;
            ringed += usize::from(count_rings(&puzzle, &filling) > 0);
        }
        assert!(cases == 4000 && ringed > 400, "{ringed} with rings");
    }

    /// A hundred swaps of equal modules: large, and still one ring.
    #[test]
    fn large_boards_are_done_at_once() {
        let count = 200;
        let sitting: Vec<Option<usize>> = (0..count).map(Some).collect();
        let even: Vec<usize> = (0..count).step_by(2).collect();
        let odd: Vec<usize> = (1..count).step_by(2).collect();
        let fits: Vec<&[usize]> =
            (0..count).map(|place| if place % 2 == 0 { odd.as_slice() } else { even.as_slice() }).collect();
        assert_eq!(rings(&puzzle(&sitting, &fits, count)), 1);
    }
}
