//! The fewest hand movements that turn what is fitted into what is planned, as steps in the order in which to
//! do them.
//!
//! A *hand movement* takes one module from where it is to another place. Places are the slots, the mat beside
//! the board, and the box with modules that are not fitted. So moving a module to an empty slot, taking one out
//! for good, and fitting one from the box are one movement each; replacing a wrong module with one from the box is
//! two. In a ring of modules each of which must go where the next one is, one waits on the mat, so a ring of
//! `k` takes `k + 1` movements and a swap three.
//!
//! What is best, in this order: the fewest modules from the box; the fewest hand movements; what the findings
//! say of where a module belongs; modules whose fields are stated before those that leave them open; the same
//! channel, the same socket, the nearest slot.

use std::collections::{HashMap, HashSet};

use super::guarded::{Guarded, keeps_contents};
use super::movements::{Fit, Puzzle};
use super::persistent;
use super::step::{Step, StepKind};
use super::whereabouts::Whereabouts;
use crate::audit::{Finding, FindingKind, distance};
use crate::plan::agreement::{could_be, describe_wanted, differing_fields};
use crate::plan::{Demand, ModuleSpec, Plan};
use crate::population::{Module, Population, SlotState};

/// The steps that turn `population` into `plan`, given the findings of their audit: modules that only need
/// reseating, modules to take out, moves, replacements, and modules to fit.
pub fn work(population: &Population<'_>, plan: &Plan, findings: &[Finding]) -> Vec<Step> {
    placing(population, plan, findings, &HashSet::new())
}

/// As [`work`], but without the slots whose finding has a step of its own.
pub(super) fn placing(
    population: &Population<'_>,
    plan: &Plan,
    findings: &[Finding],
    excused: &HashSet<&str>,
) -> Vec<Step> {
    let mut steps = Vec::new();
    if plan.slots.is_empty() {
        // A plan that names no slot says nothing about what belongs where.
        let idle = of(findings, FindingKind::NotRunning).filter_map(|f| f.slot.as_deref());
        steps.extend(idle.filter(|slot| !excused.contains(slot)).map(|slot| reseat(slot, population)));
    } else if findings.iter().any(|finding| is_about_places(finding.kind)) {
        let guarded = Guarded::new(population, plan);
        Bench::new(population, plan, findings, excused, &guarded).steps(&mut steps);
        steps.extend(persistent::steps(findings, &|slot| !excused.contains(slot) && guarded.has(slot)));
    }
    for step in &mut steps {
        let about = |finding: &Finding| {
            is_about_places(finding.kind) && step.slots.iter().any(|slot| finding.is_at(slot))
        };
        step.findings = (0..findings.len()).filter(|at| about(&findings[*at])).collect();
    }
    steps
}

fn of(findings: &[Finding], kind: FindingKind) -> impl Iterator<Item = &Finding> {
    findings.iter().filter(move |finding| finding.kind == kind)
}

/// Whether a finding of that kind is mended by bringing modules to slots.
pub(super) fn is_about_places(kind: FindingKind) -> bool {
    matches!(
        kind,
        FindingKind::Missing
            | FindingKind::WrongSlot
            | FindingKind::WrongModule
            | FindingKind::Unplanned
            | FindingKind::NotRunning
    )
}

fn same_part(wanted: &ModuleSpec, found: &Module<'_>) -> bool {
    wanted.part.is_some() && wanted.part.as_deref() == found.part.as_deref()
}

fn reseat(slot: &str, population: &Population<'_>) -> Step {
    let text = format!("reseat the module in {slot}{}", in_hand(slot, population));
    Step::new(StepKind::Reseat, Some(slot), None, text)
}

/// Size, part and serial number of the module in a slot, as far as they are stated, so that what is in the hand can
/// be compared.
fn in_hand(slot: &str, population: &Population<'_>) -> String {
    let Some(module) = population.slot(slot).and_then(|(_, slot)| slot.module()) else {
        return String::new();
    };
    let size = module.bytes().map(|size| size.to_string());
    let serial = module.serial.map(|serial| format!("serial {serial}"));
    let words: Vec<String> =
        [size, module.part.as_deref().map(str::to_owned), serial].into_iter().flatten().collect();
    if words.is_empty() { String::new() } else { format!(" ({})", words.join(", ")) }
}

/// A planned slot that is to be filled.
struct PlannedPlace<'w> {
    name: &'w str,
    /// Its index in the population; `None` where the listing does not have it.
    home: Option<usize>,
    wanted: &'w ModuleSpec,
    /// Where the findings say that its module is; `None` where they say that none is detected.
    told: Option<&'w str>,
}

impl PlannedPlace<'_> {
    /// That a module from the box comes although a finding names a detected one.
    fn rather(&self) -> String {
        let other = self.told.filter(|told| *told != self.name);
        other.map_or_else(String::new, |told| format!(" (not the one in {told}, with fewer movements)"))
    }
}

/// Slots whose modules no hand touches: persistent ones, and those that belong where one is.
fn left_where_they_are(
    population: &Population<'_>,
    findings: &[Finding],
    guarded: &Guarded<'_>,
) -> HashSet<usize> {
    let slots = population.slots.iter().enumerate();
    let lasting = slots.filter(|(_, slot)| slot.module().is_some_and(keeps_contents)).map(|(at, _)| at);
    let held_up = of(findings, FindingKind::WrongSlot)
        .filter(|finding| finding.other_slot.as_deref().is_some_and(|slot| guarded.has(slot)))
        .filter_map(|finding| population.slot(finding.slot.as_deref()?).map(|(at, _)| at));
    lasting.chain(held_up).collect()
}

/// What is to be done, and the modules at hand.
struct Bench<'w, 'a> {
    population: &'w Population<'a>,
    findings: &'w [Finding],
    /// Slots whose module is the planned one and does not run.
    idle: Vec<&'w str>,
    places: Vec<PlannedPlace<'w>>,
    /// Slots of the modules at hand, in the order of the board.
    modules: Vec<usize>,
    /// Slots that the plan names.
    named: HashSet<&'w str>,
}

impl<'w, 'a> Bench<'w, 'a> {
    fn new(
        population: &'w Population<'a>,
        plan: &'w Plan,
        findings: &'w [Finding],
        excused: &HashSet<&str>,
        guarded: &Guarded<'_>,
    ) -> Self {
        let index: HashMap<&str, usize> =
            population.slots.iter().enumerate().map(|(index, slot)| (slot.name.as_ref(), index)).collect();
        let told = Whereabouts::new(findings);
        let named = plan.slots.iter().map(|planned| planned.slot.as_str()).collect();
        let mut bench =
            Self { population, findings, idle: Vec::new(), places: Vec::new(), modules: Vec::new(), named };
        let mut settled: HashSet<usize> = left_where_they_are(population, findings, guarded);
        for planned in &plan.slots {
            let home = index.get(planned.slot.as_str()).copied();
            let idle = home.and_then(|home| match &population.slots[home].state {
                SlotState::NotRunning(module) => Some((home, module)),
                SlotState::Empty | SlotState::Fitted(_) | SlotState::Unknown => None,
            });
            let bare = home.is_none_or(|home| population.slots[home].module().is_none());
            match &planned.demand {
                Demand::Module(_) if guarded.has(&planned.slot) => settled.extend(home),
                Demand::Module(_) if bare && excused.contains(planned.slot.as_str()) => {}
                Demand::Module(wanted) => match idle {
                    Some((home, module)) if could_be(wanted, module) => {
                        settled.insert(home);
                        if !excused.contains(planned.slot.as_str()) {
                            bench.idle.push(&planned.slot);
                        }
                    }
                    _ if told.can_be_filled(&planned.slot, home) => bench.places.push(PlannedPlace {
                        name: &planned.slot,
                        home,
                        wanted,
                        told: told.source(&planned.slot),
                    }),
                    _ => {}
                },
                Demand::Idle => settled.extend(idle.map(|(home, _)| home)),
                Demand::Empty => {}
            }
        }
        let there = |slot: &usize| population.slots[*slot].module().is_some() && !settled.contains(slot);
        bench.modules = population.in_board_order().into_iter().filter(there).collect();
        bench
    }

    fn name(&self, module: usize) -> &str {
        &self.population.slots[self.modules[module]].name
    }

    fn runs(&self, module: usize) -> bool {
        self.population.slots[self.modules[module]].fitted().is_some()
    }

    /// The demanded fields that a module leaves open, if it can be the planned one.
    fn open_fields(&self, place: &PlannedPlace<'_>, module: usize) -> Option<Vec<&'static str>> {
        let slot = &self.population.slots[self.modules[module]];
        let found = slot.module()?;
        // An idle module's size is not stated; its part number must speak for it.
        let known = slot.fitted().is_some() || same_part(place.wanted, found);
        (known && could_be(place.wanted, found)).then(|| differing_fields(place.wanted, found))
    }

    /// How many demanded fields each module leaves open; `None` for one that cannot be the planned one. A serial
    /// number is one module's alone: where one states it, no other is brought, nor left where the findings call
    /// for another.
    fn open_counts(&self, place: &PlannedPlace<'_>) -> Vec<Option<usize>> {
        let count = |module| self.open_fields(place, module).map(|fields| fields.len());
        let mut open: Vec<Option<usize>> = (0..self.modules.len()).map(count).collect();
        let states = |module: usize| {
            self.population.slots[self.modules[module]].module().is_some_and(|found| found.serial.is_some())
        };
        let known = |(module, open): (usize, &Option<usize>)| open.is_some() && states(module);
        if place.wanted.serial.is_some() && open.iter().enumerate().any(known) {
            for (module, open) in open.iter_mut().enumerate() {
                let stays = place.home == Some(self.modules[module]) && place.told == Some(place.name);
                if !states(module) && !stays {
                    *open = None;
                }
            }
        }
        open
    }

    fn puzzle(&self) -> Puzzle {
        let seats: HashMap<usize, usize> =
            self.modules.iter().enumerate().map(|(module, slot)| (*slot, module)).collect();
        let fits = self.places.iter().map(|place| {
            let open = self.open_counts(place);
            let least = open.iter().flatten().min().copied().unwrap_or(0);
            let fit = |(module, open): (usize, Option<usize>)| {
                Some(Fit {
                    departs: place.told != Some(self.name(module)),
                    doubts: open? - least,
                    distance: distance(place.home, self.modules[module], self.population),
                })
            };
            open.into_iter().enumerate().map(fit).collect()
        });
        Puzzle {
            fits: fits.collect(),
            sitting: self
                .places
                .iter()
                .map(|place| place.home.and_then(|home| seats.get(&home).copied()))
                .collect(),
            filled: self.places.iter().map(|place| place.told.is_some()).collect(),
            modules: self.modules.len(),
        }
    }

    fn steps(&self, steps: &mut Vec<Step>) {
        let puzzle = self.puzzle();
        let filling = puzzle.solve();
        let mut target: Vec<Option<usize>> = vec![None; self.modules.len()];
        for (place, module) in filling.iter().enumerate() {
            if let Some(module) = module {
                target[*module] = Some(place);
            }
        }
        let mut seat: Vec<Option<usize>> = vec![None; self.modules.len()];
        for (place, module) in puzzle.sitting.iter().enumerate() {
            if let Some(module) = module {
                seat[*module] = Some(place);
            }
        }
        steps.extend(self.idle.iter().map(|slot| reseat(slot, self.population)));
        // What idles in a slot that the plan does not name may be meant to run there.
        let (odd, spare): (Vec<usize>, Vec<usize>) = (0..self.modules.len())
            .filter(|module| target[*module].is_none())
            .partition(|module| !self.runs(*module) && !self.named.contains(self.name(*module)));
        steps.extend(odd.into_iter().map(|module| reseat(self.name(module), self.population)));
        for module in spare {
            // One whose slot gets a module from the box is replaced later on.
            if seat[module].is_none_or(|place| filling[place].is_some()) {
                steps.push(self.removal(module, seat[module].is_some()));
            }
        }
        self.moves(&target, &seat, steps);
        let boxed = |place: &usize| filling[*place].is_none();
        let (held, bare): (Vec<usize>, Vec<usize>) =
            (0..self.places.len()).filter(boxed).partition(|place| puzzle.sitting[*place].is_some());
        let (stale, left): (Vec<usize>, Vec<usize>) = held
            .into_iter()
            .partition(|place| puzzle.sitting[*place].is_some_and(|module| target[module].is_none()));
        steps.extend(stale.iter().map(|place| self.replacement(*place)));
        steps.extend(left.iter().map(|place| self.fit(*place, false)));
        steps.extend(bare.iter().map(|place| self.fit(*place, true)));
        let stays = |module: &usize| target[*module].is_some() && target[*module] == seat[*module];
        steps.extend((0..self.modules.len()).filter(stays).filter_map(|module| self.left_alone(module)));
    }

    /// The slot in which a finding says the module of `slot` belongs.
    fn said(&self, slot: &str) -> Option<&str> {
        of(self.findings, FindingKind::WrongSlot)
            .find(|finding| finding.slot.as_deref() == Some(slot))
            .and_then(|finding| finding.other_slot.as_deref())
    }

    fn removal(&self, module: usize, planned: bool) -> Step {
        let slot = self.name(module);
        let which = if self.runs(module) { "the module" } else { "the module that does not run" };
        let own = in_hand(slot, self.population);
        let text = if let Some(said) = self.said(slot) {
            format!("take {which} out of {slot}{own}; others fill {said}, with fewer movements")
        } else if planned {
            format!("take {which} out of {slot}{own}; the plan has no place for it")
        } else {
            format!("take {which} out of {slot}{own}, or add it to the plan")
        };
        Step::new(StepKind::Remove, Some(slot), None, text)
    }

    /// A finding may call for a move that the fewest movements do without.
    fn left_alone(&self, module: usize) -> Option<Step> {
        let slot = self.name(module);
        let said = self.said(slot)?;
        let text =
            format!("leave the module in {slot}: it is right there too, with fewer movements than in {said}");
        Some(Step::new(StepKind::Check, Some(slot), None, text))
    }

    fn replacement(&self, place: usize) -> Step {
        let place = &self.places[place];
        let mut wanted = describe_wanted(place.wanted);
        // A description leaves out what is seldom asked for; where that is what differs, it must be said.
        let finding = of(self.findings, FindingKind::WrongModule)
            .find(|finding| finding.slots.iter().any(|slot| slot == place.name));
        for word in finding.iter().flat_map(|finding| finding.expected.split(", ")) {
            if !wanted.contains(word) && place.wanted.sticker.is_none() {
                wanted = format!("{wanted}, {word}");
            }
        }
        let why = match self.said(place.name) {
            Some(other) => format!(" (others fill {other}, with fewer movements)"),
            None => place.rather(),
        };
        let own = in_hand(place.name, self.population);
        let text = format!("replace the module in {}{own} with the planned one: {wanted}{why}", place.name);
        let step = Step::new(StepKind::Replace, Some(place.name), None, text);
        Step { brings: Some(wanted), ..step }
    }

    /// An empty slot may hold a module that the firmware does not see.
    fn fit(&self, place: usize, may_be_there: bool) -> Step {
        let place = &self.places[place];
        let brings = describe_wanted(place.wanted);
        let (slot, wanted) = (place.name, format!("{brings}{}", place.rather()));
        let text = if may_be_there {
            format!("inspect {slot}: reseat the module, or fit {wanted}")
        } else {
            format!("fit into {slot}: {wanted}")
        };
        Step { brings: Some(brings), ..Step::new(StepKind::Fit, Some(slot), None, text) }
    }

    /// Moves in an order in which each target is free when its turn comes: chains from their free end, then
    /// rings, which one module opens by waiting on the mat.
    fn moves(&self, target: &[Option<usize>], seat: &[Option<usize>], steps: &mut Vec<Step>) {
        let moving = |module: &usize| target[*module].is_some() && target[*module] != seat[*module];
        // The module that sits in a place and moves away, which must happen first.
        let mut leaving: HashMap<usize, usize> = HashMap::new();
        let mut arriving: HashMap<usize, usize> = HashMap::new();
        for module in (0..target.len()).filter(moving) {
            leaving.extend(seat[module].map(|place| (place, module)));
            arriving.extend(target[module].map(|place| (place, module)));
        }
        let follower = |module: usize| seat[module].and_then(|place| arriving.get(&place).copied());
        let mut done = vec![false; target.len()];
        for first in (0..target.len()).filter(moving) {
            let Some(end) = target[first].filter(|place| !leaving.contains_key(place)) else { continue };
            let mut next = arriving.get(&end).copied();
            while let Some(module) = next {
                done[module] = true;
                steps.push(self.motion(module, target));
                next = follower(module);
            }
        }
        for first in (0..target.len()).filter(moving) {
            if done[first] {
                continue;
            }
            let mut ring = vec![first];
            done[first] = true;
            let mut next = follower(first);
            while let Some(module) = next.filter(|module| !done[*module]) {
                done[module] = true;
                ring.push(module);
                next = follower(module);
            }
            self.ring(&ring, target, steps);
        }
    }

    /// A ring of modules, each of which frees the slot of the one after it.
    fn ring(&self, ring: &[usize], target: &[Option<usize>], steps: &mut Vec<Step>) {
        let (Some(first), Some(place)) = (ring.first(), ring.first().and_then(|first| target[*first])) else {
            return;
        };
        let (from, to) = (self.name(*first), self.places[place].name);
        if let [_, other] = ring {
            let remarks = [self.remark(*first, place), self.remark(*other, target[*other].unwrap_or(place))];
            let (a, b) = (in_hand(from, self.population), in_hand(to, self.population));
            let text = format!("swap the modules of {from}{a} and {to}{b}{}", remarks.concat());
            steps.push(Step::new(StepKind::Swap, Some(from), Some(to), text));
            return;
        }
        let own = in_hand(from, self.population);
        let text = format!("take the module out of {from}{own} and lay it aside; it goes into {to} soon");
        steps.push(Step::new(StepKind::Pull, Some(from), Some(to), text));
        steps.extend(ring[1..].iter().map(|module| self.motion(*module, target)));
        let text = format!(
            "put the module from {from}{own}, which was laid aside, into {to}{}",
            self.remark(*first, place)
        );
        steps.push(Step::new(StepKind::Place, Some(to), Some(from), text));
    }

    fn motion(&self, module: usize, target: &[Option<usize>]) -> Step {
        let from = self.name(module);
        let Some(place) = target[module] else { return self.removal(module, true) };
        let to = self.places[place].name;
        let own = in_hand(from, self.population);
        let text = format!("move the module{own} from {from} to {to}{}", self.remark(module, place));
        Step::new(StepKind::Move, Some(from), Some(to), text)
    }

    /// Why a module goes elsewhere than a finding says, and what its sticker must show where the listing leaves
    /// that open.
    fn remark(&self, module: usize, place: usize) -> String {
        let (from, place) = (self.name(module), &self.places[place]);
        let mut remark = String::new();
        if place.told != Some(from) {
            remark = match self.said(from) {
                Some(said) => format!(" (it fits {} as well as {said}, with fewer movements)", place.name),
                None => format!(" (it fits {}, with fewer modules to fetch or to move)", place.name),
            };
        }
        let open = self.open_fields(place, module).unwrap_or_default();
        let least = self.open_counts(place).into_iter().flatten().min();
        if least.is_some_and(|least| open.len() > least) {
            remark.push_str(&format!("; compare its sticker first: {} not stated", open.join(", ")));
        }
        remark
    }
}
