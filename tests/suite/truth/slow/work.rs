//! The work order against searches that try everything.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap, HashMap};

use asfitted::audit::{self, Finding, FindingKind};
use asfitted::diagnose::{Step, StepKind, movements, work};
use asfitted::evidence::Text;
use asfitted::plan::{self, Demand, ModuleSpec, Plan, PlannedSlot};
use asfitted::population::{self, SlotState};
use asfitted::records;
use asfitted::units::Bytes;

use crate::util::corpus as fixture;

/// A fixed sequence of numbers (splitmix64), so that every run tries the same cases.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, limit: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(limit).unwrap()).unwrap()
    }

    fn percent(&mut self, share: usize) -> bool {
        self.below(100) < share
    }

    fn shuffle<T>(&mut self, items: &mut [T]) {
        for at in (1..items.len()).rev() {
            items.swap(at, self.below(at + 1));
        }
    }
}

/// Sizes in GiB and part numbers of the kinds of modules.
const KINDS: [(u64, &str); 3] = [(16, "WW16-2R4-1333L"), (16, "WW16-1R4-1333L"), (8, "WW08-1R8-1333L")];

/// A module on the board.
#[derive(Debug, Clone)]
struct Found {
    kind: usize,
    part: bool,
    serial: Option<String>,
    runs: bool,
}

/// What the plan says of a slot.
#[derive(Debug, Clone)]
enum Asked {
    Nothing,
    Empty,
    Idle,
    Module { size: Option<u64>, part: Option<usize>, serial: Option<String> },
}

#[derive(Debug, Clone)]
struct Case {
    found: Vec<Option<Found>>,
    asked: Vec<Asked>,
    /// Slots whose module is elsewhere or nowhere, by the findings.
    told: Vec<String>,
}

fn name(slot: usize) -> String {
    format!("s1.c{}.p{}", slot / 3 + 1, slot % 3 + 1)
}

impl Case {
    /// Most cases are a plan whose modules were shuffled, some lost and some added; the rest is arbitrary.
    fn random(random: &mut Random, slots: usize, most: usize) -> Self {
        let mut order: Vec<usize> = (0..slots).collect();
        random.shuffle(&mut order);
        let count = 1 + random.below(most).max(random.below(most));
        let kinds = 1 + random.below(KINDS.len()).max(random.below(KINDS.len()));
        let (strict, closed) = (random.percent(50), random.percent(60));
        let mut serials = 0;
        let module = |random: &mut Random, kind: usize, serials: &mut usize| {
            *serials += 1;
            Found {
                kind,
                part: strict || random.percent(75),
                serial: random.percent(70).then(|| format!("0000{serials:04}")),
                runs: !random.percent(4),
            }
        };
        let mut case = Self { found: vec![None; slots], asked: vec![Asked::Nothing; slots], told: vec![] };
        let mut modules = Vec::new();
        for slot in &order[..count] {
            let kind = random.below(kinds);
            let size = (strict || random.percent(85)).then_some(KINDS[kind].0);
            let part = (strict || random.percent(60)).then_some(kind);
            let mut serial = None;
            if closed || random.percent(85) {
                let module = module(random, kind, &mut serials);
                if random.percent(8) {
                    serial.clone_from(&module.serial);
                }
                modules.push((*slot, module));
            }
            if random.percent(2) {
                serial = Some("00009999".to_owned());
            }
            case.asked[*slot] = Asked::Module { size, part, serial };
        }
        while !closed && modules.len() < most && random.percent(30) {
            let kind = random.below(kinds);
            let module = module(random, kind, &mut serials);
            modules.push((order[random.below(slots)], module));
        }
        // Where they are: shuffled among the slots that they were planned for, or anywhere.
        let mut places: Vec<usize> = modules.iter().map(|(slot, _)| *slot).collect();
        places.sort_unstable();
        places.dedup();
        if !closed && random.percent(60) {
            places.clone_from(&order);
        }
        random.shuffle(&mut places);
        for (slot, module) in modules {
            let stays = random.percent(25) && case.found[slot].is_none();
            let free = |slot: &usize| case.found[*slot].is_none();
            let place = if stays { Some(slot) } else { places.iter().copied().find(free) };
            if let Some(place) = place.or_else(|| (0..slots).find(free)) {
                case.found[place] = Some(module);
            }
        }
        for slot in 0..slots {
            if matches!(case.asked[slot], Asked::Nothing) && random.percent(50) {
                let idle = case.found[slot].as_ref().is_some_and(|found| !found.runs);
                case.asked[slot] = if idle && random.percent(50) { Asked::Idle } else { Asked::Empty };
            }
        }
        for finding in case.work().1 {
            case.told.extend(match finding.kind {
                FindingKind::WrongSlot => finding.other_slot,
                FindingKind::Missing | FindingKind::WrongModule => finding.slot,
                _ => None,
            });
        }
        case
    }

    fn listing(&self) -> String {
        let mut text = "# dmidecode 3.6\nGetting SMBIOS data from sysfs.\nSMBIOS 3.0 present.\n\n".to_owned();
        for (slot, found) in self.found.iter().enumerate() {
            text.push_str(&format!("Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n", slot + 16));
            let size = match found {
                Some(found) if found.runs => format!("{} GB", KINDS[found.kind].0),
                _ => "No Module Installed".to_owned(),
            };
            text.push_str(&format!("\tSize: {size}\n\tLocator: {}\n\tType: DDR3\n", name(slot)));
            if let Some(found) = found {
                text.push_str("\tSpeed: 1333 MT/s\n\tManufacturer: Wetherlam\n");
                let serial = found.serial.as_deref().unwrap_or("Not Specified");
                let part = if found.part || !found.runs { KINDS[found.kind].1 } else { "Not Specified" };
                text.push_str(&format!("\tSerial Number: {serial}\n\tPart Number: {part}\n"));
            }
            text.push('\n');
        }
        text + "Handle 0xFEFF, DMI type 127, 4 bytes\nEnd Of Table\n"
    }

    fn plan(&self) -> Plan {
        let slots = self.asked.iter().enumerate().filter_map(|(slot, asked)| {
            let demand = match asked {
                Asked::Nothing => return None,
                Asked::Empty => Demand::Empty,
                Asked::Idle => Demand::Idle,
                Asked::Module { size, part, serial } => Demand::Module(ModuleSpec {
                    size: size.map(|size| Bytes(size << 30)),
                    part: part.map(|kind| KINDS[kind].1.to_owned()),
                    serial: serial.clone(),
                    ..ModuleSpec::default()
                }),
            };
            Some(PlannedSlot { slot: name(slot), line: 0, demand })
        });
        Plan { slots: slots.collect(), ..Plan::default() }
    }

    /// The work order, and the findings that it goes by.
    fn work(&self) -> (Vec<Step>, Vec<Finding>) {
        let text = Text::from_bytes("case", self.listing().into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        for (slot, found) in population.slots.iter().zip(&self.found) {
            let same = match (&slot.state, found) {
                (SlotState::Fitted(_), Some(found)) => found.runs,
                (SlotState::NotRunning(_), Some(found)) => !found.runs,
                (SlotState::Empty, None) => true,
                _ => false,
            };
            assert!(same, "{:?} {found:?}", slot.state);
        }
        let plan = self.plan();
        let audit = audit::audit(&listings[0], &population, &plan).unwrap();
        (work(&population, &plan, &audit.findings), audit.findings)
    }

    /// Whether nothing that is stated about a module contradicts what is asked.
    fn agrees(&self, at: usize, slot: usize) -> bool {
        let (Some(found), Asked::Module { size, part, serial }) = (&self.found[at], &self.asked[slot]) else {
            return false;
        };
        let states_part = found.part || !found.runs;
        size.is_none_or(|size| !found.runs || size == KINDS[found.kind].0)
            && part.is_none_or(|kind| !states_part || kind == found.kind)
            && serial.as_ref().is_none_or(|serial| found.serial.as_ref().is_none_or(|own| own == serial))
    }

    /// As [`Self::could_be`], but where one module states the serial number asked for, no other is brought that
    /// states none, nor left where the findings call for another.
    fn can_be(&self, at: usize, slot: usize) -> bool {
        let states = |at: usize| self.found[at].as_ref().is_some_and(|found| found.serial.is_some());
        let pinned = matches!(self.asked[slot], Asked::Module { serial: Some(_), .. })
            && self.modules().into_iter().any(|other| states(other) && self.could_be(other, slot));
        let stays = at == slot && !self.told.contains(&name(slot));
        self.could_be(at, slot) && (stays || states(at) || !pinned)
    }

    /// As [`Self::agrees`]; a module that does not run and is elsewhere needs its part number besides.
    fn could_be(&self, at: usize, slot: usize) -> bool {
        let idle = self.found[at].as_ref().is_some_and(|found| !found.runs);
        let by_part = match &self.asked[slot] {
            Asked::Module { part: Some(kind), .. } => {
                self.found[at].as_ref().is_some_and(|f| f.kind == *kind)
            }
            _ => false,
        };
        self.agrees(at, slot) && (!idle || by_part)
    }

    /// Slots whose module does not run and is not moved: it is the planned one, or is known to idle.
    fn at_rest(&self) -> Vec<usize> {
        let idle = |slot: &usize| self.found[*slot].as_ref().is_some_and(|found| !found.runs);
        let own = |slot: &usize| match &self.asked[*slot] {
            Asked::Idle => true,
            Asked::Module { .. } => self.agrees(*slot, *slot),
            _ => false,
        };
        (0..self.found.len()).filter(idle).filter(own).collect()
    }

    fn settled(&self) -> Vec<usize> {
        self.at_rest().into_iter().filter(|slot| matches!(self.asked[*slot], Asked::Module { .. })).collect()
    }

    fn places(&self) -> Vec<usize> {
        let settled = self.settled();
        let asked = |slot: &usize| matches!(self.asked[*slot], Asked::Module { .. });
        (0..self.asked.len()).filter(asked).filter(|slot| !settled.contains(slot)).collect()
    }

    fn modules(&self) -> Vec<usize> {
        let rest = self.at_rest();
        (0..self.found.len()).filter(|slot| self.found[*slot].is_some() && !rest.contains(slot)).collect()
    }

    /// Fewest modules from the box, then fewest movements, over every way to give modules slots.
    fn fewest(&self) -> (usize, usize) {
        let mut search = Search {
            places: self.places(),
            fits: self.modules().iter().map(|at| self.fitting(*at)).collect(),
            modules: self.modules(),
            target: HashMap::new(),
            best: (usize::MAX, usize::MAX),
        };
        search.step(0, 0);
        search.best
    }

    fn fitting(&self, at: usize) -> Vec<usize> {
        self.places().into_iter().filter(|slot| self.can_be(at, *slot)).collect()
    }

    /// Does the steps one by one; the number of modules from the box.
    fn perform(&self, steps: &[Step]) -> usize {
        // Where a module came from; `None` for one from the box.
        let mut board: BTreeMap<String, Option<usize>> =
            self.modules().iter().chain(&self.at_rest()).map(|slot| (name(*slot), Some(*slot))).collect();
        let (mut mat, mut fetched) = (None, 0);
        for step in steps {
            let slot = step.slot.clone().unwrap();
            let other = step.other_slot.clone();
            match step.kind {
                StepKind::Remove => assert!(board.remove(&slot).is_some(), "nothing in {slot}"),
                StepKind::Move => {
                    let module = board.remove(&slot).unwrap_or_else(|| panic!("nothing in {slot}"));
                    assert!(board.insert(other.unwrap(), module).is_none(), "onto a module: {step:?}");
                }
                StepKind::Swap => {
                    let (a, b) =
                        (board.remove(&slot).unwrap(), board.remove(&other.clone().unwrap()).unwrap());
                    board.insert(slot, b);
                    board.insert(other.unwrap(), a);
                }
                StepKind::Pull => {
                    assert!(mat.is_none(), "two modules wait");
                    mat = Some((slot.clone(), board.remove(&slot).unwrap()));
                }
                StepKind::Place => {
                    let (from, module) = mat.take().unwrap();
                    assert_eq!(Some(from), other);
                    assert!(board.insert(slot, module).is_none(), "onto a module: {step:?}");
                }
                StepKind::Exchange => {
                    fetched += 1;
                    assert!(board.insert(slot, None).is_some(), "nothing to exchange: {step:?}");
                }
                StepKind::Fit => {
                    fetched += 1;
                    assert!(board.insert(slot, None).is_none(), "onto a module: {step:?}");
                }
                StepKind::Reseat => assert!(board.contains_key(&slot), "nothing in {slot}"),
                StepKind::Check => {}
            }
        }
        assert!(mat.is_none(), "a module was left aside");
        let rest = self.at_rest();
        for slot in 0..self.found.len() {
            let there = board.get(&name(slot));
            let right = match (&self.asked[slot], there) {
                _ if rest.contains(&slot) => there == Some(&Some(slot)),
                (Asked::Module { .. }, Some(Some(at))) => self.can_be(*at, slot),
                // It was reseated, which takes as many movements as taking it out.
                (Asked::Nothing, Some(Some(at))) => *at == slot && !self.found[slot].as_ref().unwrap().runs,
                (Asked::Module { .. }, Some(None)) | (Asked::Nothing | Asked::Empty | Asked::Idle, None) => {
                    true
                }
                _ => false,
            };
            assert!(right, "{}: {there:?}\n{self:#?}\n{steps:#?}", name(slot));
        }
        fetched
    }
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
fn fewest_on_the_board(case: &Case) -> (usize, usize) {
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

/// The steps can be done, end as planned, and are as few as `fewest` says.
fn judge(case: &Case, fewest: (usize, usize)) {
    let ((steps, findings), reseats) = (case.work(), case.settled().len());
    let fetched = case.perform(&steps);
    let counted = usize::try_from(movements(&steps)).unwrap();
    assert_eq!((fetched, counted), (fewest.0, fewest.1 + reseats), "{case:?}\n{steps:#?}");
    assert_eq!(steps.iter().map(|step| step.movements).sum::<u32>(), movements(&steps));
    assert!(steps.iter().filter(|step| step.kind == StepKind::Reseat).count() >= reseats, "{case:?}");
    follows(&steps, &findings);
}

/// A module goes where a finding says that it belongs, or the step says why not.
fn follows(steps: &[Step], findings: &[Finding]) {
    for finding in findings.iter().filter(|finding| finding.kind == FindingKind::WrongSlot) {
        let does = |step: &&Step| {
            let (from, to) = match step.kind {
                StepKind::Place => (&step.other_slot, &step.slot),
                _ => (&step.slot, &step.other_slot),
            };
            let there = (from, to) == (&finding.slot, &finding.other_slot);
            let back = step.kind == StepKind::Swap && (to, from) == (&finding.slot, &finding.other_slot);
            let reason = step.text.contains("with fewer");
            there || back || reason && (*from == finding.slot || *to == finding.slot)
        };
        assert!(steps.iter().any(|step| does(&step)), "{finding:?}\n{steps:#?}");
    }
}

#[test]
fn no_assignment_takes_fewer_movements() {
    let mut random = Random(1);
    let (mut cases, mut ringed, mut fetched, mut moved, mut departs) = (0, 0, 0, 0, 0);
    while cases < 20_000 {
        let case = Case::random(&mut random, 12, 8);
        let fewest = case.fewest();
        judge(&case, fewest);
        cases += 1;
        let steps = case.work().0;
        ringed += usize::from(steps.iter().any(|step| matches!(step.kind, StepKind::Swap | StepKind::Pull)));
        departs += usize::from(steps.iter().any(|step| step.text.contains("with fewer")));
        fetched += usize::from(fewest.0 > 0);
        moved += fewest.1;
    }
    println!(
        "{cases} cases against every assignment: {ringed} with rings, {fetched} with modules to fetch, {departs} in which a step departs from a finding, {moved} movements"
    );
    assert!(ringed > 2000 && fetched > 2000);
}

#[test]
fn no_sequence_of_hand_movements_is_shorter() {
    let mut random = Random(2);
    let (mut cases, mut moved) = (0, 0);
    while cases < 1500 {
        let slots = 2 + random.below(2) + random.below(3);
        let case = Case::random(&mut random, slots, 4.min(slots));
        if case.modules().len() + case.places().len() > 8 {
            continue;
        }
        let fewest = fewest_on_the_board(&case);
        assert_eq!(case.fewest(), fewest, "{case:?}");
        // Boards on which nothing is to be done prove little.
        if fewest.1 == 0 {
            continue;
        }
        judge(&case, fewest);
        cases += 1;
        moved += fewest.1;
    }
    println!("{cases} cases against every sequence of hand movements: {moved} movements");
}

/// Movements that the findings alone lead to: each module goes where its finding says, ring by ring.
fn by_findings(findings: &[Finding]) -> Option<usize> {
    let to: HashMap<&str, &str> = findings
        .iter()
        .filter(|finding| finding.kind == FindingKind::WrongSlot)
        .map(|finding| Some((finding.slot.as_deref()?, finding.other_slot.as_deref()?)))
        .collect::<Option<_>>()?;
    if findings.iter().any(|f| !matches!(f.kind, FindingKind::WrongSlot | FindingKind::ListingDamaged)) {
        return None;
    }
    let mut seen = Vec::new();
    let mut rings = 0;
    for start in to.keys() {
        let mut at = *start;
        while !seen.contains(&at) {
            seen.push(at);
            let Some(next) = to.get(at) else { break };
            at = next;
            rings += usize::from(at == *start);
        }
    }
    Some(to.len() + rings)
}

/// Real machines whose plan has the modules the other way round: never more movements than by the findings.
#[test]
fn real_machines_with_their_modules_reversed() {
    let (mut machines, mut least, mut naive) = (0, 0, 0);
    let mut longest = std::time::Duration::ZERO;
    for text in fixture::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        for any_serial in [false, true] {
            let mut plan = plan::from_population(&listings[0], &population, any_serial).plan;
            let fitted = |planned: &PlannedSlot| matches!(planned.demand, Demand::Module(_));
            let mut demands: Vec<Demand> =
                plan.slots.iter().filter(|planned| fitted(planned)).map(|p| p.demand.clone()).collect();
            for planned in plan.slots.iter_mut().filter(|planned| fitted(planned)) {
                planned.demand = demands.pop().unwrap();
            }
            let audit = audit::audit(&listings[0], &population, &plan).unwrap();
            let Some(naively) = by_findings(&audit.findings) else { continue };
            let start = std::time::Instant::now();
            let steps = work(&population, &plan, &audit.findings);
            longest = longest.max(start.elapsed());
            let counted = movements(&steps) as usize;
            assert!(counted <= naively, "{}: {counted} of {naively}", text.name());
            machines += usize::from(naively > 0);
            least += counted;
            naive += naively;
        }
    }
    println!(
        "{machines} plans of real machines: {least} movements, {naive} by the findings; longest {longest:?}"
    );
    assert!(machines > 100, "{machines}");
}
