//! The page of an audit.

use maud::{Markup, html};

use super::super::audit_text::{self, Group};
use super::super::map::{self, Mark};
use super::board::{self, Block, Cell, Look};
use super::slots::{self, UNLISTED, held};
use super::{
    BOARD_SCRIPT, Content, Sign, document, facts, findings, joined, order, panel, sentence, verdict,
};
use crate::audit::{Finding, Verdict};
use crate::case::Case;
use crate::diagnose::Diagnosis;
use crate::plan::Demand;
use crate::plan::agreement::describe_wanted;
use crate::population::{Slot, SlotState};

/// The page of an audit: the verdict, what to do, where it is, what was found.
pub fn audit_page(diagnosis: &Diagnosis<'_>) -> String {
    page_of(diagnosis, None)
}

/// As [`audit_page`], as one of many that an overview leads to.
pub(super) fn page_of(diagnosis: &Diagnosis<'_>, overview: Option<&str>) -> String {
    let (_, headline) = audit_text::headline(diagnosis.audit);
    let sign = sign_of(diagnosis.audit.verdict);
    let header = html! {
        @if let Some(overview) = overview {
            p .screen { a href=(overview) { "All hosts" } }
        }
        div .verdict.(sign.word()) {
            p .print { "Work order" }
            (verdict(sign, &sentence(&headline)))
            (facts(&audit_text::facts(diagnosis)))
        }
    };
    let title = format!("{}: {}", diagnosis.audit.verdict.word(), diagnosis.case.name);
    let main = body(diagnosis, &Besides { first: html! {}, suspects: &[], plan_given: true });
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
pub(super) fn body(diagnosis: &Diagnosis<'_>, besides: &Besides<'_>) -> Markup {
    let groups = audit_text::groups(diagnosis);
    let steps = &diagnosis.steps;
    let population = &diagnosis.case.population;
    let mut blocks = board::of_population(population, |index, slot| {
        cell(index, &slot.name, Some(slot), diagnosis, besides)
    });
    let planned = diagnosis.case.plan.slots.iter().map(|planned| planned.slot.as_str());
    // Numbered on from those that are listed.
    let unlisted: Vec<(usize, &str)> =
        (population.slots.len()..).zip(planned.filter(|name| population.slot(name).is_none())).collect();
    if !unlisted.is_empty() {
        let cells = unlisted.iter().map(|(index, name)| cell(*index, name, None, diagnosis, besides));
        blocks.push(Block::loose("planned, and not in the listing", cells.collect()));
    }
    html! {
        div .columns {
            div {
                (order::section(steps, &groups, besides.plan_given))
                (order::signed())
            }
            div .side {
                section aria-labelledby="map" {
                    h2 #map { "Where it is" }
                    (board::draw(&blocks))
                    (legend())
                    (panel())
                }
            }
            div {
                (besides.first)
                (findings::section(&groups, population, besides.plan_given))
            }
        }
        (every_slot(diagnosis, &groups, &unlisted, besides.plan_given))
        (notes(diagnosis.case))
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

fn sign_at(name: &str, diagnosis: &Diagnosis<'_>) -> Option<Sign> {
    match audit_text::mark(name, &diagnosis.audit.findings) {
        Mark::Fault => Some(Sign::Fault),
        Mark::Warning => Some(Sign::Warning),
        Mark::Open => Some(Sign::Unproven),
        Mark::None => None,
    }
}

/// The words of findings, the gravest first, each once.
fn words(mut findings: Vec<&Finding>) -> String {
    findings.sort_by_key(|finding| finding.severity());
    let mut words: Vec<&str> = Vec::new();
    for finding in findings {
        let word = finding.kind.word();
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words.join(", ")
}

/// What should be in a slot, in words.
fn planned(demand: Option<&Demand>) -> String {
    match demand {
        None => "nothing".to_owned(),
        Some(Demand::Empty) => "empty".to_owned(),
        Some(Demand::Idle) => "a module that does not run".to_owned(),
        Some(Demand::Module(wanted)) => describe_wanted(wanted),
    }
}

/// The same in a word or two.
fn planned_short(demand: Option<&Demand>) -> String {
    match demand {
        None => "none".to_owned(),
        Some(Demand::Empty) => "empty".to_owned(),
        Some(Demand::Idle) => "idle".to_owned(),
        Some(Demand::Module(wanted)) => {
            wanted.size.map_or_else(|| "a module".to_owned(), |size| size.to_string())
        }
    }
}

/// A slot of the listing, or one that only the plan names.
fn cell(
    index: usize,
    name: &str,
    slot: Option<&Slot<'_>>,
    diagnosis: &Diagnosis<'_>,
    besides: &Besides<'_>,
) -> Cell {
    let demand = diagnosis.case.plan.demand(name).map(|planned| &planned.demand);
    let look = match (slot.map(|slot| &slot.state), demand) {
        (Some(SlotState::Fitted(_) | SlotState::NotRunning(_)), _) => Look::Filled,
        (_, None | Some(Demand::Empty)) => Look::Empty,
        (_, Some(_)) => Look::Lost,
    };
    let mut lines = vec![format!("there {}", slot.map_or_else(|| "unlisted".to_owned(), map::held))];
    if besides.plan_given {
        lines.push(format!("plan {}", planned_short(demand)));
    }
    let suspect = besides.suspects.iter().any(|own| own == name);
    let says = match sign_at(name, diagnosis) {
        Some(sign) => Some((sign, words(audit_text::marking(name, &diagnosis.audit.findings)))),
        None if suspect => Some((Sign::Unproven, "suspect".to_owned())),
        None => None,
    };
    // More is said of it than marked: what slows the whole machine is at all slots.
    let mut heard = words(diagnosis.audit.findings.iter().filter(|finding| finding.is_at(name)).collect());
    if heard.is_empty() {
        heard = if suspect { "suspect" } else { "no finding" }.to_owned();
    }
    let mut spoken = format!("{name}: {heard}; there: {}", slot.map_or_else(|| UNLISTED.to_owned(), held));
    if besides.plan_given {
        spoken.push_str("; planned: ");
        spoken.push_str(&planned(demand));
    }
    Cell { name: name.to_owned(), lines, says, look, bar: None, link: Some(format!("#slot-{index}")), spoken }
}

/// Every slot with what is there, what should be, and what was found about it.
fn every_slot(
    diagnosis: &Diagnosis<'_>,
    groups: &[Group<'_>],
    unlisted: &[(usize, &str)],
    plan_given: bool,
) -> Markup {
    let findings_at = |name: &str| {
        let about = |group: &Group<'_>| group.findings.iter().any(|finding| finding.is_at(name));
        let links = groups.iter().enumerate().filter(|(_, group)| about(group)).map(|(at, group)| {
            html! { a href={ "#finding-" (at + 1) } data-finding { (at + 1) ". " (group.findings[0].kind.word()) } }
        });
        joined(links.collect())
    };
    let planned = |name: &str| planned(diagnosis.case.plan.demand(name).map(|planned| &planned.demand));
    let planned: Option<&dyn Fn(&str) -> String> = if plan_given { Some(&planned) } else { None };
    slots::section(diagnosis.case, &slots::Columns { planned, findings: Some(&findings_at), unlisted })
}

/// What was noticed in the listing.
pub(super) fn notes(case: &Case<'_>) -> Markup {
    let notes = super::super::population_json::notes(case);
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
