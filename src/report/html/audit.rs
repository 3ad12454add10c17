//! The page of an audit, and what other pages have of it.

use maud::{Markup, html};

use super::{BOARD_SCRIPT, Content, board, document, facts, findings, order, panel, slots, verdict};
use crate::diagnose::Diagnosis;
use crate::population::Population;
use crate::report::view::fleet::SEE_DECISION;
use crate::report::view::{BROKEN_OUTLINE, DiagnosisView, LEGEND, Note, titles};

/// The page of an audit: the verdict, what to do, where it is, what was found.
pub fn audit_page(diagnosis: &Diagnosis<'_>) -> String {
    page_of(diagnosis, None)
}

/// As [`audit_page`], as one of many that an overview leads to.
pub(super) fn page_of(diagnosis: &Diagnosis<'_>, overview: Option<&str>) -> String {
    page_with(DiagnosisView::of_audit(diagnosis), None, &diagnosis.case.population, overview)
}

/// The page of what was measured against a plan; `first` comes before the findings.
pub(super) fn page_with(
    view: DiagnosisView<'_>,
    first: Option<Markup>,
    population: &Population<'_>,
    overview: Option<&str>,
) -> String {
    let DiagnosisView { title, headline, facts: about, groups, order, map, slots, notes, .. } = view;
    let header = html! {
        @if let Some(overview) = overview {
            (to_overview(overview))
        }
        div .verdict.(headline.mark.word()) {
            p .print { (titles::WORK_ORDER) }
            (verdict(headline.mark, &headline.sentence()))
            (facts(&about))
        }
    };
    let main = html! {
        div .columns {
            div {
                (order::section(&order))
                (order::signed())
            }
            div .side {
                section aria-labelledby="map" {
                    h2 #map { (titles::WHERE) }
                    (board::draw(&board::of_map(map, "slot")))
                    (legend())
                    (panel())
                }
            }
            div {
                @if let Some(first) = first { (first) }
                (findings::section(&groups, population))
            }
        }
        (slots::section(&slots))
        (notes_section(&notes))
    };
    document(&Content { title: &title, header, main, script: Some(BOARD_SCRIPT) })
}

/// The way from the page of a host to that of the fleet. A host's page is written while hosts come in, so that the
/// decision, which depends on all of them, is only there.
pub(super) fn to_overview(overview: &str) -> Markup {
    html! {
        p .screen { a href=(overview) { "All hosts" } }
        p { (SEE_DECISION) }
    }
}

/// What the marks mean.
fn legend() -> Markup {
    html! {
        ul .legend.screen {
            @for (mark, word, more) in LEGEND {
                li { (mark.icon()) (word) (more) }
            }
            li { (BROKEN_OUTLINE) }
        }
    }
}

/// What was noticed in the listing.
pub(super) fn notes_section(notes: &[Note]) -> Markup {
    html! {
        @if !notes.is_empty() {
            section .screen aria-labelledby="notes" {
                h2 #notes { (titles::NOTES) }
                ul { @for note in notes { li { (note.sentence()) } } }
            }
        }
    }
}
