//! Finding the slot of a lost module without a plan, on real machines.

use asfitted::board::{self, Balance, ChannelLoad, Fitting, predict};
use asfitted::diagnose::{FittedClaim, StepKind, assumed_plan, missing, suspects, work};
use asfitted::evidence::Text;
use asfitted::plan::{self, ModuleSpec};
use asfitted::units::Bytes;
use asfitted::{population, records};

use crate::util::corpus;
use crate::util::edit::Lines;

/// The demo's half-seated module is of another kind than the total alone suggests; nothing says that it is wrong.
#[test]
fn a_guess_replaces_no_module() {
    let text = Text::from_bytes("demo", asfitted::demo::LISTING.into()).unwrap();
    let listings = records::read(&text);
    let population = population::rebuild(&listings[0]);
    let board = board::from_population("demo", &population).board;
    let claim = FittedClaim::Total(Bytes(192 << 30));
    let suspicion = suspects(&board, &population, missing(&claim, &population, &listings[0]));
    let plan = assumed_plan(&listings[0], &population, Some(&suspicion));
    let findings = corpus::audited(&text, &listings[0], &plan).unwrap().findings;
    let steps = work(&population, &plan, &findings);
    let steps: Vec<_> = steps.iter().map(|step| (step.kind, step.slot.as_deref())).collect();
    assert_eq!(steps, [(StepKind::Reseat, Some("s1.c3.p2"))]);
}

/// One module is removed from an even population; given what was fitted, the suspects hold its slot always, and
/// are few.
#[test]
fn the_lost_module_is_among_few_suspects() {
    let (mut cases, mut missed, mut counts) = (0, Vec::new(), Vec::new());
    for text in corpus::listings() {
        let listings = records::read(text);
        let listing = &listings[0];
        let population = population::rebuild(listing);
        let derived = board::from_population(text.name(), &population);
        let board = derived.board;
        if !derived.complete || population.totals.fitted < 3 {
            continue;
        }
        let fitting = Fitting::of_population(&board, &population);
        // Even: sizes are spread evenly, and every channel in use is filled in the same places.
        let places =
            |channel: &ChannelLoad| channel.slots.iter().map(|(_, load)| load.is_some()).collect::<Vec<_>>();
        let mut used = fitting.channels.iter().filter(|channel| channel.count() > 0).map(places);
        let first = used.next();
        let alike = used.all(|places| Some(places) == first);
        if !alike || predict(&board, &fitting, &[]).balance == Balance::Uneven {
            continue;
        }
        let plan = plan::from_population(listing, &population, true).plan;
        let modules: Vec<(u32, ModuleSpec)> = plan.modules().map(|(_, wanted)| (1, wanted.clone())).collect();
        let fitted: Vec<usize> =
            (0..population.slots.len()).filter(|slot| population.slots[*slot].fitted().is_some()).collect();
        let slot = &population.slots[fitted[(listing.devices.len() * 7) % fitted.len()]];
        let source = Lines::of(text.as_str());
        let mut lines = source.clone();
        lines.empty_short(&listing.devices[slot.device], &source);
        let changed = Text::from_bytes(text.name(), lines.text().into_bytes()).unwrap();
        let after = records::read(&changed);
        let after_population = population::rebuild(&after[0]);
        let lost = missing(&FittedClaim::Modules(modules), &after_population, &after[0]);
        assert_eq!(lost.len(), 1, "{}", text.name());
        let suspicion = suspects(&board, &after_population, lost);
        let slots = suspicion.slots();
        cases += 1;
        counts.push(slots.len());
        if !slots.contains(&slot.name.to_string()) {
            missed.push(format!("{} {}: {slots:?}", text.name(), slot.name));
        }
    }
    counts.sort_unstable();
    println!("{cases} machines, median {} suspects, most {:?}", counts[counts.len() / 2], counts.last());
    assert!(missed.is_empty(), "{} of {cases}: {:#?}", missed.len(), &missed[..missed.len().min(8)]);
    assert!(cases > 300 && counts[counts.len() / 2] <= 2, "{cases}");
}
