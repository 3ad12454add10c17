//! The fault campaign: each real listing is taken as the truth, its plan derived, one thing changed in its
//! text, and the audit must name that one thing and nothing else.

use std::collections::BTreeMap;
use std::fmt::Write;

use asfitted::audit::{Finding, FindingKind};
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::population::{self, Population, Slot, SlotState};
use asfitted::records::enums::ProcessorStatus;
use asfitted::records::{self, Listing, MemoryDevice};

use crate::util::corpus;
use crate::util::edit::Lines;

/// What must be found: kind, slots, where it belongs, field that must be among those named.
type Expected = (FindingKind, Vec<String>, Option<String>, Option<&'static str>);

/// One change and what it must lead to.
struct Fault {
    name: &'static str,
    text: String,
    expected: Vec<Expected>,
}

struct Case<'c, 'a> {
    listing: &'c Listing<'a>,
    population: &'c Population<'a>,
    lines: Lines,
    fitted: Vec<usize>,
    empty: Vec<usize>,
    turn: usize,
}

impl<'c, 'a> Case<'c, 'a> {
    fn device(&self, slot: usize) -> &'c MemoryDevice<'a> {
        &self.listing.devices[self.population.slots[slot].device]
    }

    fn name(&self, slot: usize) -> String {
        self.population.slots[slot].name.to_string()
    }

    fn slot(&self, slot: usize) -> &'c Slot<'a> {
        &self.population.slots[slot]
    }

    /// A slot that differs from listing to listing, so that first and last ones get their turn.
    fn pick(&self, salt: usize) -> usize {
        self.fitted[(self.listing.devices.len() * 7 + salt + self.turn) % self.fitted.len()]
    }

    fn fault(&self, name: &'static str, expected: Vec<Expected>, change: impl FnOnce(&mut Lines)) -> Fault {
        let mut lines = self.lines.clone();
        change(&mut lines);
        Fault { name, text: lines.text(), expected }
    }

    /// One `missing` for each slot, of those that are one finding too. One listing of the 937 shows a module on a socket that it reports as
    /// unpopulated; once that socket has no module left, the empty socket is the cause.
    fn missing(&self, slots: &[usize]) -> Vec<Expected> {
        let (mut result, mut without_cpu) = (Vec::new(), Vec::new());
        for slot in slots {
            let socket = self.slot(*slot).location.socket;
            let same = |other: &&usize| self.slot(**other).location.socket == socket;
            let left = self.fitted.iter().filter(same).any(|other| !slots.contains(other));
            let unpopulated = self.population.sockets.iter().any(|s| {
                socket.is_some() && s.number == socket && s.status == Some(ProcessorStatus::Unpopulated)
            });
            if unpopulated && !left {
                without_cpu.push(self.name(*slot));
            } else {
                result.push((FindingKind::Missing, vec![self.name(*slot)], None, None));
            }
        }
        if !without_cpu.is_empty() {
            result.push((FindingKind::NoCpu, without_cpu, None, None));
        }
        result
    }

    fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let source = &self.lines;
        let one = self.pick(0);
        if let Some(like) = self.empty.first() {
            faults.push(self.fault(
                "removed, as this listing prints empty slots",
                self.missing(&[one]),
                |lines| {
                    lines.empty_like(self.device(one), self.device(*like), source);
                },
            ));
            let to = self.empty[(self.listing.devices.len() * 5 + self.turn) % self.empty.len()];
            if !has_placeholder_label(self.slot(to)) {
                let moved = (FindingKind::WrongSlot, vec![self.name(to)], Some(self.name(one)), None);
                faults.push(self.fault("moved to an empty slot", vec![moved], |lines| {
                    lines.copy_module(self.device(one), self.device(to), source);
                    lines.empty_like(self.device(one), self.device(to), source);
                }));
                let added = (FindingKind::Unplanned, vec![self.name(to)], None, None);
                faults.push(self.fault("added", vec![added], |lines| {
                    lines.copy_module(self.device(one), self.device(to), source);
                }));
            }
        }
        let other = self.pick(1);
        faults.push(self.fault(
            "removed, as release 3.4 prints empty slots",
            self.missing(&[other]),
            |lines| {
                lines.empty_short(self.device(other), source);
            },
        ));
        faults.extend(self.swap());
        faults.extend(self.changed_fields());
        faults.extend(self.slowed());
        faults.extend(self.groups());
        faults
    }

    /// Two modules that differ in something stated, each way.
    fn swap(&self) -> Option<Fault> {
        let unlike = |a: usize, b: usize| {
            let (a, b) = (self.slot(a).fitted()?, self.slot(b).fitted()?);
            let differ = a.bytes().zip(b.bytes()).is_some_and(|(a, b)| a != b)
                || a.part.as_deref().zip(b.part.as_deref()).is_some_and(|(a, b)| a != b)
                || a.ranks.zip(b.ranks).is_some_and(|(a, b)| a != b);
            differ.then_some(())
        };
        let (a, b) = self
            .fitted
            .iter()
            .find_map(|a| self.fitted.iter().rev().find(|b| unlike(*a, **b).is_some()).map(|b| (*a, *b)))?;
        let expected = vec![
            (FindingKind::WrongSlot, vec![self.name(a)], Some(self.name(b)), None),
            (FindingKind::WrongSlot, vec![self.name(b)], Some(self.name(a)), None),
        ];
        let source = &self.lines;
        Some(self.fault("two unlike modules swapped", expected, |lines| {
            lines.copy_module(self.device(a), self.device(b), source);
            lines.copy_module(self.device(b), self.device(a), source);
        }))
    }

    fn changed_fields(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut change = |name, salt, key: &'static str, field, new: &dyn Fn(&str) -> Option<String>| {
            let slot = self.pick(salt);
            let device = self.device(slot);
            let Some(value) = self.lines.value(device, key).and_then(|old| new(&old)) else { return };
            let expected = vec![(FindingKind::WrongModule, vec![self.name(slot)], None, Some(field))];
            faults.push(self.fault(name, expected, |lines| lines.set(device, key, &value)));
        };
        change("size changed", 2, "Size", "size", &|old| {
            let (number, unit) = old.split_once(' ')?;
            let number: u64 = number.parse().ok()?;
            if number == 32767 {
                return None;
            }
            Some(if number.is_multiple_of(2) {
                format!("{} {unit}", number / 2)
            } else {
                format!("{} {unit}", number * 2)
            })
        });
        change("ranks changed", 3, "Rank", "ranks", &|old| {
            old.parse::<u8>().ok().map(|ranks| if ranks == 2 { "1" } else { "2" }.to_owned())
        });
        change("part number changed", 4, "Part Number", "part", &|old| {
            population::identity::clean_part(old)?;
            let last = old.chars().next_back()?;
            Some(format!("{}{}", old.strip_suffix(last)?, if last == '7' { '8' } else { '7' }))
        });
        change("type changed", 5, "Type", "type", &|old| {
            if matches!(old, "Other" | "Unknown" | "<OUT OF SPEC>" | "Reserved") {
                return None;
            }
            Some(if old == "DDR4" { "DDR3" } else { "DDR4" }.to_owned())
        });
        change("rated speed changed", 6, "Speed", "rated", &|old| {
            let (number, unit) = old.split_once(' ')?;
            let number: u32 = number.parse().ok()?;
            Some(format!("{} {unit}", if number.abs_diff(1333) <= 2 { 1600 } else { 1333 }))
        });
        faults
    }

    fn slowed(&self) -> Option<Fault> {
        const GRADES: &[u32] =
            &[400, 533, 667, 800, 1066, 1333, 1600, 1866, 2133, 2400, 2666, 2933, 3200, 4000, 4800];
        let key = ["Configured Memory Speed", "Configured Clock Speed"]
            .into_iter()
            .find(|key| self.lines.value(self.device(self.fitted[0]), key).is_some())?;
        let speeds: Option<Vec<u32>> =
            self.fitted.iter().map(|slot| self.slot(*slot).fitted()?.configured.map(|rate| rate.0)).collect();
        let now = *speeds?.iter().min()?;
        // Half of the rating and less is left out: below what a generation's modules are sold at it is the clock in MHz
        // that older firmware prints in place of the rate, or no speed of that generation, and no fault.
        let rated = self.fitted.iter().filter_map(|slot| Some(self.slot(*slot).fitted()?.rated?.0)).max();
        let is_speed = |grade: u32| rated.is_none_or(|rated| grade * 2 > rated + 2);
        let slow = GRADES.iter().rfind(|grade| **grade + 10 < now && is_speed(**grade))?;
        let names = self.fitted.iter().map(|slot| self.name(*slot)).collect();
        Some(self.fault(
            "configured speed lowered everywhere",
            vec![(FindingKind::ClockedDown, names, None, Some("speed"))],
            |lines| {
                for slot in &self.fitted {
                    lines.set(self.device(*slot), key, &format!("{slow} MT/s"));
                }
            },
        ))
    }

    /// All modules of one channel, and of one processor, while others remain.
    fn groups(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let first = self.slot(self.pick(7)).location;
        let source = &self.lines;
        let mut remove = |name, slots: Vec<usize>| {
            if slots.is_empty() || slots.len() == self.fitted.len() {
                return;
            }
            faults.push(self.fault(name, self.missing(&slots), |lines| {
                for slot in &slots {
                    match self.empty.first() {
                        Some(like) => lines.empty_like(self.device(*slot), self.device(*like), source),
                        None => lines.empty_short(self.device(*slot), source),
                    }
                }
            }));
        };
        let of = |same: &dyn Fn(&Slot<'_>) -> bool| {
            self.fitted.iter().copied().filter(|slot| same(self.slot(*slot))).collect::<Vec<_>>()
        };
        if first.socket.is_some() {
            remove("all modules of a processor removed", of(&|slot| slot.location.socket == first.socket));
            if first.channel.is_some() {
                let same = |slot: &Slot<'_>| {
                    slot.location.socket == first.socket && slot.location.channel == first.channel
                };
                remove("all modules of a channel removed", of(&same));
            }
        }
        faults
    }
}

fn has_placeholder_label(slot: &Slot<'_>) -> bool {
    slot.name.starts_with("NO DIMM")
        || slot.name.starts_with("[Empty]")
        || slot.name.starts_with("unlabelled")
}

fn audit_text(text: &Text, plan: &Plan) -> Result<Vec<Finding>, String> {
    let listings = records::read(text);
    corpus::audited(text, &listings[0], plan).map(|audit| audit.findings).map_err(|error| error.to_string())
}

fn meets(finding: &Finding, expected: &Expected) -> bool {
    let (kind, slots, other, field) = expected;
    let mut a = finding.slots.clone();
    let mut b = slots.clone();
    a.sort();
    b.sort();
    finding.kind == *kind
        && a == b
        && finding.other_slot == *other
        && field.is_none_or(|field| finding.fields.iter().map(|f| f.word()).eq([field]))
}

#[derive(Default)]
struct Tally {
    cases: u32,
    found: u32,
    blamed: u32,
    first_failure: Option<String>,
}

/// Missing modules of one pattern are one finding; each of its slots is judged.
fn slot_by_slot(finding: &Finding) -> Vec<Finding> {
    if finding.kind != FindingKind::Missing {
        return vec![finding.clone()];
    }
    let single =
        |slot: &String| Finding { slot: Some(slot.clone()), slots: vec![slot.clone()], ..finding.clone() };
    finding.slots.iter().map(single).collect()
}

fn judge(text: &Text, plan: &Plan, fault: &Fault, tally: &mut Tally) {
    let changed = Text::from_bytes(text.name(), fault.text.clone().into_bytes()).unwrap();
    let findings = audit_text(&changed, plan);
    // A listing that was damaged before is damaged still.
    let after: Vec<Finding> = findings
        .iter()
        .flatten()
        .filter(|finding| finding.kind != FindingKind::ListingDamaged)
        .flat_map(slot_by_slot)
        .collect();
    let all = fault.expected.iter().all(|expected| after.iter().any(|finding| meets(finding, expected)));
    let others = after
        .iter()
        .filter(|finding| !fault.expected.iter().any(|expected| meets(finding, expected)))
        .count();
    tally.cases += 1;
    tally.found += u32::from(all);
    tally.blamed += u32::try_from(others).unwrap();
    if !all || others > 0 {
        tally.first_failure.get_or_insert_with(|| {
            format!("{}: expected {:?}, got {findings:#?}", text.name(), fault.expected)
        });
    }
}

#[test]
fn every_fault_is_found_and_nothing_else_is_blamed() {
    let mut tallies: BTreeMap<&str, Tally> = BTreeMap::new();
    let mut listings_used = 0;
    for text in corpus::listings() {
        let listings = records::read(text);
        let listing = &listings[0];
        let population = population::rebuild(listing);
        let of = |want: fn(&SlotState<'_>) -> bool| -> Vec<usize> {
            (0..population.slots.len()).filter(|slot| want(&population.slots[*slot].state)).collect()
        };
        let fitted = of(|state| matches!(state, SlotState::Fitted(_)));
        if fitted.len() < 2 {
            continue;
        }
        listings_used += 1;
        let plan = plan::from_population(listing, &population, false).plan;
        let before = audit_text(text, &plan).unwrap();
        assert!(before.iter().all(|f| f.kind == FindingKind::ListingDamaged), "{}", text.name());
        let empty = of(|state| matches!(state, SlotState::Empty));
        // One slot per listing and fault by default; every slot in turn when asked to be thorough.
        let turns = if std::env::var_os("ASFITTED_THOROUGH").is_some() { fitted.len() } else { 1 };
        let lines = Lines::of(text.as_str());
        for turn in 0..turns {
            let (lines, fitted, empty) = (lines.clone(), fitted.clone(), empty.clone());
            let case = Case { listing, population: &population, lines, fitted, empty, turn };
            for fault in case.faults() {
                judge(text, &plan, &fault, tallies.entry(fault.name).or_default());
            }
        }
    }
    let mut table = format!("fault campaign over {listings_used} listings with two or more modules\n");
    let _ = writeln!(table, "{:<46} {:>6} {:>6} {:>12}", "fault", "cases", "found", "false blame");
    for (name, tally) in &tallies {
        let _ = writeln!(table, "{name:<46} {:>6} {:>6} {:>12}", tally.cases, tally.found, tally.blamed);
    }
    println!("{table}");
    for (name, tally) in &tallies {
        let failure = tally.first_failure.as_deref().unwrap_or("");
        assert_eq!((tally.found, tally.blamed), (tally.cases, 0), "{name}: {failure}\n{table}");
        assert!(tally.cases > 50, "{name}: only {} cases", tally.cases);
    }
    assert_eq!(tallies.len(), 13);
    assert!(listings_used > 800);
}
