//! The page of a population.

use maud::html;

use super::audit::notes_section;
use super::{BOARD_SCRIPT, Content, board, document, facts, panel, slots};
use crate::case::Case;
use crate::report::view::{PopulationView, titles};

/// The page of a population: what is fitted where, and what the listing cannot tell.
pub fn population_page(case: &Case<'_>) -> String {
    let view = PopulationView::new(case);
    let header = html! {
        div .verdict {
            h1 { span { (view.headline) } }
            (facts(&view.facts))
        }
    };
    let main = html! {
        section aria-labelledby="map" {
            h2 #map { (titles::WHERE) }
            (board::draw(&board::of_map(view.map, "slot")))
            (panel())
        }
        section aria-labelledby="modules" {
            h2 #modules { (titles::MODULES) }
            ul {
                @for kind in &view.kinds {
                    li { b { (kind.count) " x " (kind.kind) } div { (kind.slots) } }
                }
            }
        }
        (slots::section(&view.slots))
        section aria-labelledby="limits" {
            h2 #limits { (titles::LIMITS) }
            ul { @for limit in &view.limits { li { (limit) } } }
        }
        (notes_section(&view.notes))
    };
    document(&Content { title: view.title, header, main, script: Some(BOARD_SCRIPT) })
}
