//! What a page says of one slot, and the table of all slots, to which the drawing leads.

use maud::{Markup, html};

use super::table;
use crate::case::Case;
use crate::plan::agreement::describe_found;
use crate::population::{Slot, SlotState};

/// Columns that only some pages have: what a slot's name leads to.
pub(super) struct Columns<'c> {
    /// What should be there.
    pub(super) planned: Option<&'c dyn Fn(&str) -> String>,
    /// What was found about it.
    pub(super) findings: Option<&'c dyn Fn(&str) -> Markup>,
    /// Slots that no record is about, with numbers beyond those of the records; their rows come last.
    pub(super) unlisted: &'c [(usize, &'c str)],
}

/// What is there where no record is.
pub(super) const UNLISTED: &str = "not in the listing";

const NO_PLACE: &str = "not proven";

/// Every slot in the order of the board; `id` of each is `slot-N` by its record.
pub(super) fn section(case: &Case<'_>, columns: &Columns<'_>) -> Markup {
    let population = &case.population;
    let Columns { planned, findings, unlisted } = columns;
    let heads = [
        ("slot", true),
        ("place", true),
        ("planned", planned.is_some()),
        ("there", true),
        ("shown by", true),
        ("findings", findings.is_some()),
    ];
    let heads: Vec<_> = heads.into_iter().filter(|(_, has)| *has).map(|(head, _)| (head, false)).collect();
    let row = |index: usize, name: &str, slot: Option<&Slot<'_>>| {
        html! {
            tr id={ "slot-" (index) } {
                th scope="row" { (name) }
                td { (slot.map_or_else(|| NO_PLACE.to_owned(), place)) }
                @if let Some(planned) = planned { td .long { (planned(name)) } }
                td .long { (slot.map_or_else(|| UNLISTED.to_owned(), held)) }
                td { @if let Some(slot) = slot { (shown_by(slot, case)) } }
                @if let Some(findings) = findings { td { (findings(name)) } }
            }
        }
    };
    let rows = html! {
        tbody {
            @for index in population.in_board_order() {
                @let slot = &population.slots[index];
                (row(index, &slot.name, Some(slot)))
            }
            @for (index, name) in *unlisted { (row(*index, name, None)) }
        }
    };
    html! {
        // A work order has no room for it.
        section .screen[findings.is_some()] aria-labelledby="slots" {
            h2 #slots { "Every slot" }
            (table("slots", &heads, &rows))
        }
    }
}

/// What a slot holds, in words.
pub(super) fn held(slot: &Slot<'_>) -> String {
    match &slot.state {
        SlotState::Empty => "empty".to_owned(),
        SlotState::Unknown => "not stated".to_owned(),
        SlotState::Fitted(module) => describe_found(module),
        SlotState::NotRunning(module) => format!("{}; it gives no memory", describe_found(module)),
    }
}

/// Socket, channel and position as far as they are proven.
fn place(slot: &Slot<'_>) -> String {
    let location = slot.location;
    let parts = [
        location.socket.map(|number| format!("socket {number}")),
        location.channel.map(|channel| format!("channel {channel}")),
        location.position.map(|position| format!("position {position}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { NO_PLACE.to_owned() } else { parts.join(", ") }
}

/// Where the slot's record stands.
fn shown_by(slot: &Slot<'_>, case: &Case<'_>) -> String {
    case.listing
        .devices
        .get(slot.device)
        .map_or_else(String::new, |device| format!("listing line {}", device.head.place.line))
}
