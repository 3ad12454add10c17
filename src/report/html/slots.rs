//! The table of all slots, to which the drawing leads.

use maud::{Markup, html};

use super::{joined, table};
use crate::report::view::{SLOT_COLUMNS, SlotRow, titles};

/// Every slot; `id` of each is `slot-N`.
pub(super) fn section(rows: &[SlotRow]) -> Markup {
    // Columns that only some pages have.
    let planned = rows.iter().any(|row| row.planned.is_some());
    let findings = rows.iter().any(|row| row.findings.is_some());
    let [slot, place, plan, there, shown_by, found] = SLOT_COLUMNS;
    let heads =
        [(slot, true), (place, true), (plan, planned), (there, true), (shown_by, true), (found, findings)];
    let heads: Vec<_> = heads.into_iter().filter(|(_, has)| *has).map(|(head, _)| (head, false)).collect();
    let rows = html! {
        tbody {
            @for row in rows {
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
        section .screen[findings] aria-labelledby="slots" {
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
