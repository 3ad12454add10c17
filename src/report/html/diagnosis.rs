//! The page of a diagnosis.

use maud::{Markup, html};

use super::super::diagnosis::{facts, headline, suspects_missing, suspects_text};
use super::audit::{Besides, body};
use super::{BOARD_SCRIPT, Content, Sign, document, findings, joined, sentence, verdict};
use crate::diagnose::{Diagnosis, Shortfall, Stage, Suspicion};

/// The page of a diagnosis: what is lost, what to do, where it is lost, which slots are suspect.
pub fn diagnosis_page(diagnosis: &Diagnosis<'_>, shortfall: &Shortfall) -> String {
    let (tone, headline) = headline(diagnosis, shortfall);
    let headline = sentence(&headline);
    let sign = Sign::from(tone);
    let header = html! {
        div .verdict.(sign.word()) {
            p .print { "Work order" }
            (verdict(sign, &headline))
            (super::facts(&facts(diagnosis)))
        }
    };
    let first = html! {
        (waterfall(&shortfall.stages))
        @if let Some(suspicion) = shortfall.suspects() {
            (suspects(diagnosis, suspicion, shortfall.channels_known))
        }
    };
    let title = format!("{headline}: {}", diagnosis.case.name);
    let suspects = shortfall.suspicion.as_ref().map_or_else(Vec::new, Suspicion::slots);
    let besides = Besides { first, suspects: &suspects, plan_given: diagnosis.case.is_planned() };
    let main = body(diagnosis, &besides);
    document(&Content { title: &title, header, main, script: Some(BOARD_SCRIPT) })
}

/// Each station with a bar as long as what arrives there.
fn waterfall(stages: &[Stage]) -> Markup {
    const WHOLE: u64 = 1000;
    let most = stages.iter().map(|stage| stage.size.0).max().unwrap_or(0).max(1);
    let part =
        |size: u64| u64::try_from(u128::from(size) * u128::from(WHOLE) / u128::from(most)).unwrap_or(WHOLE);
    html! {
        section .screen aria-labelledby="lost" {
            h2 #lost { "Where it is lost" }
            div .bars {
                @for stage in stages {
                    div {
                        p data-station=(stage.station.word()) {
                            b { (stage.station.word()) } " " (stage.size.rounded())
                            @if stage.lost.0 > 0 {
                                ", " (stage.lost.rounded()) " less"
                                @if stage.usual { ", which is usual" }
                            }
                        }
                        svg viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true" {
                            rect .all width="1000" height="20" {}
                            rect .part width=(part(stage.size.0)) height="20" {}
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

fn suspects(diagnosis: &Diagnosis<'_>, suspicion: &Suspicion, channels_known: bool) -> Markup {
    let population = &diagnosis.case.population;
    let slots = suspicion.slots();
    html! {
        section .screen aria-labelledby="suspects" {
            h2 #suspects { "Suspects" }
            ul { @for text in suspects_missing(suspicion) { li { (text) } } }
            @for text in suspects_text(suspicion, channels_known) { p { (text) } }
            @if !slots.is_empty() {
                p {
                    span .quiet { "slots " }
                    (joined(slots.iter().map(|slot| findings::slot_link(slot, population)).collect()))
                }
            }
        }
    }
}
