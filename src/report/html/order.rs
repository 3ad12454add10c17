//! What to do: the work order, on the screen and on paper.

use maud::{Markup, html};

use super::with_code;
use crate::report::view::{BRING, Order, SIGNED, Work, titles};

/// Cautions first, then the steps with boxes to tick; where there are none, what to look into.
pub(super) fn section(order: &Order<'_>) -> Markup {
    let lines: Vec<Markup> = match &order.work {
        Work::Nothing => Vec::new(),
        Work::Checks(checks) => checks.iter().map(|text| html! { span { (with_code(text)) } }).collect(),
        Work::Steps { steps, .. } => {
            let steps = steps
                .iter()
                .map(|step| html! { span data-step=(step.kind.word()) { (with_code(&step.text)) } });
            let after = order.afterwards.iter().map(|text| html! { span { (with_code(text)) } });
            steps.chain(after).collect()
        }
    };
    html! {
        section .order aria-labelledby="order" {
            h2 #order { (titles::TO_DO) }
            @if lines.is_empty() {
                p { (order.work.lead()) }
            } @else {
                @if !order.bring.is_empty() {
                    p { (BRING) ": " (order.bring.join("; ")) }
                }
                ul .cautions { @for caution in &order.cautions { li { (caution) } } }
                p { (order.work.lead()) ":" }
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
            div .signed { @for line in SIGNED { div { (line) } } }
        }
    }
}
