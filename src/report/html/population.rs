//! The page of a population.

use maud::html;

use super::super::map;
use super::super::population_text::{headline, limits, mapped, modules, origin, speed};
use super::audit::notes;
use super::board::{self, Cell, Look};
use super::slots::{self, held};
use super::{BOARD_SCRIPT, Content, Sign, document, facts, panel};
use crate::case::Case;
use crate::population::{Slot, SlotState};

/// The page of a population: what is fitted where, and what the listing cannot tell.
pub fn population_page(case: &Case<'_>) -> String {
    let population = &case.population;
    let mut about = origin(case);
    about.push(("speed", speed(population)));
    about.push(("mapped", mapped(population)));
    let header = html! {
        div .verdict {
            h1 { span { (headline(population)) } }
            (facts(&about))
        }
    };
    let blocks = board::of_population(population, cell);
    let main = html! {
        section aria-labelledby="map" {
            h2 #map { "Where it is" }
            (board::draw(&blocks))
            (panel())
        }
        section aria-labelledby="modules" {
            h2 #modules { "What it is" }
            ul {
                @for (kind, slots) in modules(population) {
                    li { b { (slots.len()) " x " (kind) } div { "in " (slots.join(", ")) } }
                }
            }
        }
        (slots::section(case, &slots::Columns { planned: None, findings: None, unlisted: &[] }))
        section aria-labelledby="limits" {
            h2 #limits { "What this listing cannot tell" }
            ul { @for limit in limits(population) { li { (limit) } } }
        }
        (notes(case))
    };
    document(&Content { title: case.name, header, main, script: Some(BOARD_SCRIPT) })
}

fn cell(index: usize, slot: &Slot<'_>) -> Cell {
    let (look, says) = match slot.state {
        SlotState::Empty => (Look::Empty, None),
        SlotState::Unknown => (Look::Empty, Some((Sign::Unproven, "unknown".to_owned()))),
        SlotState::NotRunning(_) => (Look::Filled, Some((Sign::Fault, "not running".to_owned()))),
        SlotState::Fitted(_) => (Look::Filled, None),
    };
    let lines = match slot.state {
        SlotState::Fitted(_) => {
            let speed = slot.module().and_then(|module| module.configured);
            [Some(map::held(slot)), speed.map(|rate| rate.to_string())].into_iter().flatten().collect()
        }
        SlotState::Empty => vec![map::held(slot)],
        SlotState::NotRunning(_) | SlotState::Unknown => Vec::new(),
    };
    let spoken = format!("{}: {}", slot.name, held(slot));
    Cell {
        name: slot.name.to_string(),
        lines,
        says,
        look,
        bar: None,
        link: Some(format!("#slot-{index}")),
        spoken,
    }
}
