//! Listings that were cut off anywhere: what is lost is not proven, and nothing is blamed for it.

use asfitted::audit::Verdict;
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::population;
use asfitted::records;

use crate::truth::slow::formats::FORMATS;
use crate::util::corpus;

/// One listing out of so many is taken by default, all of them when asked to be thorough.
const STEP: usize = 12;

/// Cuts in each format of a listing.
const CUTS: usize = 60;

fn plan_of(text: &Text) -> Option<Plan> {
    let listings = records::read(text);
    let population = population::rebuild(&listings[0]);
    (!population.slots.is_empty()).then(|| plan::from_population(&listings[0], &population, false).plan)
}

/// The verdict on the first listing of a text, `None` where the plan is not for it.
fn verdict(text: &Text, plan: &Plan) -> Option<(Verdict, String)> {
    let listings = records::read(text);
    let audit = corpus::audited(text, &listings[0], plan).ok()?;
    let summaries: Vec<&str> = audit.findings.iter().map(|finding| finding.summary.as_str()).collect();
    Some((audit.verdict, summaries.join("\n")))
}

/// Whether nothing shows that whole records are lost, and slots called `NO DIMM` may be those that the plan names:
/// then the text is one that a machine with modules missing would give.
fn is_plausible(text: &Text) -> bool {
    let listings = records::read(text);
    let whole = !listings[0].may_miss_records() && !listings[0].has_end;
    whole && population::rebuild(&listings[0]).slots.iter().any(population::Slot::is_nameless)
}

#[test]
fn a_listing_that_is_cut_off_never_deviates_from_its_own_plan() {
    let whole: (&str, fn(&str) -> String) = ("full", str::to_owned);
    let (mut judged, mut unproven) = (0, 0);
    let step = if std::env::var_os("ASFITTED_THOROUGH").is_some() { 1 } else { STEP };
    for (turn, text) in corpus::listings().iter().step_by(step).enumerate() {
        for (format, convert) in FORMATS.iter().chain([&whole]) {
            // A file with two listings is refused as soon as they differ.
            if *format == "twice in one file" {
                continue;
            }
            let bytes = convert(text.as_str()).into_bytes();
            let full = Text::from_bytes(text.name(), bytes.clone()).unwrap();
            let Some(plan) = plan_of(&full) else { continue };
            // Most cuts lie in the memory records, where they matter.
            let start = full.as_str().find("Physical Memory Array").unwrap_or(0);
            for cut in 0..CUTS {
                let from = if cut % 4 == 0 { 0 } else { start };
                let at = from + (bytes.len() - from) * cut / CUTS + turn % 97;
                let at = at.min(bytes.len());
                let name = format!("{} as {format}, cut at {at}", text.name());
                let cut = Text::from_bytes(name, bytes[..at].to_vec()).unwrap();
                if is_plausible(&cut) {
                    continue;
                }
                if let Some((verdict, findings)) = verdict(&cut, &plan) {
                    assert_ne!(verdict, Verdict::Deviates, "{}: {findings}", cut.name());
                    judged += 1;
                    unproven += u32::from(verdict == Verdict::Unproven);
                }
            }
        }
    }
    assert!(judged > 10_000 && unproven > 8_000, "{judged} {unproven}");
}

/// Copying often loses the spaces at the end; a complete listing stays one.
#[test]
fn spaces_lost_at_the_end_change_nothing() {
    for text in corpus::listings() {
        let Some(plan) = plan_of(text) else { continue };
        let trimmed = Text::from_bytes(text.name(), text.as_str().trim_end().as_bytes().to_vec()).unwrap();
        let notes = |text: &Text| records::read(text)[0].notes.clone();
        let ends = text.as_str().trim_end().ends_with("End Of Table");
        if ends {
            assert_eq!(notes(&trimmed), notes(text), "{}", text.name());
        }
        let (verdict, findings) = verdict(&trimmed, &plan).unwrap();
        assert_ne!(verdict, Verdict::Deviates, "{}: {findings}", text.name());
    }
}
