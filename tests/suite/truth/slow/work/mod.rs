//! The work order against searches that try everything.

mod case;
mod search;

use std::collections::HashMap;

use asfitted::audit::{Finding, FindingKind};
use asfitted::diagnose::{Step, StepKind, movements, work};
use asfitted::plan::{self, Demand, PlannedSlot};
use asfitted::{population, records};

use self::case::Case;
use self::search::{fewest, fewest_on_the_board};
use crate::util::corpus;
use crate::util::random::Random;

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
        let least = fewest(&case);
        judge(&case, least);
        cases += 1;
        let steps = case.work().0;
        ringed += usize::from(steps.iter().any(|step| matches!(step.kind, StepKind::Swap | StepKind::Pull)));
        departs += usize::from(steps.iter().any(|step| step.text.contains("with fewer")));
        fetched += usize::from(least.0 > 0);
        moved += least.1;
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
        let least = fewest_on_the_board(&case);
        assert_eq!(fewest(&case), least, "{case:?}");
        // Boards on which nothing is to be done prove little.
        if least.1 == 0 {
            continue;
        }
        judge(&case, least);
        cases += 1;
        moved += least.1;
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
    for text in corpus::listings() {
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
            let audit = corpus::audited(text, &listings[0], &plan).unwrap();
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
