//! The table of all slots, to which the drawing leads.

use maud::{Markup, html};

use super::{joined, table};
use crate::report::view::{SlotTable, titles};

/// Every slot; `id` of each is `slot-N`.
pub(super) fn section(slots: &SlotTable) -> Markup {
    let heads: Vec<_> = slots.columns.iter().map(|title| (*title, false)).collect();
    let rows = html! {
        tbody {
            @for row in &slots.rows {
                tr id={ "slot-" (row.number) } {
                    th scope="row" { (row.name) }
                    td { (row.place) }
                    @if let Some(planned) = &row.planned { td .long { (planned) } }
                    td .long { (row.there) }
                    td { (row.shown_by) }
                    @if let Some(findings) = &row.findings { td { (links(findings)) } }
                }
            }
        }
    };
    html! {
        // A work order has no room for it.
        section .screen[slots.has_findings] aria-labelledby="slots" {
            h2 #slots { (titles::EVERY_SLOT) }
            (table("slots", &heads, &rows))
        }
    }
}

fn links(findings: &[(usize, &'static str)]) -> Markup {
    let link = |(number, kind): &(usize, &'static str)| {
        html! { a href={ "#finding-" (number) } data-finding { (number) ". " (kind) } }
    };
    joined(findings.iter().map(link).collect())
}
