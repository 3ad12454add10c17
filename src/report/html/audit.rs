//! The page of an audit.

use maud::{Markup, html};

use super::super::audit_text::{self, Group};
use super::super::map::{self, Mark};
use super::super::{AuditReport, Subject};
use super::board::{self, Cell, Look};
use super::{
    BOARD_SCRIPT, Content, Sign, document, facts, findings, joined, order, panel, sentence, verdict,
};
use crate::audit::{FindingKind, Verdict, describe_found, describe_wanted};
use crate::plan::Demand;
use crate::population::{Slot, SlotState};

/// The page of an audit: the verdict, what to do, where it is, what was found.
pub fn audit_page(report: &AuditReport<'_, '_>) -> String {
    page_of(report, None)
}

/// As [`audit_page`], as one of many that an overview leads to.
pub(super) fn page_of(report: &AuditReport<'_, '_>, overview: Option<&str>) -> String {
    let (_, headline) = audit_text::headline(report.audit);
    let sign = sign_of(report.audit.verdict);
    let header = html! {
        @if let Some(overview) = overview {
            p .screen { a href=(overview) { "All hosts" } }
        }
        div .verdict.(sign.word()) {
            p .print { "Work order" }
            (verdict(sign, &sentence(&headline)))
            (facts(&audit_text::facts(report)))
        }
    };
    let title = format!("{}: {}", report.audit.verdict.word(), report.subject.name);
    let main = body(report, &Besides { first: html! {}, suspects: &[], plan_given: true });
    document(&Content { title: &title, header, main, script: Some(BOARD_SCRIPT) })
}

pub(super) fn sign_of(verdict: Verdict) -> Sign {
    match verdict {
        Verdict::AsPlanned => Sign::Good,
        Verdict::Deviates => Sign::Fault,
        Verdict::Unproven => Sign::Unproven,
    }
}

/// What a diagnosis has besides an audit.
pub(super) struct Besides<'s> {
    /// Stands before the findings.
    pub(super) first: Markup,
    /// Slots that are marked where nothing else marks them.
    pub(super) suspects: &'s [String],
    /// Whether the plan was given; what is only assumed is not shown as planned.
    pub(super) plan_given: bool,
}

/// Work, map, findings and slots.
pub(super) fn body(report: &AuditReport<'_, '_>, besides: &Besides<'_>) -> Markup {
    let Besides { first, suspects, plan_given } = besides;
    let groups = audit_text::groups(report);
    let steps = report.work();
    let population = report.subject.population;
    let blocks = board::of_population(population, |index, slot| {
        let mut cell = cell(index, slot, report, *plan_given);
        if cell.says.is_none() && suspects.contains(&cell.name) {
            cell.says = Some((Sign::Unproven, "suspect".to_owned()));
        }
        cell
    });
    let unlisted: Vec<&str> = report
        .plan
        .slots
        .iter()
        .map(|planned| planned.slot.as_str())
        .filter(|name| population.slot(name).is_none())
        .collect();
    html! {
        div .columns {
            div {
                (order::section(&steps))
                (order::signed())
            }
            div .side {
                section aria-labelledby="map" {
                    h2 #map { "Where it is" }
                    (board::draw(&blocks))
                    @if !unlisted.is_empty() {
                        p { "Planned, and not in the listing: " (unlisted.join(", ")) }
                    }
                    (legend())
                    (panel())
                }
            }
            div {
                (first)
                (findings::section(&groups, population))
            }
        }
        (slots(report, &groups, *plan_given))
        (notes(report.subject))
    }
}

/// What the marks mean.
fn legend() -> Markup {
    html! {
        ul .legend.screen {
            @for (sign, text) in [(Sign::Fault, "fault"), (Sign::Warning, "warning"), (Sign::Unproven, "open: not shown by the evidence")] {
                li { (sign.icon()) (text) }
            }
            li { "broken outline: nothing is seen there" }
        }
    }
}

fn sign_at(name: &str, report: &AuditReport<'_, '_>) -> Option<Sign> {
    match audit_text::mark(name, &report.audit.findings) {
        Mark::Fault => Some(Sign::Fault),
        Mark::Warning => Some(Sign::Warning),
        Mark::Open => Some(Sign::Unproven),
        Mark::None => None,
    }
}

/// The words of the findings about a slot, the gravest first.
fn words_at(name: &str, report: &AuditReport<'_, '_>) -> Vec<&'static str> {
    let here = |slots: &[String], other: Option<&str>| slots.iter().any(|s| s == name) || other == Some(name);
    let mut found: Vec<_> = report
        .audit
        .findings
        .iter()
        .filter(|f| f.kind != FindingKind::ClockedDown && here(&f.slots, f.other_slot.as_deref()))
        .collect();
    found.sort_by_key(|finding| finding.severity());
    let mut words: Vec<&str> = found.into_iter().map(|finding| finding.kind.word()).collect();
    words.dedup();
    words
}

fn planned(name: &str, report: &AuditReport<'_, '_>) -> Option<String> {
    let planned = report.plan.slots.iter().find(|planned| planned.slot == name)?;
    Some(match &planned.demand {
        Demand::Empty => "empty".to_owned(),
        Demand::Idle => "a module that does not run".to_owned(),
        Demand::Module(wanted) => describe_wanted(wanted),
    })
}

fn planned_short(name: &str, report: &AuditReport<'_, '_>) -> Option<String> {
    let planned = report.plan.slots.iter().find(|planned| planned.slot == name)?;
    Some(match &planned.demand {
        Demand::Empty => "empty".to_owned(),
        Demand::Idle => "idle".to_owned(),
        Demand::Module(wanted) => wanted.size.map_or_else(|| "a module".to_owned(), |size| size.to_string()),
    })
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

fn cell(index: usize, slot: &Slot<'_>, report: &AuditReport<'_, '_>, plan_given: bool) -> Cell {
    let name = slot.name.as_ref();
    let there = map::held(slot);
    let there = if there == "-" { "empty".to_owned() } else { there };
    let short = planned_short(name, report);
    let mut lines = vec![format!("there {there}")];
    if plan_given {
        lines.push(short.as_ref().map_or_else(|| "plan none".to_owned(), |text| format!("plan {text}")));
    }
    let words = words_at(name, report);
    let says = sign_at(name, report).map(|sign| (sign, words.join(", ")));
    let wants = short.as_deref().is_some_and(|text| text != "empty");
    let look = match (&slot.state, wants) {
        (SlotState::Fitted(_) | SlotState::NotRunning(_), _) => Look::Filled,
        (SlotState::Empty | SlotState::Unknown, true) => Look::Lost,
        (SlotState::Empty | SlotState::Unknown, false) => Look::Empty,
    };
    let mut aloud = format!(
        "{name}: {}; there: {}",
        if words.is_empty() { "no finding".to_owned() } else { words.join(", ") },
        held(slot)
    );
    if plan_given {
        aloud.push_str("; planned: ");
        aloud.push_str(&planned(name, report).unwrap_or_else(|| "nothing".to_owned()));
    }
    Cell { name: name.to_owned(), lines, says, look, bar: None, link: Some(format!("#slot-{index}")), aloud }
}

/// Every slot with what is there, what should be, and what was found about it.
fn slots(report: &AuditReport<'_, '_>, groups: &[Group<'_>], plan_given: bool) -> Markup {
    let population = report.subject.population;
    let findings_at = |name: &str| {
        let about = |group: &Group<'_>| {
            group
                .findings
                .iter()
                .any(|f| f.slots.iter().any(|s| s == name) || f.other_slot.as_deref() == Some(name))
        };
        let links = groups.iter().enumerate().filter(|(_, group)| about(group)).map(|(at, group)| {
            html! { a href={ "#finding-" (at + 1) } data-finding { (at + 1) ". " (group.findings[0].kind.word()) } }
        });
        joined(links.collect())
    };
    let heads = ["slot", "place", "planned", "there", "shown by", "findings"];
    let heads = heads.into_iter().filter(|head| plan_given || *head != "planned");
    html! {
        section .screen aria-labelledby="slots" {
            h2 #slots { "Every slot" }
            div .scroll tabindex="0" role="group" aria-labelledby="slots" {
                table {
                    thead {
                        tr { @for head in heads { th scope="col" { (head) } } }
                    }
                    tbody {
                        @for index in population.in_board_order() {
                            @let slot = &population.slots[index];
                            tr id={ "slot-" (index) } {
                                th scope="row" { (slot.name) }
                                td { (place(slot)) }
                                @if plan_given {
                                    td .long { (planned(&slot.name, report).unwrap_or_else(|| "nothing".to_owned())) }
                                }
                                td .long { (held(slot)) }
                                td { (shown_by(slot, report.subject)) }
                                td { (findings_at(&slot.name)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Socket, channel and position as far as they are proven.
pub(super) fn place(slot: &Slot<'_>) -> String {
    let location = slot.location;
    let parts = [
        location.socket.map(|number| format!("socket {number}")),
        location.channel.map(|channel| format!("channel {channel}")),
        location.position.map(|position| format!("position {position}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { "not proven".to_owned() } else { parts.join(", ") }
}

/// Where the slot's record stands.
pub(super) fn shown_by(slot: &Slot<'_>, subject: Subject<'_, '_>) -> String {
    subject
        .listing
        .devices
        .get(slot.device)
        .map_or_else(String::new, |device| format!("listing line {}", device.head.place.line))
}

/// What was noticed in the listing.
pub(super) fn notes(subject: Subject<'_, '_>) -> Markup {
    let notes = super::super::population_json::notes(subject);
    html! {
        @if !notes.is_empty() {
            section .screen aria-labelledby="notes" {
                h2 #notes { "Noticed while reading" }
                ul {
                    @for note in notes {
                        li {
                            @if let Some(line) = note.line { "line " (line) ": " }
                            (note.text)
                            @if note.count > 1 { " (" (note.count) " times)" }
                        }
                    }
                }
            }
        }
    }
}
