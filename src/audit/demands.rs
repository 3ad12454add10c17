//! From a plan and what was compared with it to its demands, each decided once.
//!
//! What the plan waives is no demand. A total that the plan does not state is none either: it is the sum of the sizes
//! of its modules, each of which is a demand already.

use std::collections::HashMap;

use super::Context;
use super::finding::{Finding, FindingKind, Severity};
use super::machine::{ecc_decision, sizes, stated_totals, total_decision};
use super::matching::{Match, Matching};
use super::placement::is_unseen;
use super::proof::{Decision, Demanded, Proof, Subject};
use crate::case::marks;
use crate::evidence::Place;
use crate::plan::agreement::{Outcome, demanded_fields, describe_wanted, place_of, wanted_text};
use crate::plan::{Demand, DemandField};
use crate::population::{SlotState, Tier};

/// All demands. `placed` are the findings about places, of which each absent module has one.
pub(super) fn prove(context: &Context<'_, '_>, matching: &Matching<'_>, placed: &[Finding]) -> Proof {
    let prover = Prover { context, absences: absences(placed) };
    let mut demands = Vec::with_capacity(matching.matches.len() * 8);
    let mut matches = matching.matches.iter();
    for planned in &context.case.plan.slots {
        match planned.demand {
            // Matches are in the order of the planned modules.
            Demand::Module(_) => {
                if let Some(m) = matches.next() {
                    prover.module(m, &mut demands);
                }
            }
            Demand::Empty => demands.extend(prover.empty(&planned.slot)),
            Demand::Idle => demands.extend(prover.idle(&planned.slot)),
        }
    }
    demands.extend(prover.totals(matching));
    demands.extend(prover.speed());
    demands.extend(prover.ecc());
    demands.extend(prover.machine());
    Proof { demands }
}

/// The finding about each planned slot whose module is absent.
fn absences(placed: &[Finding]) -> HashMap<&str, &Finding> {
    let mut result = HashMap::new();
    for finding in placed {
        let slots: Vec<&String> = match finding.kind {
            FindingKind::Missing | FindingKind::NoCpu | FindingKind::Unproven => {
                finding.slots.iter().collect()
            }
            // One that sits in another slot has its own there too.
            FindingKind::NotRunning => finding.other_slot.iter().chain(&finding.slots).take(1).collect(),
            _ => continue,
        };
        result.extend(slots.into_iter().map(|slot| (slot.as_str(), finding)));
    }
    result
}

struct Prover<'p, 'c, 'a> {
    context: &'p Context<'c, 'a>,
    absences: HashMap<&'p str, &'p Finding>,
}

impl Prover<'_, '_, '_> {
    fn waives(&self, field: DemandField) -> bool {
        self.context.case.plan.waived.contains(&field)
    }

    fn decided(
        &self,
        (subject, slot, field): (Subject, Option<&str>, &'static str),
        wanted: impl Into<String>,
        decision: Decision,
        places: impl IntoIterator<Item = Option<Place>>,
    ) -> Demanded {
        Demanded {
            subject,
            slot: slot.map(str::to_owned),
            field,
            wanted: wanted.into(),
            decision,
            evidence: self.context.evidence(places),
            missing: None,
        }
    }

    fn module(&self, m: &Match<'_>, demands: &mut Vec<Demanded>) {
        match m.at {
            Some(at) => self.found(m, at, demands),
            None => self.absent(m, demands),
        }
    }

    /// A planned module that is there, in its slot or in another.
    fn found(&self, m: &Match<'_>, at: usize, demands: &mut Vec<Demanded>) {
        let slot = Some(m.planned.slot.as_str());
        let device = self.context.device(at);
        if !self.waives(DemandField::Presence) || m.home != Some(at) {
            let decision = if m.home == Some(at) { Decision::Met } else { Decision::Contradicted };
            let places = [device.locator.place(), device.size.place()];
            let about = (Subject::Module, slot, DemandField::Presence.word());
            demands.push(self.decided(about, describe_wanted(m.wanted), decision, places));
        }
        for field in demanded_fields(m.wanted).filter(|field| !self.waives(*field)) {
            let outcome =
                m.differences.iter().find(|(other, _)| *other == field).map(|(_, outcome)| *outcome);
            let decision = match outcome {
                None => Decision::Met,
                Some(Outcome::Differs) => Decision::Contradicted,
                Some(Outcome::Unproven) => Decision::Open,
            };
            let by_part = Some(()).filter(|()| field == DemandField::Width && decision == Decision::Met);
            let place = place_of(device, field).or(by_part.and_then(|()| device.part_number.place()));
            let about = (Subject::Module, slot, field.word());
            let mut demand = self.decided(about, wanted_text(m.wanted, field), decision, [place]);
            demand.missing = (decision == Decision::Open).then(|| {
                let name = &self.context.case.population.slots[at].name;
                format!("the listing does not prove the {} of the module in {name}", field.word())
            });
            demands.push(demand);
        }
    }

    /// A planned module that is not there: its fields share the fate of its presence.
    fn absent(&self, m: &Match<'_>, demands: &mut Vec<Demanded>) {
        let slot = m.planned.slot.as_str();
        // Without a finding the plan waives the presence of a module that may be there.
        let Some(finding) = self.absences.get(slot) else { return };
        let decision =
            if finding.severity == Severity::Fault { Decision::Contradicted } else { Decision::Open };
        let missing = (decision == Decision::Open).then(|| finding.found.clone());
        let fields = demanded_fields(m.wanted).filter(|field| !self.waives(*field));
        for field in std::iter::once(DemandField::Presence).chain(fields) {
            let wanted = match field {
                DemandField::Presence => describe_wanted(m.wanted),
                field => wanted_text(m.wanted, field),
            };
            let about = (Subject::Module, Some(slot), field.word());
            let evidence = finding.evidence.clone();
            let missing = missing.clone();
            demands.push(Demanded { evidence, missing, ..self.decided(about, wanted, decision, []) });
        }
    }

    fn empty(&self, slot: &str) -> Option<Demanded> {
        let listed = self.context.case.population.slot(slot);
        let decision = match listed.map(|(_, slot)| &slot.state) {
            Some(SlotState::Fitted(_) | SlotState::NotRunning(_)) => Decision::Contradicted,
            _ if is_unseen(self.context, slot) => Decision::Open,
            _ => Decision::Met,
        };
        // A waived presence is no demand; a module that is there is a fault still.
        if self.waives(DemandField::Presence) {
            return None;
        }
        let device = listed.map(|(index, _)| self.context.device(index));
        let places = [device.and_then(|d| d.locator.place()), device.and_then(|d| d.size.place())];
        let about = (Subject::Empty, Some(slot), DemandField::Presence.word());
        let mut demand = self.decided(about, "an empty slot", decision, places);
        demand.missing =
            (decision == Decision::Open).then(|| "the listing does not show whether it is empty".to_owned());
        Some(demand)
    }

    /// A slot whose module need not run: it is there, whatever it holds.
    fn idle(&self, slot: &str) -> Option<Demanded> {
        if self.waives(DemandField::Presence) {
            return None;
        }
        let listed = self.context.case.population.slot(slot);
        let lost = listed.is_none() && is_unseen(self.context, slot);
        let decision = if lost { Decision::Open } else { Decision::Met };
        let place = listed.and_then(|(index, _)| self.context.device(index).locator.place());
        let about = (Subject::Empty, Some(slot), "idle");
        let mut demand = self.decided(about, "a slot whose module need not run", decision, [place]);
        demand.missing = lost.then(|| "the listing may have lost the record of this slot".to_owned());
        Some(demand)
    }

    fn totals(&self, matching: &Matching<'_>) -> Vec<Demanded> {
        if self.waives(DemandField::Total) {
            return Vec::new();
        }
        let total = |(tier, planned)| {
            let decision = total_decision(self.context, matching, (tier, planned));
            let field = if tier == Tier::Main { DemandField::Total.word() } else { tier.word() };
            let about = (Subject::Total, None, field);
            let of = if tier == Tier::Main { String::new() } else { format!(" {}", tier.title()) };
            let wanted = format!("at least {planned}{of}");
            let mut demand = self.decided(about, wanted, decision, sizes(self.context, tier));
            demand.missing = (decision == Decision::Open).then(|| {
                "the listing does not show what all slots hold, and what it shows is less".to_owned()
            });
            demand
        };
        stated_totals(self.context).map(total).collect()
    }

    fn speed(&self) -> Option<Demanded> {
        let expected = self.context.case.plan.expect.speed.filter(|_| !self.waives(DemandField::Speed))?;
        let speeds = || self.context.dimms().map(|(_, module)| module.configured);
        let decision = if speeds().flatten().any(|speed| speed.below(expected)) {
            Decision::Contradicted
        } else if speeds().next().is_none() || speeds().any(|speed| speed.is_none()) {
            Decision::Open
        } else {
            Decision::Met
        };
        let lines =
            self.context.dimms().map(|(index, _)| self.context.device(index).configured_speed.place());
        let about = (Subject::Speed, None, DemandField::Speed.word());
        let mut demand = self.decided(about, expected.to_string(), decision, lines);
        demand.missing = (decision == Decision::Open)
            .then(|| "the listing does not state the speed at which every module runs".to_owned());
        Some(demand)
    }

    fn ecc(&self) -> Option<Demanded> {
        let decision = ecc_decision(self.context).filter(|_| !self.waives(DemandField::Ecc))?;
        let arrays = &self.context.case.listing.arrays;
        let lines = arrays.iter().map(|array| array.error_correction.place());
        let about = (Subject::Ecc, None, DemandField::Ecc.word());
        let mut demand = self.decided(about, "error correction on", decision, lines);
        demand.missing = (decision == Decision::Open)
            .then(|| "the listing does not state error correction for all of the memory".to_owned());
        Some(demand)
    }

    fn machine(&self) -> Vec<Demanded> {
        if self.waives(DemandField::Machine) {
            return Vec::new();
        }
        let mark = |mark: crate::case::Mark<'_, '_>| {
            let about = (Subject::Machine, None, mark.key);
            match mark.agreeing() {
                Some(place) => self.decided(about, mark.wanted, Decision::Met, [Some(place)]),
                None => {
                    let lines = mark.lines.iter().map(|place| Some(*place));
                    let demand = self.decided(about, mark.wanted, Decision::Open, lines);
                    Demanded { missing: Some("the listing does not state it".to_owned()), ..demand }
                }
            }
        };
        marks(self.context.case.listing, &self.context.case.plan).into_iter().map(mark).collect()
    }
}
