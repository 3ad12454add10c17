//! Two states of one machine side by side, slot by slot: two populations, or a plan and a population.

use std::collections::{HashMap, HashSet};

use crate::plan::{Demand, ModuleSpec, Plan, agreement};
use crate::population::identity::{clean, collapse};
use crate::population::{Module, Population, SlotState};
use crate::records::{Field, Listing};
use crate::units::Bytes;

/// The fields that are compared, in the order in which they are shown.
pub const COMPARED: &[&str] =
    &["state", "size", "type", "kind", "ranks", "rated", "configured", "voltage", "maker", "part", "serial"];

/// One side of a slot: for each of [`COMPARED`], its text; `None` where it is not stated or not demanded.
pub type Side = Vec<Option<String>>;

/// What happened to a slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ChangeKind {
    /// The module is gone.
    Gone,
    /// A module is new.
    New,
    /// The module came from another slot.
    Moved,
    /// The slot's content differs in some fields.
    Changed,
    /// The slot is listed on one side only.
    Unlisted,
}

impl ChangeKind {
    /// The kind's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Gone => "gone",
            Self::New => "new",
            Self::Moved => "moved",
            Self::Changed => "changed",
            Self::Unlisted => "unlisted",
        }
    }
}

/// One slot that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// The slot.
    pub slot: String,
    /// What happened.
    pub kind: ChangeKind,
    /// For a moved module, the slot where it was before.
    pub from: Option<String>,
    /// For a new module that nothing tells from others: how many the machine had that are like it; else 0.
    pub alike: usize,
    /// Names out of [`COMPARED`] that differ.
    pub fields: Vec<&'static str>,
    /// The side before.
    pub before: Side,
    /// The side after.
    pub after: Side,
}

/// The differences of two states.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// Slots that differ, in the order of the second state.
    pub changes: Vec<Change>,
    /// Number of slots that are the same.
    pub same: usize,
}

/// Whether two listings are of different machines, by the serial numbers that both state, else by their
/// products: what differs, as a sentence.
pub fn other_machine(before: &Listing<'_>, after: &Listing<'_>) -> Option<String> {
    type Mark = for<'l, 'a> fn(&'l Listing<'a>) -> Option<Field<&'a str>>;
    let marks: [(&str, Mark); 4] = [
        ("serial number", |l| l.systems.first().map(|s| s.serial)),
        ("serial number of the board", |l| l.boards.first().map(|b| b.serial)),
        ("product", |l| l.systems.first().map(|s| s.product)),
        ("product of the board", |l| l.boards.first().map(|b| b.product)),
    ];
    for (what, of) in marks {
        let stated = |listing: &Listing<'_>| -> Option<(String, u32)> {
            let field = of(listing)?;
            let text = collapse(clean(field.get()?)?).into_owned();
            Some((text, field.place()?.line))
        };
        if let (Some((a, line_a)), Some((b, line_b))) = (stated(before), stated(after)) {
            // Where the first of these that both state agrees, the others add nothing.
            return (!a.eq_ignore_ascii_case(&b)).then(|| {
                format!(
                    "the listings are of different machines: {what} {a} in line {line_a} of the first, {b} in line {line_b} of the second"
                )
            });
        }
    }
    None
}

/// Compares two populations of one machine.
pub fn populations(before: &Population<'_>, after: &Population<'_>) -> Comparison {
    let sides = |population: &Population<'_>| -> Vec<(String, Side)> {
        population.slots.iter().map(|slot| (slot.name.to_string(), side_of(&slot.state))).collect()
    };
    compare(&sides(before), &sides(after), false)
}

/// Compares a plan with a population; only what the plan demands is compared, in the slots it names.
pub fn plan_with(plan: &Plan, population: &Population<'_>) -> Comparison {
    let speed = plan.expect.speed.map(|rate| rate.to_string());
    let before: Vec<(String, Side)> = plan
        .slots
        .iter()
        .map(|planned| {
            let side = match &planned.demand {
                Demand::Empty => state_only("empty"),
                Demand::Idle => state_only("not-running"),
                Demand::Module(wanted) => wanted_side(wanted, speed.clone()),
            };
            (planned.slot.clone(), side)
        })
        .collect();
    let sides: HashMap<&str, &Side> = before.iter().map(|(name, side)| (name.as_str(), side)).collect();
    let demands = plan.demands();
    let after: Vec<(String, Side)> = population
        .slots
        .iter()
        .map(|slot| {
            let mut side = side_of(&slot.state);
            match sides.get(slot.name.as_ref()) {
                // What the plan leaves out of a module is not compared.
                Some(wanted) if wanted[0].as_deref() == Some("fitted") => {
                    for (found, wanted) in side.iter_mut().zip(*wanted) {
                        if wanted.is_none() {
                            *found = None;
                        }
                    }
                    harmonise(&mut side, plan, demands.get(slot.name.as_ref()).copied(), slot.module());
                }
                // A slot that should be idle is compared by its state alone.
                Some(wanted) if wanted[0].as_deref() == side[0].as_deref() => side.clone_from(wanted),
                None if slot.module().is_none() => side = state_only("empty"),
                _ => {}
            }
            (slot.name.to_string(), side)
        })
        .collect();
    compare(&before, &after, true)
}

/// Fields that do not contradict the plan by the audit's rules are written alike: spellings of one grade or one maker
/// are no differences, and what the listing does not state is none either.
fn harmonise(side: &mut Side, plan: &Plan, demand: Option<&Demand>, module: Option<&Module<'_>>) {
    let (Some(Demand::Module(wanted)), Some(module)) = (demand, module) else {
        return;
    };
    let differing = agreement::contradicted_fields(wanted, module);
    let own = wanted_side(wanted, plan.expect.speed.map(|rate| rate.to_string()));
    for ((field, found), wanted_text) in COMPARED.iter().zip(side.iter_mut()).zip(own) {
        let differs = match *field {
            "state" => continue,
            "configured" => match (plan.expect.speed, module.configured) {
                (Some(expected), Some(rate)) => !rate.same_grade(expected),
                _ => false,
            },
            field => differing.contains(&field),
        };
        if !differs {
            *found = wanted_text;
        }
    }
}

fn state_only(state: &str) -> Side {
    let mut side = vec![None; COMPARED.len()];
    side[0] = Some(state.to_owned());
    side
}

fn side_of(state: &SlotState<'_>) -> Side {
    let (word, module) = match state {
        SlotState::Empty => return state_only("empty"),
        SlotState::Unknown => return state_only("unknown"),
        SlotState::Fitted(module) => ("fitted", module),
        SlotState::NotRunning(module) => ("not-running", module),
    };
    vec![
        Some(word.to_owned()),
        module.bytes().map(Bytes::exact),
        module.memory_type.map(|v| v.to_string()),
        module.kind.map(|v| v.to_string()),
        module.ranks.map(|v| v.to_string()),
        module.rated.map(|v| v.to_string()),
        module.configured.map(|v| v.to_string()),
        module.voltage.map(|v| v.to_string()),
        module.maker.map(|v| v.name().to_owned()),
        module.part.as_deref().map(str::to_owned),
        module.serial.map(str::to_owned),
    ]
}

fn wanted_side(wanted: &ModuleSpec, speed: Option<String>) -> Side {
    vec![
        Some("fitted".to_owned()),
        wanted.size.map(Bytes::exact),
        wanted.memory_type.map(|v| v.to_string()),
        wanted.kind.map(|v| v.to_string()),
        wanted.ranks.map(|v| v.to_string()),
        wanted.rated.map(|v| v.to_string()),
        speed,
        wanted.voltage.map(|v| v.to_string()),
        wanted.maker.clone(),
        wanted.part.clone(),
        wanted.serial.clone(),
    ]
}

fn compare(before: &[(String, Side)], after: &[(String, Side)], one_sided: bool) -> Comparison {
    let sides: HashMap<&str, &Side> = before.iter().map(|(name, side)| (name.as_str(), side)).collect();
    let there: HashSet<&str> = after.iter().map(|(name, _)| name.as_str()).collect();
    let mut changes = Vec::new();
    let mut same = 0;
    for (slot, now) in after {
        let Some(was) = sides.get(slot.as_str()).copied() else {
            if one_sided && now[0].as_deref() != Some("fitted") {
                same += 1;
                continue;
            }
            let kind = if one_sided { ChangeKind::New } else { ChangeKind::Unlisted };
            changes.push(change(slot, kind, state_only("unlisted"), now.clone()));
            continue;
        };
        if was == now {
            same += 1;
            continue;
        }
        let holds = |side: &Side| side[0].as_deref() == Some("fitted");
        let kind = match (holds(was), holds(now)) {
            (true, false) => ChangeKind::Gone,
            (false, true) => ChangeKind::New,
            _ => ChangeKind::Changed,
        };
        changes.push(change(slot, kind, was.clone(), now.clone()));
    }
    for (slot, was) in before {
        if !there.contains(slot.as_str()) {
            changes.push(change(slot, ChangeKind::Unlisted, was.clone(), state_only("unlisted")));
        }
    }
    if !one_sided {
        find_moves(&mut changes, before);
    }
    Comparison { changes, same }
}

fn change(slot: &str, kind: ChangeKind, before: Side, after: Side) -> Change {
    let fields = COMPARED
        .iter()
        .zip(before.iter().zip(&after))
        .filter(|(_, (before, after))| before != after)
        .map(|(field, _)| *field)
        .collect();
    Change { slot: slot.to_owned(), kind, from: None, alike: 0, fields, before, after }
}

/// What a module is: the configured speed and voltage are the board's and do not count.
fn identity(side: &Side) -> Side {
    let own = side.iter().zip(COMPARED).filter(|(_, field)| !matches!(**field, "configured" | "voltage"));
    own.map(|(value, _)| value.clone()).collect()
}

/// A module that is gone here and new there is one that moved, if it can be told from all others: where several are
/// alike and none states a serial number, nobody can say which of them it is.
fn find_moves(changes: &mut [Change], before: &[(String, Side)]) {
    let mut counts: HashMap<Side, usize> = HashMap::new();
    for (_, side) in before.iter().filter(|(_, side)| side[0].as_deref() == Some("fitted")) {
        *counts.entry(identity(side)).or_default() += 1;
    }
    let gone: Vec<(String, Side)> = changes
        .iter()
        .filter(|c| matches!(c.kind, ChangeKind::Gone | ChangeKind::Changed))
        .filter(|c| c.before[0].as_deref() == Some("fitted"))
        .map(|c| (c.slot.clone(), identity(&c.before)))
        .collect();
    let mut taken: Vec<&str> = Vec::new();
    for change in changes.iter_mut() {
        let came = matches!(change.kind, ChangeKind::New | ChangeKind::Changed)
            && change.after[0].as_deref() == Some("fitted")
            && identity(&change.before) != identity(&change.after);
        if !came {
            continue;
        }
        let now = identity(&change.after);
        let alike = counts.get(&now).copied().unwrap_or(0);
        if alike > 1 {
            change.alike = alike;
            continue;
        }
        let source = gone
            .iter()
            .find(|(slot, was)| *was == now && *slot != change.slot && !taken.contains(&slot.as_str()));
        if let Some((slot, _)) = source {
            taken.push(slot);
            change.kind = ChangeKind::Moved;
            change.from = Some(slot.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::{plan, population, records};

    fn listing(slots: &[(&str, &str, &str)]) -> Text {
        let body: String = slots
            .iter()
            .zip(1u16..)
            .map(|((name, size, part), handle)| {
                format!(
                    "Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: {name}\n\tPart Number: {part}\n\n"
                )
            })
            .collect();
        Text::from_bytes("t", body.into_bytes()).unwrap()
    }

    const EMPTY: &str = "No Module Installed";

    fn words(before: &Text, after: &Text) -> Vec<(String, &'static str, Option<String>)> {
        let (a, b) = (records::read(before), records::read(after));
        let (a, b) = (population::rebuild(&a[0]), population::rebuild(&b[0]));
        populations(&a, &b).changes.into_iter().map(|c| (c.slot, c.kind.word(), c.from)).collect()
    }

    #[test]
    fn a_moved_module_is_no_loss() {
        let before = listing(&[("A1", "8 GB", "M393X1"), ("A2", EMPTY, "NO DIMM")]);
        let after = listing(&[("A1", EMPTY, "NO DIMM"), ("A2", "8 GB", "M393X1")]);
        let want = [("A1".to_owned(), "gone", None), ("A2".to_owned(), "moved", Some("A1".to_owned()))];
        assert_eq!(words(&before, &after), want);
        assert!(words(&before, &before).is_empty());
    }

    /// Of modules that nothing tells apart, nobody can say which one moved.
    #[test]
    fn modules_that_are_alike_have_no_invented_ways() {
        let before = listing(&[("A1", "8 GB", "M393X1"), ("A2", "8 GB", "M393X1"), ("A3", EMPTY, "NO DIMM")]);
        let after = listing(&[("A1", EMPTY, "NO DIMM"), ("A2", "8 GB", "M393X1"), ("A3", "8 GB", "M393X1")]);
        let want = [("A1".to_owned(), "gone", None), ("A3".to_owned(), "new", None)];
        assert_eq!(words(&before, &after), want);
        let (a, b) = (records::read(&before), records::read(&after));
        let (a, b) = (population::rebuild(&a[0]), population::rebuild(&b[0]));
        assert_eq!(populations(&a, &b).changes[1].alike, 2);
    }

    #[test]
    fn what_is_not_stated_is_not_different() {
        let text = listing(&[("A1", "8 GB", "M393X1"), ("A2", "4 GB", "M393X1")]);
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let plan = "fit:\n  - module: 8GB 1Rx4 PC3-10600R\n    slots: [A1, A2]\nexpect: {speed: 1333}\n";
        let changes = plan_with(&plan::read("p", plan).unwrap(), &population).changes;
        assert_eq!(changes.len(), 1, "{changes:?}");
        assert_eq!((changes[0].slot.as_str(), &changes[0].fields[..]), ("A2", &["size"][..]));
    }

    #[test]
    fn a_plan_compares_only_what_it_demands() {
        let text = listing(&[("A1", "8 GB", "M393X1"), ("A2", "4 GB", "M393X2")]);
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let plan = plan::read("p", "fit:\n  - module: 8GB\n    slots: [A1]\nempty: [A2]\n").unwrap();
        let changes = plan_with(&plan, &population).changes;
        assert_eq!(changes.len(), 1);
        assert_eq!((changes[0].slot.as_str(), changes[0].kind), ("A2", ChangeKind::New));
    }
}
