//! Public cases of memory that was missed, with the cause that was found in the end: what the diagnosis says first of the
//! facts that are told, and how often that is the cause.
//!
//! `fixtures/cases/cases.txt` has the facts in our own words and form, each with the address of its source; what is not
//! told and had to be assumed is said there.

mod facts;
mod separating;

use std::collections::BTreeMap;

use asfitted::audit::{Severity, audit};
use asfitted::board;
use asfitted::case::Case;
use asfitted::diagnose::{FittedClaim, Shortfall, assume, diagnose};
use asfitted::evidence::Text;
use asfitted::plan::{self, Demand, Plan};
use asfitted::population;
use asfitted::records::{self, Listing};
use asfitted::sources::Sources;
use asfitted::units::{Bytes, TransferRate};

use facts::{Facts, Given, Outcome};

/// What the tool says of a case.
struct Said {
    /// The kind of the first cause of the first finding; `no-loss` where nothing is lost, `unnamed` where something is and
    /// no finding says why.
    first: String,
    /// The other causes of that finding.
    rest: Vec<String>,
    /// The kind of the first step.
    step: String,
    /// How many steps have its text.
    alike: usize,
    /// What has to be brought for the steps.
    brings: Vec<String>,
    /// Why less arrives at the stations.
    reasons: Vec<String>,
}

fn text(name: &str, body: &str) -> Text {
    Text::from_bytes(name, body.as_bytes().to_vec()).unwrap()
}

/// What someone says was fitted, as the command reads it.
fn claim(fitted: &str) -> FittedClaim {
    match Bytes::parse(fitted) {
        Some(total) => FittedClaim::Total(total),
        None => FittedClaim::Modules(vec![plan::parse_order(fitted).unwrap()]),
    }
}

/// The plan of a case that is measured against one: what is listed, at a speed, and modules that are not detected.
fn planned(given: &Given, listing: &Listing<'_>) -> Option<Plan> {
    if given.expects.is_none() && given.planned.is_empty() {
        return None;
    }
    let population = population::rebuild(listing);
    let mut plan = plan::from_population(listing, &population, false).plan;
    plan.expect.speed = given.expects.map(TransferRate);
    for (slot, yaml) in &given.planned {
        let own = plan::read("planned", yaml).unwrap();
        plan.expect.total = None;
        plan.slots.retain(|other| other.slot != *slot || matches!(other.demand, Demand::Module(_)));
        plan.slots.extend(own.slots);
    }
    Some(plan)
}

/// The way of the command `diagnose`.
fn diagnosed(facts: &Facts, given: &Given) -> Said {
    let now = text(&facts.id, &given.listing());
    let listing = records::read_one(&now).unwrap();
    let before = given.earlier_listing().map(|body| text("earlier", &body));
    let earlier = before.as_ref().map(|text| records::read_one(text).unwrap());
    let mut sources = Sources::default();
    for other in given.others() {
        sources.add(&text("other", &other)).unwrap();
    }
    let board = given.board.as_deref().map(|name| board::class(name).unwrap());
    let plan = planned(given, &listing);
    let claim = given.fitted.as_deref().map(claim);
    let machine = Case::of(&now, &listing).plan(&plan).board(&board).sources(sources);
    let machine = machine.earlier(&earlier).done(given.after.clone());
    let (case, suspected) = assume(machine.build().unwrap(), claim.as_ref());
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    let shortfall = Shortfall::of(&diagnosis, claim.as_ref(), suspected);
    let weight = |severity: Severity| {
        diagnosis.findings.iter().find(|f| f.finding.severity() == severity && !f.causes.is_empty())
    };
    let found = weight(Severity::Fault).or(weight(Severity::Unproven)).or(weight(Severity::Warning));
    let kinds: Vec<String> =
        found.into_iter().flat_map(|found| &found.causes).map(|cause| cause.kind.word().to_owned()).collect();
    let nothing = if shortfall.loses() { "unnamed" } else { "no-loss" };
    Said {
        first: kinds.first().cloned().unwrap_or_else(|| nothing.to_owned()),
        rest: kinds.into_iter().skip(1).collect(),
        alike: diagnosis.steps.iter().filter(|step| step.kind == diagnosis.steps[0].kind).count(),
        brings: diagnosis.steps.iter().filter_map(|step| step.brings.clone()).collect(),
        reasons: shortfall.stages.iter().flat_map(|stage| stage.reasons.clone()).collect(),
        step: diagnosis.steps.first().map_or("-", |step| step.kind.info().kind).to_owned(),
    }
}

/// How what was said stands to what was found.
fn outcome(given: &Given, said: &Said) -> Outcome {
    if given.found.contains(&said.first) {
        Outcome::First
    } else if given.near.contains(&said.first) {
        Outcome::Class
    } else if said.rest.iter().any(|kind| given.found.contains(kind) || given.near.contains(kind)) {
        Outcome::Later
    } else {
        Outcome::Other
    }
}

#[test]
fn the_cause_that_was_found_is_named() {
    let cases = facts::read();
    let mut counts: BTreeMap<Outcome, u32> = BTreeMap::new();
    let (mut unsolved, mut not_given) = (0, 0);
    let mut wrong = Vec::new();
    println!("{:<18} {:<20} {:<26} {:<8} {:<7} why not", "case", "first cause", "found", "step", "agrees");
    for facts in &cases {
        let given = match &facts.state {
            facts::State::Unsolved => {
                unsolved += 1;
                continue;
            }
            facts::State::NotGiven(why) => {
                not_given += 1;
                println!("{:<18} {:<20} {:<26} {:<8} {:<7} {why}", facts.id, "", facts.code, "", "-");
                continue;
            }
            facts::State::Given(given) => given,
        };
        let said = diagnosed(facts, given);
        let outcome = outcome(given, &said);
        *counts.entry(outcome).or_default() += 1;
        let why = given.why.as_deref().unwrap_or("");
        let word = outcome.word();
        println!("{:<18} {:<20} {:<26} {:<8} {word:<7} {why}", facts.id, said.first, facts.code, said.step);
        if (outcome, said.first.as_str()) != (given.outcome, given.first.as_str()) {
            wrong.push(format!("{}: {} {word}, then {:?}", facts.id, said.first, said.rest));
        }
        if (outcome == Outcome::First) != why.is_empty() {
            wrong.push(format!("{}: a reason is needed where it does not agree, and only there", facts.id));
        }
    }
    let count = |outcome| counts.get(&outcome).copied().unwrap_or(0);
    let [first, class, later, other] = Outcome::ALL.map(count);
    let all = first + class + later + other;
    println!(
        "{} cases, {unsolved} unsolved, {not_given} cannot be given, {all} given: {first} first, {class} in its class, {later} later, {other} other",
        cases.len()
    );
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!((unsolved, not_given, [first, class, later, other]), facts::LAST_RESULT);
}
