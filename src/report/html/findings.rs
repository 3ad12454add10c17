//! Findings with their evidence and causes.

use maud::{Markup, html};

use super::joined;
use crate::audit::Evidence;
use crate::diagnose::Cause;
use crate::population::Population;
use crate::report::view::{
    BECAUSE, BELONGS, CHECK, FIELDS, FindingView, Group, SLOTS, more_lines, source_line, titles,
};

/// Evidence lines that are open to view; the rest is a touch away.
const OPEN: usize = 6;

/// A link to a slot's row in the table of slots, where it has one.
fn slot_link(name: &str, population: &Population<'_>) -> Markup {
    html! {
        @match population.slot(name) {
            Some((index, _)) => a href={ "#slot-" (index) } { (name) },
            None => (name),
        }
    }
}

/// The same for several.
pub(super) fn slot_links(names: &[String], population: &Population<'_>) -> Markup {
    joined(names.iter().map(|name| slot_link(name, population)).collect())
}

/// All findings; `id` of each is `finding-N`, counted from 1.
pub(super) fn section(groups: &[Group<'_>], population: &Population<'_>) -> Markup {
    html! {
        @if !groups.is_empty() {
            section .screen aria-labelledby="findings" {
                h2 #findings { (titles::FOUND) }
                @for group in groups { (article(group, population)) }
            }
        }
    }
}

fn article(group: &Group<'_>, population: &Population<'_>) -> Markup {
    html! {
        article id={ "finding-" (group.number) } {
            h3 .(group.mark.word()) {
                span .word { (group.mark.icon()) (group.number) ". " (group.kind_and_severity()) }
                " " (group.summary)
            }
            (one(&group.finding, population))
            dl .pair {
                @for (key, texts) in &group.compared {
                    @if !texts.is_empty() {
                        dt { (key) }
                        dd { @for text in texts { div { (text) } } }
                    }
                }
            }
            (evidence(&group.evidence))
            (causes(group.causes))
        }
    }
}

fn one(finding: &FindingView<'_>, population: &Population<'_>) -> Markup {
    html! {
        p data-finding=(finding.kind) {
            @if !finding.slots.is_empty() {
                span .quiet { (SLOTS) " " }
                (slot_links(finding.slots, population))
            }
            @if let Some(other) = finding.other_slot {
                span .quiet { ", " (BELONGS) " " }
                (slot_link(other, population))
            }
            @if !finding.fields.is_empty() {
                span .quiet { " " (FIELDS) " " }
                (finding.fields)
            }
        }
    }
}

fn evidence(all: &[&Evidence]) -> Markup {
    let lines = |lines: &[&Evidence]| {
        html! {
            ul .lines {
                @for line in lines {
                    li { span { (source_line(line)) } code { (line.text) } }
                }
            }
        }
    };
    let (open, rest) = all.split_at(all.len().min(OPEN));
    html! {
        @if !open.is_empty() { (lines(open)) }
        @if !rest.is_empty() {
            details { summary { (more_lines(rest.len())) } (lines(rest)) }
        }
    }
}

fn causes(causes: &[Cause]) -> Markup {
    html! {
        @if !causes.is_empty() {
            ul .causes {
                @for cause in causes {
                    li {
                        p { b { (cause.likelihood.word()) } ": " (cause.cause) }
                        p .quiet { (BECAUSE) " " (cause.why) }
                        p { b { (CHECK) } ": " (cause.check) }
                    }
                }
            }
        }
    }
}
