//! The page of a comparison.

use maud::{Markup, html};

use super::super::map;
use super::board::{self, Cell, Look};
use super::{BOARD_SCRIPT, Content, Sign, document, facts, panel, table};
use crate::compare::{COMPARED, Change, ChangeKind, Comparison, Side};
use crate::population::{Population, Slot};

/// The page of a comparison: which slots differ, where they are, and in what. `population` is the later state.
pub fn comparison_page(
    before: &str,
    after: &str,
    comparison: &Comparison,
    notes: &[String],
    population: &Population<'_>,
) -> String {
    let count = comparison.changes.len();
    let (sign, headline) = match count {
        // What speaks against the comparison itself is no reason to be content.
        0 if !notes.is_empty() => (Sign::Warning, "No difference, but mind the warning".to_owned()),
        0 => (Sign::Good, "No difference".to_owned()),
        1 => (Sign::Fault, "1 slot differs".to_owned()),
        _ => (Sign::Fault, format!("{count} slots differ")),
    };
    let mut about = vec![("before", before.to_owned()), ("after", after.to_owned())];
    about.extend(notes.iter().map(|note| ("warning", note.clone())));
    let header = html! {
        div .verdict.(sign.word()) {
            (super::verdict(sign, &format!("{headline}, {} the same", comparison.same)))
            (facts(&about))
        }
    };
    let blocks = board::of_population(population, |_, slot| cell(slot, comparison));
    let names = comparison.changes.iter().map(|change| change.slot.as_str());
    let unlisted: Vec<&str> = names.filter(|name| population.slot(name).is_none()).collect();
    let main = html! {
        section aria-labelledby="map" {
            h2 #map { "Where it is" }
            (board::draw(&blocks))
            @if !unlisted.is_empty() {
                p { "In the first alone: " (unlisted.join(", ")) }
            }
            (panel())
        }
        @if count > 0 { (changes(comparison)) }
    };
    document(&Content { title: &headline, header, main, script: Some(BOARD_SCRIPT) })
}

fn cell(slot: &Slot<'_>, comparison: &Comparison) -> Cell {
    let change = comparison.changes.iter().enumerate().find(|(_, change)| change.slot == slot.name);
    let there = map::held(slot);
    let what = change.map_or("the same", |(_, change)| change.kind.word());
    Cell {
        name: slot.name.to_string(),
        spoken: format!("{}: {what}; there: {there}", slot.name),
        lines: vec![there],
        says: change.map(|(_, change)| (Sign::Fault, change.kind.word().to_owned())),
        look: if slot.module().is_some() { Look::Filled } else { Look::Empty },
        bar: None,
        link: change.map(|(at, _)| format!("#change-{at}")),
    }
}

fn what(change: &Change) -> String {
    match (change.kind, &change.from) {
        (ChangeKind::Moved, Some(from)) => format!("moved here from {from}"),
        (ChangeKind::Gone, _) => "the module is gone".to_owned(),
        (ChangeKind::New, _) => "a module that was not there".to_owned(),
        (ChangeKind::Unlisted, _) => "listed on one side only".to_owned(),
        (ChangeKind::Changed | ChangeKind::Moved, _) => "changed".to_owned(),
    }
}

fn changes(comparison: &Comparison) -> Markup {
    let heads = ["slot", "what", "field", "before", "after"].map(|head| (head, false));
    // Of a slot that is stated to be empty, nothing else can be stated.
    let empty = |side: &Side| side.first().and_then(Option::as_deref) == Some("empty");
    let text = |side: &Side, field: usize| {
        side[field].clone().unwrap_or_else(|| if empty(side) { "none" } else { "not stated" }.to_owned())
    };
    html! {
        section aria-labelledby="changes" {
            h2 #changes { "What differs" }
            (table("changes", &heads, &html! {
                @for (at, change) in comparison.changes.iter().enumerate() {
                    tbody id={ "change-" (at) } data-change=(change.kind.word()) {
                        @let fields: Vec<usize> = (0..COMPARED.len()).filter(|at| change.fields.contains(&COMPARED[*at])).collect();
                        @for (line, field) in fields.iter().enumerate() {
                            tr {
                                @if line == 0 {
                                    th scope="rowgroup" rowspan=(fields.len()) { (change.slot) }
                                    td rowspan=(fields.len()) { (what(change)) }
                                }
                                td { (COMPARED[*field]) }
                                td { (text(&change.before, *field)) }
                                td { (text(&change.after, *field)) }
                            }
                        }
                    }
                }
            }))
        }
    }
}
