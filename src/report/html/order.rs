//! What to do: the work order, on the screen and on paper.

use maud::{Markup, html};

use super::super::audit_text::{Group, counted};
use super::super::work::{AFTERWARDS, AGAIN, NO_STEP, number};
use crate::diagnose::{CAUTIONS, Step, movements};

/// Cautions first, then the steps with boxes to tick.
pub(super) fn section(steps: &[Step], groups: &[Group<'_>], plan_given: bool) -> Markup {
    let last = if plan_given { AGAIN } else { "diagnose it again with the same `--fitted`" };
    html! {
        section .order aria-labelledby="order" {
            h2 #order { "What to do" }
            @if steps.is_empty() && groups.is_empty() {
                p { "Nothing that hands can mend was found." }
            } @else if steps.is_empty() {
                ul .cautions { @for caution in CAUTIONS { li { (caution) } } }
                p { (NO_STEP) ":" }
                ol .steps {
                    @for (at, group) in groups.iter().enumerate() {
                        li { label { input type="checkbox"; b { (at + 1) } span { (group.to_check()) } } }
                    }
                }
            } @else {
                ul .cautions { @for caution in CAUTIONS { li { (caution) } } }
                p { (counted(movements(steps))) " in " (number(steps.len())) ", in this order:" }
                ol .steps {
                    @for (at, step) in steps.iter().enumerate() {
                        li { label { input type="checkbox"; b { (at + 1) } span data-step=(step.kind.word()) { (step.text) } } }
                    }
                    @for (at, text) in AFTERWARDS.iter().copied().chain([last]).enumerate() {
                        li { label { input type="checkbox"; b { (steps.len() + at + 1) } span { (text) } } }
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
