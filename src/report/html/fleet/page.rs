//! The page of a fleet.

use std::io::{self, Write};

use maud::{Markup, html};

use super::boards::{Boards, SlotPlace};
use super::live::{hosts, modules};
use crate::audit::Verdict;
use crate::fleet::Summary;
use crate::report::fleet::waiting::Waiting;
use crate::report::fleet::{FleetReport, StockFindingJson};
use crate::report::html::{Content, FLEET_SCRIPT, embedded, frame, table, text, verdict};
use crate::report::view::Mark;
use crate::report::view::fleet::{
    BY_AUDIT, BY_STOCK, changed_decision, decisions, headline, outcomes, pattern_text,
};

/// The page of a fleet while its hosts come in.
#[derive(Debug, Default)]
pub(super) struct FleetPage {
    boards: Boards,
}

impl FleetPage {
    /// Takes note of the board of a host of `product`.
    pub(super) fn see(&mut self, product: &str, places: &[SlotPlace]) {
        self.boards.see(product, places);
    }

    /// Writes the page. `rows` has the rows of the hosts; `pages` is the folder with
    /// their own pages, if there are such.
    ///
    /// # Errors
    /// Those of `rows` and `out`.
    pub(super) fn write(
        &self,
        report: &FleetReport<'_>,
        pages: Option<&str>,
        rows: &mut Waiting,
        out: &mut dyn Write,
    ) -> io::Result<()> {
        let headline = headline(report);
        let title = headline.sentence();
        let header = html! {
            div .verdict.(headline.mark.word()) {
                (verdict(headline.mark, &title))
                (tally(report))
            }
        };
        let main = self.main(report, pages);
        let content = Content { title: &title, header, main, script: Some(FLEET_SCRIPT) };
        let (head, tail) = frame(&content);
        out.write_all(head.as_bytes())?;
        out.write_all(b"<script type=\"application/json\" id=\"hosts-data\">[\n")?;
        let mut first = true;
        rows.decide(report.stock, |row| {
            if !std::mem::take(&mut first) {
                out.write_all(b",\n")?;
            }
            row.write(out)
        })?;
        out.write_all(b"\n]</script>\n<script type=\"application/json\" id=\"modules-data\">[")?;
        for (at, finding) in report.stock.findings().enumerate() {
            out.write_all(if at == 0 { b"\n" } else { b",\n" })?;
            out.write_all(&embedded(&shown(finding.into())))?;
        }
        out.write_all(b"\n]</script>\n")?;
        out.write_all(tail.as_bytes())
    }

    fn main(&self, report: &FleetReport<'_>, pages: Option<&str>) -> Markup {
        let summary = report.summary;
        let patterns = summary.patterns();
        html! {
            (problems(report))
            (by_stock(report))
            @if !patterns.is_empty() {
                section aria-labelledby="common" {
                    h2 #common { "What machines have in common" }
                    ul { @for pattern in &patterns { li { (pattern_text(pattern)) } } }
                }
            }
            (hosts(report, pages))
            (kinds(summary))
            (self.boards.draw(&summary.faults_by_product()))
            (modules(report))
        }
    }
}

/// Findings by kind; each kind filters the table.
fn kinds(summary: &Summary) -> Markup {
    let kinds = summary.kinds();
    html! {
        @if !kinds.is_empty() {
            section aria-labelledby="kinds" {
                h2 #kinds { "Findings by kind" }
                (table("kinds", &[("kind", false), ("findings", true), ("hosts", true)], &html! {
                    tbody {
                        @for (kind, hosts, findings) in &kinds {
                            tr {
                                th scope="row" {
                                    button type="button" data-for="hosts-data" data-filter="kind" data-value=(kind.word()) { (kind.word()) }
                                }
                                td .number { (findings) }
                                td .number { (hosts) }
                            }
                        }
                    }
                }))
            }
        }
    }
}

/// A finding of the stock whose untrusted text is safe to show.
fn shown(mut finding: StockFindingJson) -> StockFindingJson {
    for own in [&mut finding.serial, &mut finding.summary] {
        *own = text(own);
    }
    for own in [&mut finding.part, &mut finding.host, &mut finding.slot, &mut finding.other] {
        *own = own.as_deref().map(text);
    }
    finding
}

/// Hosts that are named one by one where the stock decides on them; the table has all.
const NAMED: usize = 100;

/// Hosts on which the stock decides otherwise than their audit.
fn by_stock(report: &FleetReport<'_>) -> Markup {
    let stock = report.stock;
    let all = stock.changed_decisions().count();
    html! {
        @if all > 0 {
            section aria-labelledby="by-stock" {
                h2 #by-stock { (BY_STOCK) }
                ul { @for changed in stock.changed_decisions().take(NAMED) { li { (text(&changed_decision(&changed))) } } }
                @if all > NAMED { p { "and " (all - NAMED) " more" } }
            }
        }
    }
}

/// Numbers of hosts by decision and by outcome; each filters the table.
fn tally(report: &FleetReport<'_>) -> Markup {
    html! {
        ul .tally {
            @for decided in decisions(report.stock) {
                li .(decided.mark.word()) {
                    button type="button" data-for="hosts-data" data-filter="decision" data-value=(decided.decision.word()) { (decided.mark.icon()) b { (decided.count) } " " (decided.decision.word()) }
                    " " (decided.text)
                }
            }
        }
        p .quiet { (BY_AUDIT) }
        ul .tally {
            @for outcome in outcomes(report.summary) {
                @let sign = match outcome.outcome {
                    Some(Verdict::AsPlanned) => Mark::Good,
                    Some(Verdict::Deviates) => Mark::Fault,
                    Some(Verdict::Unproven) => Mark::Unproven,
                    None => Mark::Warning,
                };
                li .(sign.word()) {
                    button type="button" data-for="hosts-data" data-filter="outcome" data-value=(outcome.word()) { (sign.icon()) b { (outcome.count) } " " (outcome.word()) }
                    " " (outcome.text)
                }
            }
        }
    }
}

/// Plans that cannot be read, what changed, hosts that could not be audited.
fn problems(report: &FleetReport<'_>) -> Markup {
    let reasons = report.summary.reasons();
    html! {
        @if !report.bad_plans.is_empty() {
            section aria-labelledby="plans" {
                h2 #plans { "Plans that cannot be read" }
                ul { @for plan in report.bad_plans { li { (plan) } } }
            }
        }
        @if let Some(changes) = report.changes {
            section aria-labelledby="changes" {
                h2 #changes { "Changed since " (changes.since) }
                @if changes.changed.is_empty() && changes.new.is_empty() && changes.gone.is_empty() { p { "nothing" } }
                ul {
                    @for (key, hosts) in [("changed", &changes.changed), ("new", &changes.new)] {
                        @for (name, word) in hosts { li { (key) " " b { (name) } ": " (word) } }
                    }
                    @for name in &changes.gone { li { "gone " b { (name) } } }
                }
            }
        }
        @if !reasons.is_empty() {
            section aria-labelledby="reasons" {
                h2 #reasons { "Not audited" }
                ul {
                    @for (reason, count, names) in reasons {
                        li {
                            b { (names.join(", ")) }
                            @if count > names.len() { " and " (count - names.len()) " more" }
                            ": " (reason)
                        }
                    }
                }
            }
        }
    }
}
