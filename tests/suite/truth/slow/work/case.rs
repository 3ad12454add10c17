//! A small board: what is fitted, what is asked, and what steps make of it.

use std::collections::BTreeMap;

use asfitted::audit::{Finding, FindingKind};
use asfitted::diagnose::{Step, StepKind, work};
use asfitted::evidence::Text;
use asfitted::plan::{Demand, ModuleSpec, Plan, PlannedSlot};
use asfitted::population::{self, SlotState};
use asfitted::records;
use asfitted::units::Bytes;

use crate::util::corpus;
use crate::util::random::Random;

/// Sizes in GiB and part numbers of the kinds of modules.
const KINDS: [(u64, &str); 3] = [(16, "WW16-2R4-1333L"), (16, "WW16-1R4-1333L"), (8, "WW08-1R8-1333L")];

/// A module on the board.
#[derive(Debug, Clone)]
pub struct Found {
    kind: usize,
    part: bool,
    serial: Option<String>,
    runs: bool,
}

/// What the plan says of a slot.
#[derive(Debug, Clone)]
pub enum Asked {
    Nothing,
    Empty,
    Idle,
    Module { size: Option<u64>, part: Option<usize>, serial: Option<String> },
}

#[derive(Debug, Clone)]
pub struct Case {
    pub found: Vec<Option<Found>>,
    asked: Vec<Asked>,
    /// Slots whose module is elsewhere or nowhere, by the findings.
    elsewhere: Vec<String>,
}

pub fn name(slot: usize) -> String {
    format!("s1.c{}.p{}", slot / 3 + 1, slot % 3 + 1)
}

impl Case {
    /// Most cases are a plan whose modules were shuffled, some lost and some added; the rest is arbitrary.
    pub fn random(random: &mut Random, slots: usize, most: usize) -> Self {
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
        let mut case =
            Self { found: vec![None; slots], asked: vec![Asked::Nothing; slots], elsewhere: vec![] };
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
        case.scatter(random, modules, &order, closed);
        for slot in 0..slots {
            if matches!(case.asked[slot], Asked::Nothing) && random.percent(50) {
                let stopped = case.found[slot].as_ref().is_some_and(|found| !found.runs);
                case.asked[slot] = if stopped && random.percent(50) { Asked::Idle } else { Asked::Empty };
            }
        }
        for finding in case.work().1 {
            match finding.kind {
                FindingKind::WrongSlot => case.elsewhere.extend(finding.other_slot),
                FindingKind::Missing | FindingKind::WrongModule => case.elsewhere.extend(finding.slots),
                _ => {}
            }
        }
        case
    }

    /// Puts the modules where they are: shuffled among the slots that they were planned for, or anywhere.
    fn scatter(&mut self, random: &mut Random, modules: Vec<(usize, Found)>, order: &[usize], closed: bool) {
        let mut places: Vec<usize> = modules.iter().map(|(slot, _)| *slot).collect();
        places.sort_unstable();
        places.dedup();
        if !closed && random.percent(60) {
            order.clone_into(&mut places);
        }
        random.shuffle(&mut places);
        for (slot, module) in modules {
            let stays = random.percent(25) && self.found[slot].is_none();
            let free = |slot: &usize| self.found[*slot].is_none();
            let place = if stays { Some(slot) } else { places.iter().copied().find(free) };
            if let Some(place) = place.or_else(|| (0..order.len()).find(free)) {
                self.found[place] = Some(module);
            }
        }
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
            Some(PlannedSlot { slot: name(slot), line: None, demand })
        });
        Plan { slots: slots.collect(), ..Plan::default() }
    }

    /// The work order, and the findings that it goes by.
    pub fn work(&self) -> (Vec<Step>, Vec<Finding>) {
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
        let audit = corpus::audited(&text, &listings[0], &plan).unwrap();
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
    pub fn can_be(&self, at: usize, slot: usize) -> bool {
        let states = |at: usize| self.found[at].as_ref().is_some_and(|found| found.serial.is_some());
        let pinned = matches!(self.asked[slot], Asked::Module { serial: Some(_), .. })
            && self.modules().into_iter().any(|other| states(other) && self.could_be(other, slot));
        let stays = at == slot && !self.elsewhere.contains(&name(slot));
        self.could_be(at, slot) && (stays || states(at) || !pinned)
    }

    /// As [`Self::agrees`]; a module that does not run and is elsewhere also needs its part number.
    pub fn could_be(&self, at: usize, slot: usize) -> bool {
        let stopped = self.found[at].as_ref().is_some_and(|found| !found.runs);
        let by_part = match &self.asked[slot] {
            Asked::Module { part: Some(kind), .. } => {
                self.found[at].as_ref().is_some_and(|f| f.kind == *kind)
            }
            _ => false,
        };
        self.agrees(at, slot) && (!stopped || by_part)
    }

    /// Slots whose module does not run and is not moved: it is the planned one, or is known not to run.
    pub fn at_rest(&self) -> Vec<usize> {
        let stopped = |slot: &usize| self.found[*slot].as_ref().is_some_and(|found| !found.runs);
        let own = |slot: &usize| match &self.asked[*slot] {
            Asked::Idle => true,
            Asked::Module { .. } => self.agrees(*slot, *slot),
            _ => false,
        };
        (0..self.found.len()).filter(stopped).filter(own).collect()
    }

    pub fn settled(&self) -> Vec<usize> {
        self.at_rest().into_iter().filter(|slot| matches!(self.asked[*slot], Asked::Module { .. })).collect()
    }

    pub fn places(&self) -> Vec<usize> {
        let settled = self.settled();
        let asked = |slot: &usize| matches!(self.asked[*slot], Asked::Module { .. });
        (0..self.asked.len()).filter(asked).filter(|slot| !settled.contains(slot)).collect()
    }

    pub fn modules(&self) -> Vec<usize> {
        let rest = self.at_rest();
        (0..self.found.len()).filter(|slot| self.found[*slot].is_some() && !rest.contains(slot)).collect()
    }

    pub fn fitting(&self, at: usize) -> Vec<usize> {
        self.places().into_iter().filter(|slot| self.can_be(at, *slot)).collect()
    }

    /// Does the steps one by one; the number of modules from the box.
    pub fn perform(&self, steps: &[Step]) -> usize {
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
                StepKind::Replace => {
                    fetched += 1;
                    assert!(board.insert(slot, None).is_some(), "nothing to exchange: {step:?}");
                }
                StepKind::Fit => {
                    fetched += 1;
                    assert!(board.insert(slot, None).is_none(), "onto a module: {step:?}");
                }
                StepKind::Reseat => assert!(board.contains_key(&slot), "nothing in {slot}"),
                StepKind::Check => {}
                other => panic!("a step that cannot be done: {other:?}"),
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
