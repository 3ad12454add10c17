//! The fault campaign: each real listing is taken as the truth, its plan derived, one thing changed in its
//! text, and the audit must name that one thing and nothing else.

use std::collections::BTreeMap;
use std::fmt::Write;

use asfitted::audit::FindingKind;
use asfitted::plan;
use asfitted::population;
use asfitted::records;
use asfitted::records::enums::ProcessorStatus;

use crate::util::corpus;
use crate::util::faults::{Change, Expected, FIELDS, Machine, judge, tell};

/// One change, or one group of them, and what must be found.
struct Fault {
    name: &'static str,
    changes: Vec<Change>,
    expected: Vec<Expected>,
}

struct Case<'c, 'a> {
    machine: &'c Machine<'c, 'a>,
    turn: usize,
}

impl Case<'_, '_> {
    /// A slot that differs from listing to listing, so that first and last ones get their turn.
    fn pick(&self, salt: usize) -> usize {
        let fitted = &self.machine.fitted;
        fitted[(self.machine.listing.devices.len() * 7 + salt + self.turn) % fitted.len()]
    }

    /// One `missing` for each slot, of those that are one finding too. One listing of the 937 shows a module on a socket
    /// that it reports as unpopulated; once that socket has no module left, the empty socket is the cause.
    fn missing(&self, slots: &[usize]) -> Vec<Expected> {
        let (mut result, mut without_cpu) = (Vec::new(), Vec::new());
        for slot in slots {
            let left = self.machine.socket_of(*slot).iter().any(|other| !slots.contains(other));
            let socket = self.machine.at(*slot).socket;
            let unpopulated = self.machine.population.sockets.iter().any(|s| {
                socket.is_some() && s.number == socket && s.status == Some(ProcessorStatus::Unpopulated)
            });
            if unpopulated && !left {
                without_cpu.push(self.machine.name(*slot));
            } else {
                result.push(Expected::at(FindingKind::Missing, self.machine.name(*slot)));
            }
        }
        if !without_cpu.is_empty() {
            result.push(Expected::new(FindingKind::NoCpu, without_cpu));
        }
        result
    }

    fn faults(&self) -> Vec<Fault> {
        let machine = self.machine;
        let mut changes = Vec::new();
        let one = self.pick(0);
        if let Some(like) = machine.empty.first() {
            changes.push(Change::Removed { slot: one, like: Some(*like) });
            let to = machine.empty[(machine.listing.devices.len() * 5 + self.turn) % machine.empty.len()];
            if !machine.is_nameless(to) {
                changes.push(Change::Moved { from: one, to });
                changes.push(Change::Added { from: one, to });
            }
        }
        changes.push(Change::Removed { slot: self.pick(1), like: None });
        changes.extend(machine.swap(0));
        changes
            .extend((0..FIELDS.len()).filter_map(|field| machine.other_field(field, self.pick(2 + field))));
        changes.extend(machine.slowed());
        changes.extend(machine.half_seated(self.pick(8)));
        let single = |change: Change| Fault {
            name: change.name(),
            expected: self.expected(&change),
            changes: vec![change],
        };
        let mut faults: Vec<Fault> = changes.into_iter().map(single).collect();
        faults.extend(self.groups());
        faults
    }

    /// What must be found of one change.
    fn expected(&self, change: &Change) -> Vec<Expected> {
        let name = |slot: usize| self.machine.name(slot);
        match change {
            Change::Removed { slot, .. } => self.missing(&[*slot]),
            Change::Moved { from, to } => vec![Expected::wrong_slot(name(*to), name(*from))],
            Change::Added { to, .. } => vec![Expected::at(FindingKind::Unplanned, name(*to))],
            Change::Swapped { a, b } => {
                vec![Expected::wrong_slot(name(*a), name(*b)), Expected::wrong_slot(name(*b), name(*a))]
            }
            Change::Field { slot, key, .. } => {
                let word = match *key {
                    "Size" => "size",
                    "Rank" => "ranks",
                    "Part Number" => "part",
                    "Type" => "type",
                    _ => "rated",
                };
                vec![Expected::at(FindingKind::WrongModule, name(*slot)).with(vec![word])]
            }
            Change::Half { slot } => vec![Expected::at(FindingKind::NotRunning, name(*slot))],
            Change::Slowed { .. } => {
                let slots = self.machine.fitted.iter().map(|slot| name(*slot)).collect();
                vec![Expected::new(FindingKind::ClockedDown, slots).with(vec!["speed"])]
            }
            Change::NoProcessor { slots, .. } => {
                let slots = slots.iter().map(|slot| name(*slot)).collect();
                vec![Expected::new(FindingKind::NoCpu, slots)]
            }
        }
    }

    /// All modules of one channel, and of one processor, while others remain.
    fn groups(&self) -> Vec<Fault> {
        let first = self.pick(7);
        let like = self.machine.empty.first().copied();
        let groups = [
            ("all modules of a processor removed", self.machine.socket_of(first)),
            ("all modules of a channel removed", self.machine.channel_of(first)),
        ];
        let some = |(_, slots): &(&str, Vec<usize>)| {
            self.machine.at(first).socket.is_some()
                && !slots.is_empty()
                && slots.len() < self.machine.fitted.len()
        };
        let fault = |(name, slots): (&'static str, Vec<usize>)| Fault {
            name,
            expected: self.missing(&slots),
            changes: slots.into_iter().map(|slot| Change::Removed { slot, like }).collect(),
        };
        groups.into_iter().filter(some).map(fault).collect()
    }
}

#[derive(Default)]
struct Tally {
    cases: u32,
    found: u32,
    blamed: u32,
    first_failure: Option<String>,
}

impl Tally {
    fn count(&mut self, machine: &Machine<'_, '_>, name: &str, fault: &Fault) {
        let told = tell(name, machine.changed(&fault.changes), machine.plan);
        let findings = told.as_ref().map_or(&[][..], |told| told.findings.as_slice());
        let (found, blamed) = judge(findings, &fault.expected);
        self.cases += 1;
        self.found += u32::from(found);
        self.blamed += blamed;
        if !found || blamed > 0 {
            self.first_failure
                .get_or_insert_with(|| format!("{name}: expected {:?}, got {told:#?}", fault.expected));
        }
        // Expectations of several changes are searched; of one, or of a group, they are what is written here.
        if let Some(readings) = machine.readings(&fault.changes) {
            let mut written = fault.expected.clone();
            written.sort();
            assert_eq!(readings, [written], "{name}: {}", fault.name);
        }
    }
}

#[test]
fn every_fault_is_found_and_nothing_else_is_blamed() {
    let mut tallies: BTreeMap<&str, Tally> = BTreeMap::new();
    let mut listings_used = 0;
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let plan = plan::from_population(&listings[0], &population, false).plan;
        let Some(machine) = Machine::of(text, &listings[0], &population, &plan) else { continue };
        listings_used += 1;
        let before = tell(text.name(), text.as_str().to_owned(), &plan).unwrap();
        assert_eq!(judge(&before.findings, &[]), (true, 0), "{}", text.name());
        // One slot per listing and fault by default; every slot in turn when asked to be thorough.
        let turns = if std::env::var_os("ASFITTED_THOROUGH").is_some() { machine.fitted.len() } else { 1 };
        for turn in 0..turns {
            for fault in (Case { machine: &machine, turn }).faults() {
                tallies.entry(fault.name).or_default().count(&machine, text.name(), &fault);
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
    assert_eq!(tallies.len(), 14);
    assert!(listings_used > 800);
}
