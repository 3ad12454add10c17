//! What is written of each host of a fleet: a line of JSON, rows of tables, a test case.

use serde::Serialize;

use super::html::{HostPage, host_page};
use super::{audit_json, sanitize};
use crate::audit::{Severity, Verdict};
use crate::diagnose::Explained;
use crate::fleet::{Host, HostVerdict, StockFinding};

/// Which forms are wanted.
#[derive(Debug, Clone, Copy, Default)]
#[expect(clippy::struct_excessive_bools, reason = "each form is wanted or not by itself")]
pub struct Forms {
    /// A line of JSON.
    pub json: bool,
    /// A row for each finding.
    pub findings_table: bool,
    /// A row for the host.
    pub hosts_table: bool,
    /// A test case.
    pub test_case: bool,
    /// A row of the fleet's page.
    pub page_row: bool,
    /// A page of its own.
    pub own_page: bool,
}

/// The wanted forms of one host, ready to be written.
#[derive(Debug, Clone, Default)]
pub struct Rendered {
    /// One line, with its end.
    pub json: Vec<u8>,
    /// Rows, with their ends.
    pub findings_table: Vec<u8>,
    /// One row, with its end.
    pub hosts_table: Vec<u8>,
    /// One element.
    pub test_case: String,
    /// What the fleet's page needs.
    pub page: HostPage,
}

/// A host that could not be audited, version 1: a line among those of `asfitted.audit`.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted not audited"))]
pub struct NotAuditedJson {
    /// Always `asfitted.not-audited`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The input.
    pub listing: NameJson,
    /// Why, and what to do.
    pub reason: String,
}

/// The input's name.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct NameJson {
    /// As given.
    pub name: String,
}

/// Columns of the table of findings.
pub const FINDING_COLUMNS: &[&str] = &[
    "host",
    "severity",
    "kind",
    "slot",
    "slots",
    "other_slot",
    "fields",
    "summary",
    "expected",
    "found",
    "cause",
    "check",
];

/// Columns of the table of hosts.
pub const HOST_COLUMNS: &[&str] = &[
    "host",
    "verdict",
    "reason",
    "maker",
    "product",
    "serial",
    "plan",
    "board",
    "planned_bytes",
    "detected_bytes",
    "mapped_bytes",
    "visible_bytes",
    "fitted",
    "slots",
    "faults",
    "warnings",
    "open",
];

/// Makes the wanted forms of a host.
pub fn render_host(host: &Host<'_>, forms: Forms) -> Rendered {
    let mut rendered = Rendered::default();
    if forms.json {
        rendered.json = json_line(host);
    }
    if forms.findings_table {
        rendered.findings_table = finding_rows(host);
    }
    if forms.hosts_table {
        rendered.hosts_table = host_row(host);
    }
    if forms.test_case {
        rendered.test_case = test_case(host);
    }
    if forms.page_row {
        rendered.page = host_page(host, forms.own_page);
    }
    rendered
}

fn json_line(host: &Host<'_>) -> Vec<u8> {
    let made = match (&host.audited, host.verdict) {
        (Some(audited), _) => serde_json::to_vec(&audit_json(audited.diagnosis())),
        (None, verdict) => serde_json::to_vec(&NotAuditedJson {
            format: "asfitted.not-audited",
            version: 1,
            listing: NameJson { name: host.name.to_owned() },
            reason: reason(verdict).to_owned(),
        }),
    };
    // Our own types always serialise.
    let mut line = made.unwrap_or_default();
    line.push(b'\n');
    line
}

pub(super) fn reason(verdict: &HostVerdict) -> &str {
    match verdict {
        HostVerdict::NotDone(reason) => reason,
        HostVerdict::Audited(_) => "",
    }
}

/// The word for a verdict, also where there was no audit.
pub(super) fn verdict_word(verdict: &HostVerdict) -> &'static str {
    match verdict {
        HostVerdict::Audited(verdict) => verdict.word(),
        HostVerdict::NotDone(_) => "not-audited",
    }
}

/// A cell that a spreadsheet takes as text whatever it starts with: formulas start with one of these.
fn cell(text: &str) -> String {
    let text = sanitize(text);
    let formula = |text: &str| text.trim_start().starts_with(['=', '+', '-', '@']);
    // Some spreadsheets part cells at semicolons too.
    if text.split(';').any(formula) { format!("'{}", text.replace(';', ",")) } else { text.into_owned() }
}

fn row(cells: &[String]) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    // Writing to memory cannot fail.
    let _ = writer.write_record(cells.iter().map(|text| cell(text)));
    writer.into_inner().unwrap_or_default()
}

/// The first row of a table.
pub fn table_head(columns: &[&str]) -> Vec<u8> {
    row(&columns.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>())
}

fn finding_rows(host: &Host<'_>) -> Vec<u8> {
    let Some(audited) = &host.audited else {
        let mut cells = vec![String::new(); FINDING_COLUMNS.len()];
        cells[0] = host.name.to_owned();
        (cells[1], cells[2]) = ("not-audited".to_owned(), "not-audited".to_owned());
        cells[7] = reason(host.verdict).to_owned();
        return row(&cells);
    };
    let one = |Explained { finding, causes }: &Explained<'_>| {
        let first = causes.first();
        let (cause, check) =
            first.map_or_else(Default::default, |cause| (cause.cause.clone(), cause.check.clone()));
        row(&[
            host.name.to_owned(),
            finding.severity().word().to_owned(),
            finding.kind.word().to_owned(),
            finding.slot.clone().unwrap_or_default(),
            finding.slots.join("; "),
            finding.other_slot.clone().unwrap_or_default(),
            finding.fields.iter().map(|field| field.word()).collect::<Vec<_>>().join("; "),
            finding.summary.clone(),
            finding.expected.clone(),
            finding.found.clone(),
            cause,
            check,
        ])
    };
    audited.diagnosis().findings.iter().flat_map(one).collect()
}

/// The row of a module that is not where it should be, in the table of findings.
pub fn stock_row(finding: &StockFinding) -> Vec<u8> {
    let mut cells = vec![String::new(); FINDING_COLUMNS.len()];
    cells[0] = finding.host.clone().unwrap_or_default();
    cells[1] = finding.kind.severity().word().to_owned();
    cells[2] = finding.kind.word().to_owned();
    cells[3] = finding.slot.clone().unwrap_or_default();
    cells[4] = finding.slot.clone().unwrap_or_default();
    cells[5] = finding.other.clone().unwrap_or_default();
    cells[7] = finding.summary.clone();
    row(&cells)
}

fn host_row(host: &Host<'_>) -> Vec<u8> {
    let mut cells = vec![String::new(); HOST_COLUMNS.len()];
    cells[0] = host.name.to_owned();
    cells[1] = verdict_word(host.verdict).to_owned();
    cells[2] = reason(host.verdict).to_owned();
    if let Some(audited) = &host.audited {
        let (case, audit) = (audited.case, audited.audit);
        let machine = super::slots::machine(case);
        let size =
            |size: Option<crate::units::Bytes>| size.map_or_else(String::new, |size| size.0.to_string());
        let count = |severity| audit.count(severity).to_string();
        let totals = case.population.totals;
        let more = [
            machine.maker.unwrap_or_default(),
            machine.product.unwrap_or_default(),
            machine.serial.unwrap_or_default(),
            case.plan_name().to_owned(),
            case.board.map_or_else(String::new, |board| board.name.clone()),
            size(case.plan.planned_total()),
            size(totals.detected),
            size(totals.mapped),
            size(case.sources.meminfo.as_ref().map(|meminfo| meminfo.total)),
            totals.fitted.to_string(),
            totals.slots.to_string(),
            count(Severity::Fault),
            count(Severity::Warning),
            count(Severity::Unproven),
        ];
        for (own, text) in cells.iter_mut().skip(3).zip(more) {
            *own = text;
        }
    }
    row(&cells)
}

/// Text for XML: what XML 1.0 does not allow is left out, the rest escaped.
pub(super) fn xml(text: &str) -> String {
    let text = sanitize(text);
    let allowed = |c: &char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..);
    quick_xml::escape::escape(text.chars().filter(allowed).collect::<String>()).into_owned()
}

fn test_case(host: &Host<'_>) -> String {
    let mut out = format!("    <testcase classname=\"asfitted\" name=\"{}\" time=\"0\">", xml(host.name));
    let inside = out.len();
    match (&host.audited, host.verdict) {
        (Some(audited), HostVerdict::Audited(verdict)) => {
            let of = |severity| {
                let lines = audited.audit.findings.iter().filter(move |f| f.severity() == severity);
                lines.map(|f| format!("{}: {}", f.kind.word(), f.summary)).collect::<Vec<_>>()
            };
            let (faults, open) = (of(Severity::Fault), of(Severity::Unproven));
            match verdict {
                Verdict::Deviates => out.push_str(&format!(
                    "\n      <failure type=\"deviates\" message=\"{}\">{}</failure>",
                    xml(&faults[0]),
                    xml(&faults.join("\n"))
                )),
                // Neither passed nor failed.
                Verdict::Unproven => {
                    out.push_str(&format!(
                        "\n      <skipped message=\"unproven: {}\"/>",
                        xml(&open.join("; "))
                    ));
                }
                Verdict::AsPlanned => {}
            }
        }
        (_, verdict) => out
            .push_str(&format!("\n      <error type=\"not-audited\" message=\"{}\"/>", xml(reason(verdict)))),
    }
    out.push_str(if out.len() == inside { "</testcase>\n" } else { "\n    </testcase>\n" });
    out
}
