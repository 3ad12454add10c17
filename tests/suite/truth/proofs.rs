//! A verdict is the sum of proofs: what must hold of demands, findings and verdicts over the real listings.

use std::collections::HashSet;

use asfitted::audit::{Audit, Decision, FindingKind, Severity, Subject, Verdict};
use asfitted::evidence::Text;
use asfitted::plan::{self, Demand, DemandField, Plan};
use asfitted::population;
use asfitted::records;

use crate::util::{corpus, others};

/// One server's listing out of so many is taken by default, and one of other machines, all of them when asked to be
/// thorough.
const STEP: usize = 9;
const OTHER_STEP: usize = 19;

fn sample() -> impl Iterator<Item = &'static Text> {
    let thorough = std::env::var_os("ASFITTED_THOROUGH").is_some();
    let step = |step| if thorough { 1 } else { step };
    corpus::listings().iter().step_by(step(STEP)).chain(others::listings().iter().step_by(step(OTHER_STEP)))
}

fn derived(text: &Text, any_serial: bool) -> Option<Plan> {
    let listings = records::read(text);
    let population = population::rebuild(&listings[0]);
    let plan = plan::from_population(&listings[0], &population, any_serial).plan;
    (!plan.slots.is_empty()).then_some(plan)
}

/// The audit of a changed text, `None` where the plan is not for it or it holds several listings.
fn judged(name: &str, lines: &[&str], plan: &Plan) -> Option<Audit> {
    let text = Text::from_bytes(name, (lines.join("\n") + "\n").into_bytes()).ok()?;
    let listings = records::read(&text);
    if listings.len() != 1 {
        return None;
    }
    corpus::audited(&text, &listings[0], plan).ok()
}

/// Demands and findings are two views of one comparison: what is contradicted has a fault, what is open is named as
/// unproven, and a finding about something demanded leaves it not met.
fn agree(name: &str, audit: &Audit, plan: &Plan) {
    let proof = &audit.proof;
    let sum: usize = Decision::ALL.iter().map(|decision| proof.count(*decision)).sum();
    assert_eq!(sum, proof.demands.len(), "{name}");
    assert_eq!(audit.verdict, Verdict::of(&audit.findings), "{name}: {:#?}", audit.findings);
    let all_met = proof.count(Decision::Met) == sum;
    assert!(audit.verdict != Verdict::AsPlanned || all_met, "{name}");
    let mut once = HashSet::new();
    for demand in &proof.demands {
        assert!(once.insert((demand.subject, &demand.slot, demand.field)), "{name}: twice {demand:?}");
        assert_eq!(demand.missing.is_some(), demand.decision == Decision::Open, "{name}: {demand:?}");
        let about = |finding: &&asfitted::audit::Finding| {
            let here = demand.slot.as_deref().is_none_or(|slot| finding.is_at(slot));
            let field = finding.fields.is_empty() || finding.fields.iter().any(|f| f.word() == demand.field);
            match demand.subject {
                Subject::Module | Subject::Empty => here,
                Subject::Machine => finding.fields.contains(&DemandField::Machine),
                // What a lost module takes from the total is said where the module is missed.
                Subject::Total => {
                    finding.fields.contains(&DemandField::Total) || field || !finding.slots.is_empty()
                }
                _ => field && !finding.fields.is_empty(),
            }
        };
        let mut faults = audit.findings.iter().filter(|f| f.severity() == Severity::Fault);
        let mut open = audit.findings.iter().filter(|f| f.kind == FindingKind::Unproven);
        match demand.decision {
            Decision::Contradicted => {
                assert!(faults.any(|f| about(&f)), "{name}: no fault about {demand:#?}");
            }
            Decision::Open => {
                // What a module leaves open that is the wrong one, or in the wrong slot, is said of that slot.
                let elsewhere = faults.any(|f| about(&f));
                assert!(elsewhere || open.any(|f| about(&f)), "{name}: nothing about {demand:#?}");
            }
            Decision::Met => {}
        }
    }
    let is_met = |word: &str, slot: Option<&str>| {
        proof.demands.iter().any(|demand| {
            demand.field == word && demand.slot.as_deref() == slot && demand.decision == Decision::Met
        })
    };
    for finding in audit.findings.iter().filter(|finding| finding.kind == FindingKind::Unproven) {
        for (slot, field) in
            finding.slots.iter().flat_map(|slot| finding.fields.iter().map(move |f| (slot, f)))
        {
            let planned_here = plan.demand(slot).is_some_and(|p| matches!(p.demand, Demand::Module(_)));
            let stays = !audit.findings.iter().any(|f| f.kind == FindingKind::WrongSlot && f.is_at(slot));
            assert!(!(planned_here && stays && is_met(field.word(), Some(slot))), "{name}: {finding:#?}");
        }
    }
    for finding in
        audit.findings.iter().filter(|f| matches!(f.kind, FindingKind::Missing | FindingKind::WrongModule))
    {
        let field = finding.fields.first().map_or("presence", |field| field.word());
        assert!(!is_met(field, finding.slot.as_deref()), "{name}: {finding:#?}");
    }
}

/// What `plan from` writes is fulfilled by its own listing, with serial numbers and without.
#[test]
fn every_derived_plan_is_proven_by_its_own_listing() {
    for text in corpus::listings().iter().chain(others::listings()) {
        for any_serial in [false, true] {
            let Some(plan) = derived(text, any_serial) else { continue };
            let listings = records::read(text);
            let audit = corpus::audited(text, &listings[0], &plan).unwrap();
            assert_eq!(audit.verdict, Verdict::AsPlanned, "{}: {:#?}", text.name(), audit.findings);
            assert!(audit.proof.demands.len() >= plan.slots.len(), "{}", text.name());
            agree(text.name(), &audit, &plan);
        }
    }
}

/// Each listing against the plan of another one: nearly everything deviates, and demands and findings agree.
#[test]
fn demands_and_findings_agree_on_strange_plans() {
    let all: Vec<&Text> = sample().collect();
    let mut judged = 0;
    for (text, other) in all.iter().zip(all.iter().skip(1)) {
        let (Some(own), Some(strange)) = (derived(text, true), derived(other, true)) else { continue };
        let listings = records::read(text);
        // The modules of the other one in the slots of this one.
        let mut plan = own.clone();
        let mut modules = strange.slots.iter().cycle();
        for planned in &mut plan.slots {
            planned.demand.clone_from(&modules.next().unwrap().demand);
        }
        plan.expect = strange.expect;
        plan.machine.asset_tag = Some("TAG-1".to_owned());
        let audit = corpus::audited(text, &listings[0], &plan).unwrap();
        agree(text.name(), &audit, &plan);
        judged += 1;
    }
    assert!(judged > 80, "{judged}");
}

/// The records of a listing that say something of its memory, as ranges of lines.
fn records_of(lines: &[&str]) -> Vec<std::ops::Range<usize>> {
    let wanted = ["DMI type 1,", "DMI type 2,", "DMI type 4,", "DMI type 16,", "DMI type 17,"];
    let starts = (0..lines.len()).filter(|at| {
        lines[*at].starts_with("Handle ") && wanted.iter().any(|kind| lines[*at].contains(kind))
    });
    starts
        .map(|start| {
            let length = lines[start..].iter().take_while(|line| !line.trim().is_empty()).count();
            start..start + length
        })
        .collect()
}

/// Fields whose loss turns what they said of the kind of a module into another statement, not into none: see
/// docs/limits.md. Labels are left out too: a plan that names a slot which is not there is refused.
const SPEAKS_FOR_KIND: &[&str] = &[
    "Form Factor",
    "Type",
    "Type Detail",
    "Memory Technology",
    "Non-Volatile Size",
    "Locator",
    "Bank Locator",
];

/// How far a verdict is from `as planned`; a plan that is refused is furthest.
fn rank(audit: Option<&Audit>) -> u8 {
    match audit.map(|audit| audit.verdict) {
        Some(Verdict::AsPlanned) => 0,
        Some(Verdict::Unproven) => 1,
        Some(Verdict::Deviates) => 2,
        None => 3,
    }
}

/// A plan that its listing fulfils, one that it leaves open, and one that it contradicts.
fn plans(text: &Text) -> Option<[Plan; 3]> {
    let fulfilled = derived(text, false)?;
    let mut open = fulfilled.clone();
    open.machine.asset_tag = Some("TAG-1".to_owned());
    let mut contradicted = fulfilled.clone();
    contradicted.expect.total = Some(asfitted::units::Bytes::gib(1 << 14));
    Some([fulfilled, open, contradicted])
}

/// A field that is no longer stated never brings a verdict nearer to `as planned`, and never turns what is unproven
/// into a deviation. (A contradiction may become open: that is nearer to `unproven`, not to `as planned`.)
#[test]
fn what_is_no_longer_stated_proves_nothing() {
    let mut changed = 0;
    for (turn, text) in sample().enumerate() {
        let Some(plans) = plans(text) else { continue };
        let lines: Vec<&str> = text.as_str().lines().collect();
        let fields: Vec<usize> = records_of(&lines).into_iter().flat_map(|record| record.skip(2)).collect();
        for at in fields.iter().skip(turn % 13).step_by(13) {
            let Some((key, _)) = lines[*at].split_once(':') else { continue };
            if SPEAKS_FOR_KIND.contains(&key.trim()) {
                continue;
            }
            let unknown = format!("{key}: Unknown");
            let (mut blank, mut without) = (lines.clone(), lines.clone());
            blank[*at] = &unknown;
            without.remove(*at);
            for plan in &plans {
                let before = judged(text.name(), &lines, plan);
                for (how, after) in [("blank", &blank), ("gone", &without)] {
                    let name = format!("{}, line {}: {} {how}", text.name(), at + 1, lines[*at]);
                    let after = judged(&name, after, plan);
                    nearer(&name, before.as_ref(), after.as_ref());
                    if let Some(audit) = &after {
                        agree(&name, audit, plan);
                    }
                    changed += 1;
                }
            }
        }
    }
    assert!(changed > 2_000, "{changed}");
}

fn nearer(name: &str, before: Option<&Audit>, after: Option<&Audit>) {
    let findings = |audit: Option<&Audit>| audit.map(|audit| audit.findings.clone());
    let (from, to) = (rank(before), rank(after));
    assert!(to >= from.min(1), "{name}: nearer to as planned, {:#?}", findings(before));
    assert!(!(from < 2 && to == 2), "{name}: deviates, {:#?}", findings(after));
}

/// Records that are there twice, or in another order, change no verdict but to `unproven`.
#[test]
fn records_twice_or_in_another_order_prove_nothing_more() {
    let mut changed = 0;
    for (turn, text) in sample().enumerate() {
        let Some(plans) = plans(text) else { continue };
        let lines: Vec<&str> = text.as_str().lines().collect();
        let records = records_of(&lines);
        for record in records.iter().skip(turn % 5).step_by(5) {
            let mut twice = lines.clone();
            let copy: Vec<&str> = std::iter::once("").chain(lines[record.clone()].iter().copied()).collect();
            twice.splice(record.end..record.end, copy);
            for plan in &plans {
                let before = judged(text.name(), &lines, plan);
                let name = format!("{}, record at line {} twice", text.name(), record.start + 1);
                nearer(&name, before.as_ref(), judged(&name, &twice, plan).as_ref());
                changed += 1;
            }
        }
        // The last memory device first: unlike names are made unique by their order, so these are left out.
        let devices = records.iter().filter(|r| lines[r.start].contains("DMI type 17,"));
        let (Some(first), Some(last)) = (devices.clone().next(), devices.clone().next_back()) else {
            continue;
        };
        let listings = records::read(text);
        let numbered = population::rebuild(&listings[0]).slots.iter().any(|slot| slot.name.contains('#'));
        if first == last || numbered {
            continue;
        }
        let mut moved: Vec<&str> = lines[..first.start].to_vec();
        moved.extend(&lines[last.clone()]);
        moved.push("");
        moved.extend(&lines[first.start..last.start]);
        moved.extend(&lines[(last.end + 1).min(lines.len())..]);
        for plan in &plans {
            let name = format!("{}, last record first", text.name());
            let (before, after) = (judged(text.name(), &lines, plan), judged(&name, &moved, plan));
            assert_eq!(rank(before.as_ref()), rank(after.as_ref()), "{name}");
        }
    }
    assert!(changed > 500, "{changed}");
}

/// Whether slots called `NO DIMM` may be those that the plan names: then the text without a record is one that a machine
/// without a module would give.
fn has_nameless_slots(text: &Text) -> bool {
    let listings = records::read(text);
    population::rebuild(&listings[0]).slots.iter().any(population::Slot::is_nameless)
}

/// A record of which nothing is stated any more, one that is cut out, and one that is at another place prove nothing.
#[test]
fn records_that_are_blank_gone_or_elsewhere_prove_nothing_more() {
    let mut changed = 0;
    for (turn, text) in sample().enumerate() {
        let Some(plans) = plans(text) else { continue };
        let lines: Vec<&str> = text.as_str().lines().collect();
        let records = records_of(&lines);
        let nameless = has_nameless_slots(text);
        for (number, record) in records.iter().enumerate().skip(turn % 3).step_by(3) {
            let blank: Vec<String> =
                lines.iter().enumerate().map(|(at, line)| without_value(line, at, record)).collect();
            let blank: Vec<&str> = blank.iter().map(String::as_str).collect();
            let mut gone = lines.clone();
            gone.drain(record.start..(record.end + 1).min(lines.len()));
            // The record changes places with another one of its type.
            let own = title(&lines, record);
            let same: Vec<_> = records.iter().filter(|other| title(&lines, other) == own).collect();
            let swapped = exchanged(&lines, record, same[(number + turn) % same.len()]);
            for plan in &plans {
                let before = judged(text.name(), &lines, plan);
                for (how, after) in [("blank", &blank), ("gone", &gone), ("elsewhere", &swapped)] {
                    if how == "gone" && nameless {
                        continue;
                    }
                    let name = format!("{}, record at line {} {how}", text.name(), record.start + 1);
                    let after = judged(&name, after, plan);
                    nearer(&name, before.as_ref(), after.as_ref());
                    if let Some(audit) = &after {
                        agree(&name, audit, plan);
                    }
                    changed += 1;
                }
            }
        }
    }
    assert!(changed > 5_000, "{changed}");
}

/// A line of a record without what it states, but for what a slot is called and what a module is, see above.
fn without_value(line: &str, at: usize, record: &std::ops::Range<usize>) -> String {
    let field = record.contains(&at) && at > record.start + 1;
    match line.split_once(':') {
        Some((key, _)) if field && !SPEAKS_FOR_KIND.contains(&key.trim()) => format!("{key}: Unknown"),
        _ => line.to_owned(),
    }
}

fn title<'l>(lines: &[&'l str], record: &std::ops::Range<usize>) -> &'l str {
    lines.get(record.start + 1).copied().unwrap_or("")
}

/// The lines with two records in each other's places.
fn exchanged<'l>(
    lines: &[&'l str],
    one: &std::ops::Range<usize>,
    other: &std::ops::Range<usize>,
) -> Vec<&'l str> {
    let (first, last) = if one.start <= other.start { (one, other) } else { (other, one) };
    if first == last {
        return lines.to_vec();
    }
    let mut result = lines[..first.start].to_vec();
    result.extend(&lines[last.clone()]);
    result.extend(&lines[first.end..last.start]);
    result.extend(&lines[first.clone()]);
    result.extend(&lines[last.end..]);
    result
}

/// Each listing against its own plan with twice the total, cut off: it never says that memory is short, since what is
/// cut off may be the rest.
#[test]
fn what_is_cut_off_may_be_what_is_missing() {
    let mut unproven = 0;
    for (turn, text) in sample().enumerate() {
        let Some([_, _, plan]) = plans(text) else { continue };
        let lines: Vec<&str> = text.as_str().lines().collect();
        let records = records_of(&lines);
        for record in records.iter().skip(turn % 7).step_by(7) {
            let end = record.start + (record.len() * 2 / 3).max(3).min(record.len());
            let name = format!("{}, cut after line {end}", text.name());
            let cut = judged(&name, &lines[..end], &plan);
            let Some(audit) = cut else { continue };
            assert_ne!(audit.verdict, Verdict::AsPlanned, "{name}");
            let read = Text::from_bytes("cut", (lines[..end].join("\n") + "\n").into_bytes()).unwrap();
            if records::read(&read)[0].may_miss_records() {
                assert_eq!(audit.verdict, Verdict::Unproven, "{name}: {:#?}", audit.findings);
                unproven += 1;
            }
            agree(&name, &audit, &plan);
        }
    }
    assert!(unproven > 100, "{unproven}");
}
