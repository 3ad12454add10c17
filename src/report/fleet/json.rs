//! The JSON of a fleet: a line for each host and one for all of them. Keys and meanings are a contract; see docs/json.md.

use serde::Serialize;

use crate::fleet::{Decision, Host, Pattern, PatternKind, ProductFirmware, Reconciled, StockFinding};
use crate::report::audit_json;
use crate::report::fleet_report::FleetReport;

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

/// The line of a host, with its end.
pub(super) fn line(host: &Host<'_>) -> Vec<u8> {
    // Room for the line of a usual machine.
    let mut line = Vec::with_capacity(8 << 10);
    // Our own types always serialise.
    let _ = match &host.audited {
        Some(audited) => serde_json::to_writer(&mut line, &audit_json(audited.diagnosis())),
        None => serde_json::to_writer(
            &mut line,
            &NotAuditedJson {
                format: "asfitted.not-audited",
                version: 1,
                listing: NameJson { name: host.name.to_owned() },
                reason: host.verdict.reason(),
            },
        ),
    };
    line.push(b'\n');
    line
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
    /// Hosts whose decision the stock changes; that of every other host follows from its own line: `may-ship` for
    /// `as-planned`, `hold` for `deviates`, `cannot-say` for `unproven` and for one that was not audited.
    #[cfg_attr(feature = "schema", schemars(with = "Vec<DecisionJson>"))]
    pub decisions: ChangedDecisions<'r>,
    /// Findings by kind, with the number of hosts that have one.
    pub kinds: Vec<KindJson>,
    /// What machines have in common.
    pub patterns: Vec<PatternJson>,
    /// Which firmware the machines run, by product.
    pub firmware: Vec<ProductFirmwareJson>,
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
    /// Those of them that are planned and of which no listing came.
    pub no_listing: usize,
    /// Decided: they may ship.
    pub may_ship: usize,
    /// Decided: they are held, by their audit or by the stock.
    pub hold: usize,
    /// Decided: neither can be said.
    pub cannot_say: usize,
}

/// All hosts whose decision the stock changes, worded while they are written.
#[derive(Debug, Clone, Copy)]
pub struct ChangedDecisions<'r>(&'r Reconciled);

impl Serialize for ChangedDecisions<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.changed_decisions().map(|changed| DecisionJson {
            host: changed.host.to_owned(),
            by_audit: changed.by_audit.word(),
            decision: changed.decision.word(),
            because: changed.because,
        }))
    }
}

/// A host whose decision the stock changes.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct DecisionJson {
    /// The host.
    pub host: String,
    /// What its audit alone decides: `may-ship` or `cannot-say`.
    pub by_audit: &'static str,
    /// What is decided: `hold` or `cannot-say`.
    pub decision: &'static str,
    /// The finding of the stock that decides it.
    pub because: String,
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

/// The firmware of the machines of one product.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ProductFirmwareJson {
    /// The product.
    pub product: String,
    /// Its versions, the commonest first.
    pub versions: Vec<FirmwareCountJson>,
}

/// One version of firmware.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FirmwareCountJson {
    /// The version.
    pub version: String,
    /// Machines that run it.
    pub machines: usize,
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

/// All findings of a stock, worded while they are written.
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
    /// `duplicate-serial`, `elsewhere`, `unaccounted`, `other-part`, `unproven` or `not-in-stock`.
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

/// What a fleet comes to, in JSON.
pub(super) fn fleet_json<'r>(report: &FleetReport<'r>) -> FleetJson<'r> {
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
            no_listing: summary.no_listing,
            may_ship: report.stock.decided(Decision::MayShip),
            hold: report.stock.decided(Decision::Hold),
            cannot_say: report.stock.decided(Decision::CannotSay),
        },
        decisions: ChangedDecisions(report.stock),
        kinds: summary
            .kinds()
            .into_iter()
            .map(|(kind, hosts, findings)| KindJson { kind: kind.word(), hosts, findings })
            .collect(),
        patterns: summary.patterns().into_iter().map(pattern_json).collect(),
        firmware: summary.firmware().into_iter().map(firmware_json).collect(),
        stock: StockJson {
            given: report.stock.is_given(),
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

fn firmware_json(firmware: ProductFirmware<'_>) -> ProductFirmwareJson {
    let count =
        |(version, machines): (&str, usize)| FirmwareCountJson { version: version.to_owned(), machines };
    ProductFirmwareJson {
        product: firmware.product.to_owned(),
        versions: firmware.versions.into_iter().map(count).collect(),
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
