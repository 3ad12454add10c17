//! Tables whose rows the page's script makes, and what is in their place where no script runs.

use maud::{Markup, html};

use super::host::host_columns;
use crate::audit::Severity;
use crate::base::words::plural;
use crate::fleet::StockKind;
use crate::report::fleet::{FleetReport, StockFindingJson};
use crate::report::html::fleet::column::Column;
use crate::report::html::text;
use crate::report::view::fleet::{
    OutcomeCount, decisions, outcomes, placeholders, stock_seen, without_serial,
};

/// A column of modules: a field of the JSON, so that no heading is without its cells.
macro_rules! module_column {
    ($field:ident, $heading:literal, is_number: $is_number:literal) => {{
        const _: fn(&StockFindingJson) = |finding| {
            let _ = &finding.$field;
        };
        Column { key: stringify!($field), heading: $heading, is_number: $is_number }
    }};
}

const MODULES: &[Column] = &[
    module_column!(severity, "severity", is_number: false),
    module_column!(kind, "kind", is_number: false),
    module_column!(summary, "what is wrong", is_number: false),
    module_column!(serial, "serial", is_number: false),
    module_column!(part, "part", is_number: false),
    module_column!(host, "host", is_number: false),
    module_column!(slot, "slot", is_number: false),
    module_column!(other, "other place", is_number: false),
    module_column!(line, "line of the stock", is_number: true),
];

/// The worst hosts, for a browser that makes no table of all.
fn worst(report: &FleetReport<'_>) -> Markup {
    html! {
        p { "The rows of this table are made by the page's own script, which this browser does not run. The worst hosts:" }
        ol {
            @for host in report.summary.worst() {
                li {
                    b { (host.name) } ": " (host.faults) " " (plural(host.faults, "fault"))
                    ul { @for finding in &host.findings { li { (finding) } } }
                }
            }
        }
    }
}

/// A table whose rows the script makes.
fn live(
    rows: &str,
    label: &str,
    columns: &[Column],
    selects: &[(&str, Vec<&str>)],
    pages: Option<&str>,
) -> Markup {
    html! {
        div .live data-rows=(rows) data-pages=[pages] {
            div .tools {
                label { "search" input type="search" autocomplete="off"; }
                @for (name, values) in selects {
                    label {
                        (name)
                        select data-key=(name) {
                            option value="" { "all" }
                            @for value in values { option value=(value) { (value) } }
                        }
                    }
                }
                p role="status" {}
            }
            div .scroll tabindex="0" role="group" aria-label=(label) {
                table {
                    thead {
                        tr {
                            @for Column { key, heading, is_number } in columns {
                                th scope="col" data-key=(key) aria-sort=[(*key == "faults").then_some("descending")] class=[is_number.then_some("number")] { button type="button" { (heading) } }
                            }
                        }
                    }
                    tbody {}
                }
            }
            button .more type="button" hidden { "Show more rows" }
        }
    }
}

pub(super) fn hosts(report: &FleetReport<'_>, pages: Option<&str>) -> Markup {
    let outcomes = outcomes(report.summary).iter().map(OutcomeCount::word).collect();
    let decisions = decisions(report.stock).iter().map(|decided| decided.decision.word()).collect();
    let kinds = report.summary.kinds().iter().map(|(kind, ..)| kind.word()).collect();
    html! {
        section aria-labelledby="hosts" {
            @match report.changes {
                None => h2 #hosts { "Every host" },
                Some(changes) => {
                    h2 #hosts { "Hosts that are new or different" }
                    p { "The numbers above and below count all hosts; this table has those that changed since " (changes.since) "." }
                }
            }
            noscript { (worst(report)) }
            (live("hosts-data", "Hosts", &host_columns(), &[("decision", decisions), ("outcome", outcomes), ("kind", kinds)], pages))
        }
    }
}

/// Modules that are named where no script makes the table.
const LISTED: usize = 100;

pub(super) fn modules(report: &FleetReport<'_>) -> Markup {
    let stock = report.stock;
    let kinds: Vec<&str> =
        StockKind::ALL.iter().copied().filter(|kind| stock.count(*kind) > 0).map(StockKind::word).collect();
    let severities = [Severity::Fault, Severity::Warning, Severity::Unproven].map(Severity::word).to_vec();
    html! {
        @if stock.is_given() || !stock.is_empty() {
            section aria-labelledby="modules" {
                h2 #modules { "Every module" }
                @if stock.is_given() {
                    p { "stock: " (stock_seen(stock)) }
                    @if let Some(text) = placeholders(stock) { p { (text) } }
                }
                @if let Some(text) = without_serial(stock) { p { (text) } }
                @if !kinds.is_empty() {
                    noscript {
                        @for kind in StockKind::ALL.iter().copied().filter(|kind| stock.count(*kind) > 0) {
                            @let (sentences, rest) = stock.sentences(kind, LISTED);
                            p { (kind.word()) " (" (kind.severity().word()) "): " (stock.count(kind)) }
                            ul { @for sentence in sentences { li { (text(&sentence)) } } }
                            @if rest > 0 { p { "and " (rest) " more" } }
                        }
                    }
                    (live("modules-data", "Modules that are not where they should be", MODULES, &[("severity", severities), ("kind", kinds)], None))
                }
            }
        }
    }
}
