//! What to do: the work order, on the screen and on paper.

use maud::{Markup, html};

use super::super::audit_text::{Group, counted};
use super::super::work::{NO_STEP, afterwards, number};
use crate::diagnose::{CAUTIONS, Step, movements};

/// Cautions first, then the steps with boxes to tick; where there are none, what to look into.
pub(super) fn section(steps: &[Step], groups: &[Group<'_>], plan_given: bool) -> Markup {
    let (lead, lines) = if steps.is_empty() {
        (NO_STEP.to_owned(), groups.iter().map(|group| html! { span { (group.to_check()) } }).collect())
    } else {
        let texts = steps.iter().map(|step| html! { span data-step=(step.kind.word()) { (step.text) } });
        let after = afterwards(plan_given).map(|text| html! { span { (text) } });
        let lines: Vec<Markup> = texts.chain(after).collect();
        (format!("{} in {}, in this order", counted(movements(steps)), number(steps.len())), lines)
    };
    html! {
        section .order aria-labelledby="order" {
            h2 #order { "What to do" }
            @if lines.is_empty() {
                p { "Nothing that hands can mend was found." }
            } @else {
                ul .cautions { @for caution in CAUTIONS { li { (caution) } } }
                p { (lead) ":" }
                ol .steps {
                    @for (at, line) in lines.iter().enumerate() {
                        li { label { input type="checkbox"; b { (at + 1) } (line) } }
                    }
                }
            }
        }
    }
}

/// Where the one who did it signs, on paper only.
pub(super) fn signed() -> Markup {
    html! {
        div .print {
            div .signed { div { "name" } div { "date" } div { "signature" } }
        }
    }
}
