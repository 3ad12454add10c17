//! The page of a comparison.

use maud::{Markup, html};

use super::{BOARD_SCRIPT, Content, board, document, facts, panel, table, verdict};
use crate::report::ComparisonReport;
use crate::report::view::{CHANGE_COLUMNS, ChangeView, ComparisonView, titles};

/// The page of a comparison: which slots differ, where they are, and in what.
pub fn comparison_page(report: &ComparisonReport<'_>) -> String {
    let view = ComparisonView::new(report);
    let headline = &view.doubted;
    let header = html! {
        div .verdict.(headline.mark.word()) {
            (verdict(headline.mark, &headline.sentence()))
            (facts(&view.facts_with_warnings()))
        }
    };
    let main = html! {
        section aria-labelledby="map" {
            h2 #map { (titles::WHERE) }
            (board::draw(&board::of_map(view.map, "change")))
            @if let Some(only) = &view.only_before { p { (only) } }
            (panel())
        }
        @if !view.changes.is_empty() { (changes(&view.changes)) }
    };
    document(&Content { title: &headline.claim(), header, main, script: Some(BOARD_SCRIPT) })
}

fn changes(changes: &[ChangeView<'_>]) -> Markup {
    let heads = CHANGE_COLUMNS.map(|head| (head, false));
    html! {
        section aria-labelledby="changes" {
            h2 #changes { (titles::DIFFERS) }
            (table("changes", &heads, &html! {
                @for (at, change) in changes.iter().enumerate() {
                    tbody id={ "change-" (at) } data-change=(change.kind) {
                        @for (line, field) in change.fields.iter().enumerate() {
                            tr {
                                @if line == 0 {
                                    th scope="rowgroup" rowspan=(change.fields.len()) { (change.slot) }
                                    td rowspan=(change.fields.len()) { (change.what) }
                                }
                                td { (field.field) }
                                td { (field.before.unwrap_or(field.no_before)) }
                                td { (field.after.unwrap_or(field.no_after)) }
                            }
                        }
                    }
                }
            }))
        }
    }
}
