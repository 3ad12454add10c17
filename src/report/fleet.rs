//! What a fleet comes to, in its forms: text, JSON, metrics, and the frame of the test report.

use std::fmt::Write as _;
use std::io::{self, Write};

use serde::Serialize;

use super::fleet_rows::xml;
use super::layout::{Page, Tone};
use crate::audit::{FindingKind, Severity};
use crate::fleet::{Pattern, PatternKind, Reconciled, StockFinding, StockKind, Summary};

/// A fleet with all it was made from.
#[derive(Debug, Clone, Copy)]
pub struct FleetReport<'r> {
    /// Sums over the hosts.
    pub summary: &'r Summary,
    /// What became of the modules.
    pub stock: &'r Reconciled,
    /// Whether a stock was given; without one only duplicates are known.
    pub stock_given: bool,
    /// What changed since an earlier run, if one was given.
    pub changes: Option<&'r Changes>,
    /// Plans that could not be read.
    pub bad_plans: &'r [String],
}

/// What changed since an earlier run.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// The earlier run's file.
    pub since: String,
    /// Hosts whose outcome or findings are others, with both outcomes.
    pub changed: Vec<(String, &'static str)>,
    /// Hosts that the earlier run did not have.
    pub new: Vec<(String, &'static str)>,
    /// Hosts that this run does not have.
    pub gone: Vec<String>,
}

/// Names shown of a long list.
const SHOWN: usize = 20;

/// Writes the summary for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_fleet(report: &FleetReport<'_>, out: &mut dyn Write) -> io::Result<()> {
    let summary = report.summary;
    let mut page = Page::new(out);
    let (tone, headline) = headline(report);
    page.text(0, 2, tone, &headline)?;
    for outcome in outcomes(summary) {
        page.entry(0, outcome.key, &format!("{} {}", outcome.count, outcome.text))?;
    }
    for plan in report.bad_plans {
        page.entry(0, "plan", plan)?;
    }
    write_changes(&mut page, report)?;
    write_kinds(&mut page, summary)?;
    write_worst(&mut page, summary)?;
    write_reasons(&mut page, summary)?;
    write_patterns(&mut page, &summary.patterns())?;
    write_stock(&mut page, report)
}

/// How many may ship, in one line.
pub(super) fn headline(report: &FleetReport<'_>) -> (Tone, String) {
    let summary = report.summary;
    let all_well =
        summary.as_planned == summary.hosts && report.stock_is_clean() && report.bad_plans.is_empty();
    let lost = report.stock.count_of(Severity::Fault);
    let bad =
        summary.hosts == 0 || summary.deviates + summary.not_done + lost > 0 || !report.bad_plans.is_empty();
    let tone = match (bad, all_well) {
        (true, _) => Tone::Bad,
        (false, true) => Tone::Good,
        (false, false) => Tone::Doubt,
    };
    let headline = match lost {
        0 => format!("{} OF {} MAY SHIP", summary.as_planned, summary.hosts),
        _ => format!(
            "{} OF {} AS PLANNED, BUT {lost} {} NOT WHERE {} SHOULD BE",
            summary.as_planned,
            summary.hosts,
            if lost == 1 { "MODULE IS" } else { "MODULES ARE" },
            if lost == 1 { "IT" } else { "THEY" }
        ),
    };
    (tone, headline)
}

/// How many hosts came out in one way.
pub(super) struct OutcomeCount {
    /// What to do with them.
    pub(super) key: &'static str,
    /// The outcome's word in JSON.
    pub(super) word: &'static str,
    pub(super) count: usize,
    /// What they are.
    pub(super) text: String,
}

/// The numbers of hosts by outcome.
pub(super) fn outcomes(summary: &Summary) -> [OutcomeCount; 4] {
    let warnings = match summary.with_warnings {
        0 => String::new(),
        some => format!(", {some} of them with warnings"),
    };
    let of = |key, word, count, text: &str| OutcomeCount { key, word, count, text: text.to_owned() };
    [
        of("ship", "as-planned", summary.as_planned, &format!("as planned{warnings}")),
        of("hold", "deviates", summary.deviates, "deviate from their plan"),
        of("open", "unproven", summary.unproven, "show no fault, but not everything the plan demands"),
        of("unread", "not-audited", summary.not_done, "could not be audited"),
    ]
}

impl FleetReport<'_> {
    /// Whether every module is where it should be.
    pub fn stock_is_clean(&self) -> bool {
        self.stock.count_of(Severity::Fault) + self.stock.count_of(Severity::Unproven) == 0
    }
}

fn write_changes(page: &mut Page<'_>, report: &FleetReport<'_>) -> io::Result<()> {
    let Some(changes) = report.changes else { return Ok(()) };
    page.blank()?;
    page.text(0, 2, Tone::Heading, &format!("Changed since {}", changes.since))?;
    if changes.changed.is_empty() && changes.new.is_empty() && changes.gone.is_empty() {
        return page.text(2, 4, Tone::Plain, "nothing");
    }
    for (key, hosts) in [("changed", &changes.changed), ("new", &changes.new)] {
        for (name, verdict) in hosts.iter().take(SHOWN) {
            page.entry(2, key, &format!("{name}: {verdict}"))?;
        }
        more(page, key, hosts.len())?;
    }
    for name in changes.gone.iter().take(SHOWN) {
        page.entry(2, "gone", name)?;
    }
    more(page, "gone", changes.gone.len())
}

fn more(page: &mut Page<'_>, key: &str, count: usize) -> io::Result<()> {
    match count.checked_sub(SHOWN) {
        Some(rest @ 1..) => page.entry(2, key, &format!("and {rest} more")),
        _ => Ok(()),
    }
}

fn write_kinds(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    let kinds = summary.kinds();
    if kinds.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Findings by kind")?;
    for (kind, hosts, findings) in kinds {
        let text = format!("{:<16} {findings:>6} on {hosts} {}", kind.word(), plural(hosts, "host"));
        page.text(2, 4, Tone::Plain, &text)?;
    }
    Ok(())
}

pub(super) fn plural(count: usize, what: &str) -> String {
    if count == 1 { what.to_owned() } else { format!("{what}s") }
}

fn write_worst(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    if summary.worst().is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Worst first")?;
    for host in summary.worst() {
        let faults = format!("{} {}", host.faults, plural(host.faults, "fault"));
        page.text(2, 4, Tone::Bad, &format!("{}: {faults}", host.name))?;
        for finding in &host.findings {
            page.text(4, 6, Tone::Plain, finding)?;
        }
    }
    if let Some(rest @ 1..) = summary.deviates.checked_sub(summary.worst().len()) {
        page.text(2, 4, Tone::Plain, &format!("and {rest} more that deviate"))?;
    }
    Ok(())
}

fn write_reasons(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    if summary.not_done == 0 {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Not audited")?;
    let reasons = summary.reasons();
    for (reason, count, names) in reasons.iter().take(SHOWN) {
        let rest = count - names.len();
        let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
        page.text(2, 4, Tone::Doubt, &format!("{}{more}", names.join(", ")))?;
        page.text(4, 6, Tone::Plain, reason)?;
    }
    if let Some(rest @ 1..) = reasons.len().checked_sub(SHOWN) {
        page.text(2, 4, Tone::Plain, &format!("and {rest} more reasons (--hosts-table has all)"))?;
    }
    Ok(())
}

fn write_patterns(page: &mut Page<'_>, patterns: &[Pattern]) -> io::Result<()> {
    if patterns.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "What machines have in common")?;
    for pattern in patterns.iter().take(SHOWN) {
        page.text(2, 4, Tone::Plain, &format!("- {}", pattern_text(pattern)))?;
    }
    Ok(())
}

pub(super) fn pattern_text(pattern: &Pattern) -> String {
    let Pattern { of, machines, among, .. } = pattern;
    match &pattern.kind {
        PatternKind::Slot { slot, finding } => {
            let hint = match finding {
                FindingKind::Missing | FindingKind::NotRunning => {
                    "; look at this slot's design: latch, cable, heat sink, the plan's slot name"
                }
                _ => "",
            };
            format!("{of}: {} in {slot} on {machines} of {among} machines{hint}", finding.word())
        }
        PatternKind::SlowPart => {
            format!(
                "part {of} runs slow on all {among} machines that have it; compare its sticker with the plan"
            )
        }
    }
}

fn write_stock(page: &mut Page<'_>, report: &FleetReport<'_>) -> io::Result<()> {
    let stock = report.stock;
    if !report.stock_given && stock.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Every module")?;
    if report.stock_given {
        page.entry(
            2,
            "stock",
            &format!("{} modules, {} seen where they may be", stock.rows, stock.accounted),
        )?;
        if stock.placeholders > 0 {
            let rows = plural(stock.placeholders, "row");
            let text = format!("{} {rows} without a usable serial number passed over", stock.placeholders);
            page.entry(2, "", &text)?;
        }
    }
    if stock.without_serial > 0 {
        let modules = plural(stock.without_serial, "module");
        let text = format!("{} {modules} without a stated serial number", stock.without_serial);
        page.entry(2, "open", &text)?;
    }
    for kind in StockKind::ALL.iter().copied() {
        let count = stock.count(kind);
        if count == 0 {
            continue;
        }
        let tone = if kind.severity() == Severity::Fault { Tone::Bad } else { Tone::Doubt };
        page.text(2, 4, tone, &format!("{} ({}): {count}", kind.word(), kind.severity().word()))?;
        for finding in stock.of(kind).take(SHOWN) {
            page.text(4, 6, Tone::Plain, &finding.summary)?;
        }
        if let Some(rest @ 1..) = count.checked_sub(SHOWN) {
            page.text(4, 6, Tone::Plain, &format!("and {rest} more (--format json has all)"))?;
        }
    }
    Ok(())
}

/// A fleet, version 1: the last line of its JSON.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted fleet"))]
pub struct FleetJson<'r> {
    /// Always `asfitted.fleet`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// Numbers of hosts by outcome.
    pub hosts: HostsJson,
    /// Findings by kind, with the number of hosts that have one.
    pub kinds: Vec<KindJson>,
    /// What machines have in common.
    pub patterns: Vec<PatternJson>,
    /// What became of the modules.
    pub stock: StockJson<'r>,
    /// What changed since the earlier run; null without one.
    pub changes: Option<ChangesJson>,
    /// Plans that could not be read: file, why, what to do.
    pub bad_plans: Vec<String>,
}

/// Numbers of hosts.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct HostsJson {
    /// All.
    pub all: usize,
    /// As planned.
    pub as_planned: usize,
    /// Those of them with warnings.
    pub with_warnings: usize,
    /// With a fault.
    pub deviates: usize,
    /// With an open point and no fault.
    pub unproven: usize,
    /// Not audited.
    pub not_audited: usize,
}

/// One kind of finding.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct KindJson {
    /// The kind.
    pub kind: &'static str,
    /// Hosts that have one.
    pub hosts: usize,
    /// All of them.
    pub findings: usize,
}

/// One pattern.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PatternJson {
    /// `slot` or `slow-part`.
    pub pattern: &'static str,
    /// Product name, or part number.
    pub of: String,
    /// The slot, for `slot`.
    pub slot: Option<String>,
    /// The kind of finding, for `slot`.
    pub kind: Option<&'static str>,
    /// Machines that show it.
    pub machines: usize,
    /// Machines that could.
    pub among: usize,
}

/// What became of the modules.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StockJson<'r> {
    /// Whether a stock was given.
    pub given: bool,
    /// Its rows with a serial number.
    pub rows: usize,
    /// Its rows without a usable one.
    pub placeholders: usize,
    /// Modules of the stock that were seen where they may be.
    pub accounted: usize,
    /// Modules that were seen and state no serial number.
    pub without_serial: usize,
    /// Modules that are not where they should be.
    #[cfg_attr(feature = "schema", schemars(with = "Vec<StockFindingJson>"))]
    pub findings: StockFindings<'r>,
}

/// All findings of a stock, put into words while they are written.
#[derive(Debug, Clone, Copy)]
pub struct StockFindings<'r>(&'r Reconciled);

impl Serialize for StockFindings<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.findings().map(StockFindingJson::from))
    }
}

/// One module that is not where it should be.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StockFindingJson {
    /// `duplicate-serial`, `elsewhere`, `unaccounted`, `unproven` or `not-in-stock`.
    pub kind: &'static str,
    /// `fault`, `warning` or `unproven`.
    pub severity: &'static str,
    /// Serial number as it is compared.
    pub serial: String,
    /// Part number.
    pub part: Option<String>,
    /// The host where it was seen, or to which it is allotted.
    pub host: Option<String>,
    /// The slot where it was seen.
    pub slot: Option<String>,
    /// The other place.
    pub other: Option<String>,
    /// 1-based line of the stock.
    pub line: Option<u32>,
    /// One sentence.
    pub summary: String,
}

impl From<StockFinding> for StockFindingJson {
    fn from(finding: StockFinding) -> Self {
        Self {
            kind: finding.kind.word(),
            severity: finding.kind.severity().word(),
            serial: finding.serial,
            part: finding.part,
            host: finding.host,
            slot: finding.slot,
            other: finding.other,
            line: finding.line,
            summary: finding.summary,
        }
    }
}

/// What changed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ChangesJson {
    /// The earlier run's file.
    pub since: String,
    /// Hosts whose outcome or findings changed.
    pub changed: Vec<String>,
    /// Hosts that are new.
    pub new: Vec<String>,
    /// Hosts that are gone.
    pub gone: Vec<String>,
}

/// The JSON form of what a fleet comes to.
pub fn fleet_json<'r>(report: &FleetReport<'r>) -> FleetJson<'r> {
    let summary = report.summary;
    let names = |hosts: &[(String, &'static str)]| hosts.iter().map(|(name, _)| name.clone()).collect();
    FleetJson {
        format: "asfitted.fleet",
        version: 1,
        hosts: HostsJson {
            all: summary.hosts,
            as_planned: summary.as_planned,
            with_warnings: summary.with_warnings,
            deviates: summary.deviates,
            unproven: summary.unproven,
            not_audited: summary.not_done,
        },
        kinds: summary
            .kinds()
            .into_iter()
            .map(|(kind, hosts, findings)| KindJson { kind: kind.word(), hosts, findings })
            .collect(),
        patterns: summary.patterns().into_iter().map(pattern_json).collect(),
        stock: StockJson {
            given: report.stock_given,
            rows: report.stock.rows,
            placeholders: report.stock.placeholders,
            accounted: report.stock.accounted,
            without_serial: report.stock.without_serial,
            findings: StockFindings(report.stock),
        },
        changes: report.changes.map(|changes| ChangesJson {
            since: changes.since.clone(),
            changed: names(&changes.changed),
            new: names(&changes.new),
            gone: changes.gone.clone(),
        }),
        bad_plans: report.bad_plans.to_vec(),
    }
}

fn pattern_json(pattern: Pattern) -> PatternJson {
    let (word, slot, kind) = match pattern.kind {
        PatternKind::Slot { slot, finding } => ("slot", Some(slot), Some(finding.word())),
        PatternKind::SlowPart => ("slow-part", None, None),
    };
    PatternJson {
        pattern: word,
        of: pattern.of,
        slot,
        kind,
        machines: pattern.machines,
        among: pattern.among,
    }
}

/// The metrics of a fleet in the OpenMetrics text form, version 1.0.
pub fn fleet_metrics(report: &FleetReport<'_>) -> String {
    let summary = report.summary;
    let mut out = String::new();
    let mut family = |name: &str, help: &str, samples: &[(String, usize)]| {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "# TYPE {name} gauge\n# HELP {name} {help}");
        for (labels, value) in samples {
            let _ = writeln!(out, "{name}{labels} {value}");
        }
    };
    let label = |key: &str, value: &str| format!("{{{key}=\"{value}\"}}");
    family(
        "asfitted_fleet_hosts",
        "Hosts by outcome.",
        &[
            (label("outcome", "as-planned"), summary.as_planned),
            (label("outcome", "deviates"), summary.deviates),
            (label("outcome", "unproven"), summary.unproven),
            (label("outcome", "not-audited"), summary.not_done),
        ],
    );
    let kinds: Vec<(String, usize)> =
        summary.kinds().into_iter().map(|(kind, _, all)| (label("kind", kind.word()), all)).collect();
    family("asfitted_fleet_findings", "Findings by kind.", &kinds);
    family(
        "asfitted_fleet_bad_plans",
        "Plans that could not be read.",
        &[(String::new(), report.bad_plans.len())],
    );
    if report.stock_given {
        family(
            "asfitted_stock_modules",
            "Modules of the stock, and those seen where they may be.",
            &[
                (label("state", "listed"), report.stock.rows),
                (label("state", "accounted"), report.stock.accounted),
            ],
        );
    }
    let counts: Vec<(String, usize)> = StockKind::ALL
        .iter()
        .map(|kind| (label("kind", kind.word()), report.stock.count(*kind)))
        .filter(|(_, count)| *count > 0)
        .collect();
    family("asfitted_stock_findings", "Modules that are not where they should be, by kind.", &counts);
    out.push_str("# EOF\n");
    out
}

/// How many cases of a test report there are, as they are written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CaseCounts {
    cases: usize,
    failures: usize,
    errors: usize,
    skipped: usize,
}

impl CaseCounts {
    /// Counts the cases in a piece of the report. Text of others cannot hold an element, since it is escaped.
    pub fn add(&mut self, written: &str) {
        let count = |element: &str| written.matches(element).count();
        self.cases += count("<testcase ");
        self.failures += count("<failure ");
        self.errors += count("<error ");
        self.skipped += count("<skipped ");
    }
}

/// The start of a test report; its cases follow.
pub fn tests_head(counts: CaseCounts) -> String {
    let CaseCounts { cases, failures, errors, skipped } = counts;
    let counts = format!(
        "tests=\"{cases}\" failures=\"{failures}\" errors=\"{errors}\" skipped=\"{skipped}\" time=\"0\""
    );
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"asfitted fleet\" {counts}>\n  <testsuite name=\"memory\" {counts}>\n"
    )
}

/// The end of a test report: a case for each module that is not where it should be or may not be, and for each
/// plan that cannot be read.
pub fn tests_tail(report: &FleetReport<'_>) -> String {
    let mut out = String::new();
    for finding in report.stock.findings() {
        let element = match finding.kind.severity() {
            Severity::Fault => "failure",
            Severity::Unproven => "skipped",
            Severity::Warning => continue,
        };
        let kind =
            if element == "failure" { format!(" type=\"{}\"", finding.kind.word()) } else { String::new() };
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            "    <testcase classname=\"asfitted.stock\" name=\"{} {}\" time=\"0\">\n      <{element}{kind} message=\"{}\"/>\n    </testcase>\n",
            xml(&finding.serial),
            xml(finding.host.as_deref().unwrap_or("")),
            xml(&finding.summary)
        );
    }
    for plan in report.bad_plans {
        let _ = write!(
            out,
            "    <testcase classname=\"asfitted.plan\" name=\"{0}\" time=\"0\">\n      <error type=\"plan\" message=\"{0}\"/>\n    </testcase>\n",
            xml(plan)
        );
    }
    out + "  </testsuite>\n</testsuites>\n"
}
