//! What the page of a fleet has of one host: a row for the script, and a page of its own.

use std::borrow::Cow;

use maud::html;
use serde::ser::{Serialize, SerializeMap, Serializer};

use super::boards::SlotPlace;
use super::column::Column;
use crate::audit::Severity;
use crate::fleet::{Decision, Host};
use crate::population::identity;
use crate::report::fleet::Pieces;
use crate::report::fleet::row::HostRow;
use crate::report::fleet::waiting::Piece;
use crate::report::html::audit::{page_of, to_overview};
use crate::report::html::{Content, document, embedded, text, verdict};
use crate::report::view::Mark;
use crate::sanitize::sanitize;

/// What a page of the fleet needs of one host.
#[derive(Debug)]
pub struct HostPage {
    /// Its row, as JSON.
    pub(super) row: Pieces,
    /// A page of its own, if it was asked for.
    pub(super) page: Option<String>,
    /// Its product, with its slots.
    pub(super) places: Option<(String, Vec<SlotPlace>)>,
}

/// What the script gets of each host, and the heading above it.
struct Field {
    /// Its key in the row.
    key: &'static str,
    /// The heading of its column; none for what is shown in the cell of another.
    heading: Option<&'static str>,
    value: Value,
}

enum Value {
    Text(for<'c> fn(&'c HostRow<'_, '_>) -> Cow<'c, str>),
    Number(fn(&HostRow<'_, '_>) -> Option<u64>),
    /// The findings of the host.
    Findings,
    /// The decision on it, which is known last.
    Decision,
}

/// The key of the decision.
const DECISION: &str = "decision";

/// All fields, in the order of their columns.
const FIELDS: &[Field] = &[
    Field { key: "name", heading: Some("host"), value: Value::Text(|row| row.host.name.into()) },
    Field { key: DECISION, heading: Some("decision"), value: Value::Decision },
    Field {
        key: "outcome",
        heading: Some("outcome"),
        value: Value::Text(|row| row.host.verdict.word().into()),
    },
    Field { key: "findings", heading: Some("findings"), value: Value::Findings },
    Field {
        key: "product",
        heading: Some("product"),
        value: Value::Text(|row| row.named(|named| &named.product)),
    },
    Field {
        key: "serial",
        heading: Some("serial"),
        value: Value::Text(|row| row.named(|named| &named.serial)),
    },
    Field {
        key: "plan",
        heading: Some("plan"),
        value: Value::Text(|row| row.machine.as_ref().map_or("", |machine| machine.case.plan_name()).into()),
    },
    Field {
        key: "planned",
        heading: None,
        value: Value::Number(|row| Some(row.machine.as_ref()?.case.planned_total()?.0)),
    },
    Field {
        key: "detected",
        heading: Some("memory"),
        value: Value::Number(|row| Some(row.machine.as_ref()?.case.population.totals.detected?.0)),
    },
    Field {
        key: "faults",
        heading: Some("faults"),
        value: Value::Number(|row| Some(row.count(Severity::Fault) as u64)),
    },
    Field {
        key: "warnings",
        heading: Some("warnings"),
        value: Value::Number(|row| Some(row.count(Severity::Warning) as u64)),
    },
    Field {
        key: "open",
        heading: Some("unproven"),
        value: Value::Number(|row| Some(row.count(Severity::Unproven) as u64)),
    },
    Field { key: "reason", heading: None, value: Value::Text(|row| row.host.verdict.reason().into()) },
];

/// The columns of hosts.
pub(super) fn host_columns() -> Vec<Column> {
    let column = |field: &Field| {
        let is_number = matches!(field.value, Value::Number(_));
        Some(Column { key: field.key, heading: field.heading?, is_number })
    };
    FIELDS.iter().filter_map(column).collect()
}

/// One host as the page's script reads it.
struct HostData<'r, 'h>(&'r HostRow<'r, 'h>);

impl Serialize for HostData<'_, '_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(FIELDS.len()))?;
        // First, so that the row can be split there; see `split`.
        map.serialize_entry(DECISION, Decision::of(self.0.host.verdict).word())?;
        for Field { key, value, .. } in FIELDS {
            match value {
                Value::Text(of) => map.serialize_entry(key, &sanitize(&of(self.0)))?,
                Value::Number(of) => map.serialize_entry(key, &of(self.0))?,
                Value::Findings | Value::Decision => {}
            }
        }
        // What is a list comes last, so that people find the rest.
        for field in FIELDS.iter().filter(|field| matches!(field.value, Value::Findings)) {
            map.serialize_entry(field.key, &findings(self.0))?;
        }
        map.end()
    }
}

/// The row with the decision left out.
fn split(row: &HostRow<'_, '_>) -> Piece {
    let json = embedded(&HostData(row));
    let before = format!("{{\"{DECISION}\":\"").into_bytes();
    let after = before.len() + Decision::of(row.host.verdict).word().len();
    Piece { before, after: json.get(after..).unwrap_or_default().to_vec() }
}

#[derive(Debug, serde::Serialize)]
struct FindingRow {
    kind: &'static str,
    severity: &'static str,
    slots: String,
    summary: String,
}

fn findings(row: &HostRow<'_, '_>) -> Vec<FindingRow> {
    let findings = row.machine.iter().flat_map(|machine| &machine.audit.findings);
    let one = |finding: &crate::audit::Finding| FindingRow {
        kind: finding.kind.word(),
        severity: finding.severity().word(),
        slots: text(&finding.slots.join(", ")),
        summary: text(&finding.summary),
    };
    findings.map(one).collect()
}

/// Makes what the fleet's page needs of a host; with a page of its own where `own_page` says so.
pub(super) fn host_page(host: &Host<'_>, own_page: bool) -> HostPage {
    const OVERVIEW: &str = "../index.html";
    let row = HostRow::of(host);
    let page = own_page.then(|| match &host.audited {
        Some(audited) => page_of(audited.diagnosis(), Some(OVERVIEW)),
        None => not_audited(host, OVERVIEW),
    });
    let places = row.machine.as_ref().and_then(|machine| {
        let product = machine.case.listing.systems.first().and_then(|system| system.product.get());
        let places = || machine.case.population.slots.iter().map(SlotPlace::of).collect();
        product.and_then(identity::clean).map(|product| (product.to_owned(), places()))
    });
    HostPage { row: Pieces::new(host, vec![split(&row)]), page, places }
}

/// The page of a host that could not be audited.
fn not_audited(host: &Host<'_>, overview: &str) -> String {
    let header = html! {
        (to_overview(overview))
        div .verdict.warning { (verdict(Mark::Warning, &format!("Not audited: {}", host.name))) }
    };
    let main = html! { section { p { (host.verdict.reason()) } } };
    document(&Content { title: host.name, header, main, script: None })
}
