//! How a mark is drawn: a shape, a sign and a word, so that colour is never needed.

use maud::{Markup, html};

use crate::report::view::Mark;

impl Mark {
    /// Its word in the sheet.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Warning => "warning",
            Self::Unproven => "unproven",
            Self::Good => "good",
        }
    }

    /// The shape in a square of 20.
    pub(super) fn shape(self) -> Markup {
        let (outline, sign) = match self {
            // Eight corners with a stroke and a dot, three with the same, a circle with an open hook, a tick.
            Self::Fault => ("M6 1h8l5 5v8l-5 5H6l-5-5V6z", "M10 5v6M10 15v.1"),
            Self::Warning => ("M10 1l9.5 17.5H.5z", "M10 7.5v5M10 15.7v.1"),
            Self::Unproven => (
                "M10 .8a9.2 9.2 0 1 0 0 18.4a9.2 9.2 0 1 0 0-18.4z",
                "M7 7.4a3 3 0 1 1 4.4 2.6q-1.4.8-1.4 2M10 15.2v.1",
            ),
            Self::Good => ("M1 3h18v14H1z", "M5.5 10.2l3 3 6-6.4"),
        };
        html! {
            path .mark.(self.word()) d=(outline) {}
            path .sign d=(sign) {}
        }
    }

    /// The shape beside a word.
    pub(super) fn icon(self) -> Markup {
        html! {
            svg .icon viewBox="0 0 20 20" aria-hidden="true" { use href={ "#mark-" (self.word()) } {} }
        }
    }
}

/// The shapes, to be used by name.
pub(super) fn shapes() -> Markup {
    html! {
        svg .defs aria-hidden="true" focusable="false" {
            @for mark in [Mark::Fault, Mark::Warning, Mark::Unproven, Mark::Good] {
                symbol id={ "mark-" (mark.word()) } viewBox="0 0 20 20" { (mark.shape()) }
            }
        }
    }
}
