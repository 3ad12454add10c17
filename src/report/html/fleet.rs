//! The page of a fleet, and the pages of its hosts.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};

use maud::{Markup, html};
use serde::Serialize;

use super::super::StockFindingJson;
use super::super::fleet::{FleetReport, headline, outcomes, pattern_text, plural};
use super::super::fleet_rows::{reason, verdict_word};
use super::super::slots::machine;
use super::audit::page_of;
use super::board::{self, Block, Cell, ChannelPlace, Look};
use super::{Content, FLEET_SCRIPT, Sign, document, embedded, frame, sentence, table, text, verdict};
use crate::audit::Severity;
use crate::fleet::{Host, ProductFaults, StockKind};
use crate::population::{Channel, Location, Slot, identity};

/// Where a slot stands on the boards of a product, as far as one listing proves it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SlotPlace {
    name: String,
    socket: Option<u16>,
    controller: Option<u16>,
    channel: Option<String>,
    position: Option<u16>,
    number: Option<u16>,
}

impl SlotPlace {
    fn of(slot: &Slot<'_>) -> Self {
        let Location { socket, channel, position, number, .. } = slot.location;
        Self {
            name: slot.name.to_string(),
            socket,
            controller: channel.and_then(|channel| channel.controller),
            channel: channel.map(|channel| channel.name.to_owned()),
            position,
            number,
        }
    }

    /// What a plan names and no listing has.
    fn unlisted(name: &str) -> Self {
        let name = name.to_owned();
        Self { name, socket: None, controller: None, channel: None, position: None, number: None }
    }

    fn location(&self) -> Location<'_> {
        let channel = self.channel.as_deref().map(|name| Channel { controller: self.controller, name });
        let Self { socket, position, number, .. } = *self;
        Location { socket, channel, position, number, ..Location::default() }
    }

    /// Whether it says more than another one of the same slot.
    fn proves_more(&self, other: &Self) -> bool {
        let proven = |own: &Self| (own.channel.is_some(), own.socket.is_some(), own.position.is_some());
        proven(self) > proven(other)
    }
}

/// What a page of the fleet needs of one host.
#[derive(Debug, Clone, Default)]
pub struct HostPage {
    /// Its row, as JSON.
    pub row: Vec<u8>,
    /// A page of its own, if it was asked for.
    pub page: String,
    /// Its product, with its slots.
    pub places: Option<(String, Vec<SlotPlace>)>,
}

/// One host as the page's script reads it.
#[derive(Debug, Serialize)]
struct HostRow {
    name: String,
    outcome: &'static str,
    product: String,
    serial: String,
    plan: String,
    planned: Option<u64>,
    detected: Option<u64>,
    faults: usize,
    warnings: usize,
    open: usize,
    reason: String,
    findings: Vec<FindingRow>,
}

#[derive(Debug, Serialize)]
struct FindingRow {
    kind: &'static str,
    severity: &'static str,
    slots: String,
    summary: String,
}

/// Makes what the fleet's page needs of a host; with a page of its own where `own_page` says so.
pub fn host_page(host: &Host<'_>, own_page: bool) -> HostPage {
    const OVERVIEW: &str = "../index.html";
    let mut row = HostRow {
        name: text(host.name),
        outcome: verdict_word(host.verdict),
        product: String::new(),
        serial: String::new(),
        plan: String::new(),
        planned: None,
        detected: None,
        faults: 0,
        warnings: 0,
        open: 0,
        reason: text(reason(host.verdict)),
        findings: Vec::new(),
    };
    let Some(audited) = &host.audited else {
        let page = if own_page { not_audited(host, OVERVIEW) } else { String::new() };
        return HostPage { row: embedded(&row), page, places: None };
    };
    let (case, audit) = (audited.case, audited.audit);
    let machine = machine(case);
    let count = |severity| audit.count(severity);
    row.product = text(&machine.product.unwrap_or_default());
    row.serial = text(&machine.serial.unwrap_or_default());
    row.plan = text(case.plan_name());
    row.planned = case.plan.planned_total().map(|size| size.0);
    row.detected = case.population.totals.detected.map(|size| size.0);
    (row.faults, row.warnings, row.open) =
        (count(Severity::Fault), count(Severity::Warning), count(Severity::Unproven));
    let findings = audit.findings.iter().map(|finding| FindingRow {
        kind: finding.kind.word(),
        severity: finding.severity().word(),
        slots: text(&finding.slots.join(", ")),
        summary: text(&finding.summary),
    });
    row.findings = findings.collect();
    let product = case.listing.systems.first().and_then(|system| system.product.get());
    let places = || case.population.slots.iter().map(SlotPlace::of).collect();
    HostPage {
        row: embedded(&row),
        page: if own_page { page_of(audited.diagnosis(), Some(OVERVIEW)) } else { String::new() },
        places: product.and_then(identity::clean).map(|product| (product.to_owned(), places())),
    }
}

/// The page of a host that could not be audited.
fn not_audited(host: &Host<'_>, overview: &str) -> String {
    let header = html! {
        p .screen { a href=(overview) { "All hosts" } }
        div .verdict.warning { (verdict(Sign::Warning, &format!("Not audited: {}", host.name))) }
    };
    let main = html! { section { p { (reason(host.verdict)) } } };
    document(&Content { title: host.name, header, main, script: None })
}

/// The page of a fleet while its hosts come in.
#[derive(Debug, Clone, Default)]
pub struct FleetPage {
    places: BTreeMap<String, BTreeMap<String, SlotPlace>>,
}

/// Products whose boards are drawn; those with the most faults.
const DRAWN: usize = 12;

impl FleetPage {
    /// Takes note of a host's board: of slots that no machine of its product had before, and of places that its
    /// labels prove and those before did not.
    pub fn see(&mut self, host: &HostPage) {
        let Some((product, places)) = &host.places else { return };
        if !self.places.contains_key(product) {
            self.places.insert(product.clone(), BTreeMap::new());
        }
        let Some(known) = self.places.get_mut(product) else { return };
        for place in places {
            if known.get(&place.name).is_none_or(|known| place.proves_more(known)) {
                known.insert(place.name.clone(), place.clone());
            }
        }
    }

    /// Writes the page. `rows` gives the rows of the hosts with commas between them; `pages` is the folder with
    /// their own pages, if there are such.
    ///
    /// # Errors
    /// Those of `rows` and `out`.
    pub fn write(
        &self,
        report: &FleetReport<'_>,
        pages: Option<&str>,
        rows: &mut dyn Read,
        out: &mut dyn Write,
    ) -> io::Result<()> {
        let (tone, headline) = headline(report);
        let headline = sentence(&headline);
        let header = html! {
            div .verdict.(Sign::from(tone).word()) {
                (verdict(Sign::from(tone), &headline))
                (tally(report))
            }
        };
        let main = self.main(report, pages);
        let content = Content { title: &headline, header, main, script: Some(FLEET_SCRIPT) };
        let (head, tail) = frame(&content);
        out.write_all(head.as_bytes())?;
        out.write_all(b"<script type=\"application/json\" id=\"hosts-data\">[\n")?;
        io::copy(rows, out)?;
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
        let kinds = summary.kinds();
        html! {
            (problems(report))
            @if !patterns.is_empty() {
                section aria-labelledby="common" {
                    h2 #common { "What machines have in common" }
                    ul { @for pattern in &patterns { li { (pattern_text(pattern)) } } }
                }
            }
            (hosts(report, pages))
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
            (self.drawings(&summary.faults_by_product()))
            (modules(report))
        }
    }

    /// How often each slot is at fault, on the boards of each product.
    fn drawings(&self, products: &[ProductFaults<'_>]) -> Markup {
        html! {
            @if !products.is_empty() {
                section aria-labelledby="boards" {
                    h2 #boards { "How often each slot is at fault" }
                    @for product in products.iter().take(DRAWN) {
                        h3 { (product.product) ", " (product.machines) " " (plural(product.machines, "machine")) }
                        (board::draw(&self.boards_of(product)))
                    }
                    @if products.len() > DRAWN {
                        p { "and " (products.len() - DRAWN) " more products with fewer faults" }
                    }
                }
            }
        }
    }

    fn boards_of(&self, product: &ProductFaults<'_>) -> Vec<Block> {
        let none = BTreeMap::new();
        let listed = self.places.get(product.product).unwrap_or(&none);
        let faults: BTreeMap<&str, usize> = product.slots.iter().copied().collect();
        let unlisted = faults.keys().filter(|slot| !listed.contains_key(**slot));
        let unlisted: Vec<SlotPlace> = unlisted.map(|slot| SlotPlace::unlisted(slot)).collect();
        let mut all: Vec<&SlotPlace> = listed.values().chain(&unlisted).collect();
        all.sort_by_key(|slot| (slot.location().board_key(), &slot.name));
        let most = faults.values().max().copied().unwrap_or(0).max(1);
        let cells = all.into_iter().map(|slot| {
            let name = slot.name.as_str();
            let count = faults.get(name).copied().unwrap_or(0);
            let share = format!("{count} of {}", product.machines);
            let cell = Cell {
                name: name.to_owned(),
                spoken: format!("{name}: at fault on {share} machines"),
                lines: if count == 0 { vec!["never".to_owned()] } else { Vec::new() },
                says: (count > 0).then_some((Sign::Fault, share)),
                look: if count > 0 { Look::Filled } else { Look::Empty },
                bar: Some(count * 1000 / most),
                link: None,
            };
            (ChannelPlace::of(&slot.location()), cell)
        });
        board::blocks(cells.collect(), |socket| {
            socket.map_or_else(
                || "slots without a proven socket".to_owned(),
                |number| format!("socket {number}"),
            )
        })
    }
}

/// A finding of the stock whose foreign text is safe to show.
fn shown(mut finding: StockFindingJson) -> StockFindingJson {
    for own in [&mut finding.serial, &mut finding.summary] {
        *own = text(own);
    }
    for own in [&mut finding.part, &mut finding.host, &mut finding.slot, &mut finding.other] {
        *own = own.as_deref().map(text);
    }
    finding
}

/// Numbers of hosts by outcome; each filters the table.
fn tally(report: &FleetReport<'_>) -> Markup {
    html! {
        ul .tally {
            @for outcome in outcomes(report.summary) {
                @let sign = match outcome.word {
                    "as-planned" => Sign::Good,
                    "deviates" => Sign::Fault,
                    "unproven" => Sign::Unproven,
                    _ => Sign::Warning,
                };
                li .(sign.word()) {
                    button type="button" data-for="hosts-data" data-filter="outcome" data-value=(outcome.word) { (sign.icon()) b { (outcome.count) } " " (outcome.key) }
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

/// Columns of a table: key, heading, whether it is a number.
type Columns = &'static [(&'static str, &'static str, bool)];

const HOSTS: Columns = &[
    ("name", "host", false),
    ("outcome", "outcome", false),
    ("findings", "findings", false),
    ("product", "product", false),
    ("serial", "serial", false),
    ("plan", "plan", false),
    ("detected", "memory", true),
    ("faults", "faults", true),
    ("warnings", "warnings", true),
    ("open", "open", true),
];

const MODULES: Columns = &[
    ("severity", "severity", false),
    ("kind", "kind", false),
    ("summary", "what is wrong", false),
    ("serial", "serial", false),
    ("part", "part", false),
    ("host", "host", false),
    ("slot", "slot", false),
    ("other", "other place", false),
    ("line", "line of the stock", true),
];

/// A table whose rows the script makes.
fn live(
    rows: &str,
    label: &str,
    columns: Columns,
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
                            @for (key, heading, number) in columns {
                                th scope="col" data-key=(key) aria-sort=[(*key == "faults").then_some("descending")] class=[number.then_some("number")] { button type="button" { (heading) } }
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

fn hosts(report: &FleetReport<'_>, pages: Option<&str>) -> Markup {
    let outcomes = outcomes(report.summary).iter().map(|outcome| outcome.word).collect();
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
            (live("hosts-data", "Hosts", HOSTS, &[("outcome", outcomes), ("kind", kinds)], pages))
        }
    }
}

/// Modules that are named where no script makes the table.
const LISTED: usize = 100;

fn modules(report: &FleetReport<'_>) -> Markup {
    let stock = report.stock;
    let kinds = StockKind::ALL.iter().filter(|kind| stock.count(**kind) > 0);
    let kinds: Vec<&str> = kinds.map(|kind| kind.word()).collect();
    let all: usize = StockKind::ALL.iter().map(|kind| stock.count(*kind)).sum();
    html! {
        @if report.stock_given || !stock.is_empty() {
            section aria-labelledby="modules" {
                h2 #modules { "Every module" }
                @if report.stock_given {
                    p { "stock: " (stock.rows) " modules, " (stock.accounted) " seen where they may be" }
                    @if stock.placeholders > 0 { p { (stock.placeholders) " " (plural(stock.placeholders, "row")) " without a usable serial number passed over" } }
                }
                @if stock.without_serial > 0 { p { (stock.without_serial) " " (plural(stock.without_serial, "module")) " without a stated serial number" } }
                @if !kinds.is_empty() {
                    noscript {
                        ul { @for finding in stock.findings().take(LISTED) { li { (finding.kind.word()) " (" (finding.kind.severity().word()) "): " (finding.summary) } } }
                        @if all > LISTED { p { "and " (all - LISTED) " more" } }
                    }
                    (live("modules-data", "Modules that are not where they should be", MODULES, &[("severity", vec!["fault", "warning", "unproven"]), ("kind", kinds)], None))
                }
            }
        }
    }
}
