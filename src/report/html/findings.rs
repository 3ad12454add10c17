//! Findings with their evidence and causes, and the table of all slots that leads to them.

use maud::{Markup, html};

use super::super::audit_text::Group;
use super::{Sign, joined};
use crate::audit::{Evidence, Finding};
use crate::diagnose::Cause;
use crate::population::Population;

/// Evidence lines that are open to view; the rest is a touch away.
const OPEN: usize = 6;

/// A link to a slot's row in the table of slots, where it has one.
pub(super) fn slot_link(name: &str, population: &Population<'_>) -> Markup {
    html! {
        @match population.slot(name) {
            Some((index, _)) => a href={ "#slot-" (index) } { (name) },
            None => (name),
        }
    }
}

/// All findings; `id` of each is `finding-N`, counted from 1.
pub(super) fn section(groups: &[Group<'_>], population: &Population<'_>, plan_given: bool) -> Markup {
    html! {
        @if !groups.is_empty() {
            section .screen aria-labelledby="findings" {
                h2 #findings { "What was found" }
                @for (at, group) in groups.iter().enumerate() { (article(at + 1, group, population, plan_given)) }
            }
        }
    }
}

fn article(number: usize, group: &Group<'_>, population: &Population<'_>, plan_given: bool) -> Markup {
    let expected = if plan_given { "planned" } else { "assumed" };
    let first = group.findings[0];
    let sign = Sign::from(first.severity());
    html! {
        article id={ "finding-" (number) } {
            h3 .(sign.word()) {
                span .word { (sign.icon()) (number) ". " (first.kind.word()) " (" (first.severity().word()) ")" }
                " " (group.summary())
            }
            @for finding in &group.findings {
                p data-finding=(finding.kind.word()) {
                    @if group.findings.len() > 1 { (finding.summary) " " }
                    @if !finding.slots.is_empty() {
                        span .quiet { "slots " }
                        (joined(finding.slots.iter().map(|slot| slot_link(slot, population)).collect()))
                    }
                    @if let Some(other) = &finding.other_slot {
                        span .quiet { ", belongs into " }
                        (slot_link(other, population))
                    }
                    @if !finding.fields.is_empty() {
                        span .quiet { " fields " }
                        (finding.fields.iter().map(|field| field.word()).collect::<Vec<_>>().join(", "))
                    }
                }
            }
            dl .pair {
                @for (key, texts) in [(expected, group.texts(|f| &f.expected)), ("there", group.texts(|f| &f.found))] {
                    @if !texts.is_empty() {
                        dt { (key) }
                        dd { @for text in texts { div { (text) } } }
                    }
                }
            }
            (evidence(&group.findings))
            (causes(&group.causes))
        }
    }
}

fn evidence(findings: &[&Finding]) -> Markup {
    let all: Vec<&Evidence> = findings.iter().flat_map(|finding| &finding.evidence).collect();
    let lines = |lines: &[&Evidence]| {
        html! {
            ul .lines {
                @for line in lines {
                    li { span { (line.source.word()) " line " (line.line) } code { (line.text) } }
                }
            }
        }
    };
    let (open, rest) = all.split_at(all.len().min(OPEN));
    html! {
        @if !open.is_empty() { (lines(open)) }
        @if !rest.is_empty() {
            details { summary { (rest.len()) " more lines" } (lines(rest)) }
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
                        p .quiet { "because " (cause.why) }
                        p { b { "check" } ": " (cause.check) }
                    }
                }
            }
        }
    }
}
