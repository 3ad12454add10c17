//! The page of a diagnosis.

use maud::{Markup, html};

use super::audit::page_with;
use super::findings::slot_links;
use crate::diagnose::{Diagnosis, Shortfall};
use crate::population::Population;
use crate::report::view::{DiagnosisView, SLOTS, ShortfallView, StageView, SuspectsView, titles};

/// The page of a diagnosis: what is lost, what to do, where it is lost, which slots are suspect.
pub fn diagnosis_page(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> String {
    let view = DiagnosisView::of_shortfall(diagnosis, shortfall);
    let first = view.shortfall.as_ref().map(|shortfall| section(shortfall, &diagnosis.case.population));
    page_with(view, first, &diagnosis.case.population, None)
}

fn section(shortfall: &ShortfallView, population: &Population<'_>) -> Markup {
    html! {
        (waterfall(&shortfall.stages))
        @if let Some(stated) = &shortfall.stated {
            section .screen aria-labelledby="stated" {
                h2 #stated { (titles::STATED) }
                @for (side, kinds) in &stated.sides {
                    p { b { (side) } }
                    ul { @for kind in kinds { li { (kind) } } }
                }
                p { (stated.text) }
            }
        }
        @if let Some(suspects) = &shortfall.suspects {
            (suspected(suspects, population))
        }
    }
}

/// Each station with a bar as long as what arrives there.
fn waterfall(stages: &[StageView]) -> Markup {
    const WHOLE: u64 = 1000;
    let most = stages.iter().map(|stage| stage.bytes).max().unwrap_or(0).max(1);
    let part =
        |size: u64| u64::try_from(u128::from(size) * u128::from(WHOLE) / u128::from(most)).unwrap_or(WHOLE);
    html! {
        section .screen aria-labelledby="lost" {
            h2 #lost { (titles::LOST) }
            div .bars {
                @for stage in stages {
                    div {
                        p data-station=(stage.word) { b { (stage.title) } " " (stage.text) }
                        svg viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true" {
                            rect .all width="1000" height="20" {}
                            rect .part width=(part(stage.bytes)) height="20" {}
                        }
                        @if !stage.reasons.is_empty() {
                            ul { @for reason in &stage.reasons { li { (reason) } } }
                        }
                    }
                }
            }
        }
    }
}

fn suspected(suspects: &SuspectsView, population: &Population<'_>) -> Markup {
    html! {
        section .screen aria-labelledby="suspects" {
            h2 #suspects { (titles::SUSPECTS) }
            ul { @for text in &suspects.missing { li { (text) } } }
            @for text in &suspects.texts { p { (text) } }
            @if !suspects.slots.is_empty() {
                p {
                    span .quiet { (SLOTS) " " }
                    (slot_links(&suspects.slots, population))
                }
            }
        }
    }
}
