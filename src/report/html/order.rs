//! What to do: the work order, on the screen and on paper.

use maud::{Markup, html};

use super::super::audit_text::counted;
use super::super::work::{AFTERWARDS, number};
use crate::diagnose::{CAUTIONS, Step, movements};

/// Cautions first, then the steps with boxes to tick.
pub(super) fn section(steps: &[Step]) -> Markup {
    html! {
        section .order aria-labelledby="order" {
            h2 #order { "What to do" }
            @if steps.is_empty() {
                p { "Nothing that hands can mend was found." }
            } @else {
                ul .cautions { @for caution in CAUTIONS { li { (caution) } } }
                p { (counted(movements(steps))) " in " (number(steps.len())) ", in this order:" }
                ol .steps {
                    @for (at, step) in steps.iter().enumerate() {
                        li { label { input type="checkbox"; b { (at + 1) } span data-step=(step.kind.word()) { (step.text) } } }
                    }
                    @for (at, text) in AFTERWARDS.iter().enumerate() {
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
