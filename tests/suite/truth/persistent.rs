//! Persistent modules stay where they are, whatever differs from the plan.

use asfitted::audit::audit;
use asfitted::case::Case;
use asfitted::diagnose::{CauseKind, Step, StepKind, cautions, diagnose, needs_hands};
use asfitted::evidence::Text;
use asfitted::plan::{self, Demand, Plan};
use asfitted::population::{self, ModuleKind};
use asfitted::records;
use asfitted::units::Bytes;

use crate::util::corpus;
use crate::util::edit::Lines;

/// What no hand does to a persistent module.
const FORBIDDEN: &[StepKind] = &[
    StepKind::Remove,
    StepKind::Move,
    StepKind::Swap,
    StepKind::Pull,
    StepKind::Place,
    StepKind::Replace,
    StepKind::Fit,
];

/// Judges one listing against one plan; the number of steps.
fn judge(name: &str, listing: &str, plan: &Plan) -> usize {
    let text = Text::from_bytes(name, listing.as_bytes().to_vec()).unwrap();
    let listings = records::read(&text);
    let machine = Case::of(&text, &listings[0]).plan(plan);
    let case = machine.build().unwrap();
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    let guarded = |slot: &String| {
        let there = case.population.slot(slot).and_then(|(_, slot)| slot.module());
        let demand = plan.demand(slot).map(|planned| &planned.demand);
        there.is_some_and(|module| module.persistent)
            || matches!(demand, Some(Demand::Module(wanted)) if wanted.kind == Some(ModuleKind::Nvdimm))
    };
    for step in &diagnosis.steps {
        if FORBIDDEN.contains(&step.kind) {
            assert!(!step.slots.iter().any(guarded), "{name}: {step:#?}");
        }
    }
    for explained in &diagnosis.findings {
        for cause in &explained.causes {
            for slot in case.population.slots.iter().filter(|slot| guarded(&slot.name.to_string())) {
                let swaps = format!("swap it with the module of {},", slot.name);
                assert!(!cause.check.contains(&swaps), "{name}: {cause:?}");
            }
            if explained.finding.slots.iter().any(guarded) {
                for act in ["swap", "replace", "known-good", "move it from"] {
                    assert!(!cause.check.contains(act), "{name}: {:?} {cause:?}", explained.finding.kind);
                }
            }
        }
    }
    let first_hands = diagnosis.steps.iter().position(Step::hands);
    let backup = diagnosis.steps.iter().position(|step| step.text.contains("pass-phrases"));
    let holds = case.population.fitted().any(|(_, module)| module.persistent);
    if holds && first_hands.is_some() {
        assert!(backup < first_hands && backup.is_some(), "{name}: {:#?}", diagnosis.steps);
    }
    diagnosis.steps.len()
}

/// Long, since it lists every way in which the modules are changed.
#[test]
fn persistent_modules_are_never_moved() {
    let (mut machines, mut cases) = (0, 0);
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let lasting: Vec<usize> = (0..population.slots.len())
            .filter(|at| population.slots[*at].fitted().is_some_and(|module| module.persistent))
            .collect();
        if lasting.is_empty() {
            continue;
        }
        machines += 1;
        let own = plan::from_population(&listings[0], &population, true).plan;
        let mut plans = vec![own.clone()];
        // The other way round; each with its neighbour's; two persistent ones the other way round.
        let filled: Vec<usize> =
            (0..own.slots.len()).filter(|at| matches!(own.slots[*at].demand, Demand::Module(_))).collect();
        let permuted = |order: Vec<usize>| {
            let mut plan = own.clone();
            for (to, from) in filled.iter().zip(order) {
                plan.slots[*to].demand = own.slots[from].demand.clone();
            }
            plan
        };
        plans.push(permuted(filled.iter().rev().copied().collect()));
        plans.push(permuted(filled.iter().cycle().skip(1).take(filled.len()).copied().collect()));
        let at = |slot: usize| own.slots.iter().position(|p| p.slot == population.slots[slot].name);
        for slot in &lasting {
            let Some(at) = at(*slot) else { continue };
            let mut unplanned = own.clone();
            unplanned.slots.remove(at);
            plans.push(unplanned);
            let mut emptied = own.clone();
            emptied.slots[at].demand = Demand::Empty;
            plans.push(emptied);
            let mut other = own.clone();
            if let Demand::Module(wanted) = &mut other.slots[at].demand {
                wanted.size = Some(Bytes(64 << 30));
                wanted.part = Some("WW64-2R4-3200L".to_owned());
                wanted.kind = Some(ModuleKind::Rdimm);
            }
            plans.push(other);
        }
        for plan in &plans {
            judge(text.name(), text.as_str(), plan);
            cases += 1;
        }
        // Each module missing, persistent or not.
        for slot in 0..population.slots.len() {
            if population.slots[slot].fitted().is_none() {
                continue;
            }
            let source = Lines::of(text.as_str());
            let mut lines = source.clone();
            lines.empty_short(&listings[0].devices[population.slots[slot].device], &source);
            for plan in plans.iter().take(3) {
                judge(text.name(), &lines.text(), plan);
                cases += 1;
            }
        }
    }
    println!("{cases} cases of {machines} machines");
    assert!(machines >= 1 && cases >= 11, "{machines} {cases}");
}

#[test]
fn what_needs_no_open_lid_needs_no_strap() {
    let closed = cautions(false, true);
    assert!(!closed.iter().any(|line| line.contains("ESD") || line.contains("mains")), "{closed:?}");
    assert!(cautions(true, false).iter().any(|line| line.contains("ESD")));
    assert!(!cautions(true, false).iter().any(|line| line.contains("energy")));
    assert!(cautions(true, true).iter().any(|line| line.contains("energy")));
}

/// Every planned module is of another size.
#[test]
fn a_plan_of_another_machine_is_doubted_before_its_modules() {
    let mut doubted = 0;
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let fitted: Vec<_> = population.fitted().map(|(_, module)| module.bytes()).collect();
        // A backup would come first.
        if population.fitted().any(|(_, module)| module.persistent) {
            continue;
        }
        if fitted.len() < 4 || fitted.iter().any(|size| size.is_none() || *size != fitted[0]) {
            continue;
        }
        let mut plan = plan::from_population(&listings[0], &population, false).plan;
        for planned in &mut plan.slots {
            if let Demand::Module(wanted) = &mut planned.demand {
                wanted.size = wanted.size.map(|size| Bytes(size.0 * 2));
                (wanted.sticker, wanted.part, wanted.serial) = (None, None, None);
            }
        }
        let machine = Case::of(text, &listings[0]).plan(&plan);
        let case = machine.build().unwrap();
        let audit = audit(&case);
        let diagnosis = diagnose(&case, &audit);
        let Some(first) = diagnosis.findings.iter().find(|f| f.finding.slots.len() == fitted.len()) else {
            continue;
        };
        assert_eq!(first.causes[0].kind, CauseKind::OtherPlan, "{}", text.name());
        assert_eq!(diagnosis.steps[0].findings, [0], "{}", text.name());
        assert!(!diagnosis.steps[0].hands() && needs_hands(&diagnosis.steps), "{}", text.name());
        doubted += 1;
    }
    assert!(doubted > 50, "{doubted}");
}
