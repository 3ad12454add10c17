//! One host: what it is while everything about it is at hand, and what is kept of it.

use std::cell::OnceCell;

use super::error::HostError;
use crate::audit::{Audit, FindingKind, Severity, Verdict};
use crate::case::Case;
use crate::diagnose::{Diagnosis, diagnose};
use crate::population::{Population, identity};
use crate::records::Listing;

/// The word for the outcome of a host that was not audited.
pub const NOT_AUDITED: &str = "not-audited";

/// How a host came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HostVerdict {
    /// It was audited.
    Audited(Verdict),
    /// It could not be: why, and what to do.
    NotDone(HostError),
}

impl HostVerdict {
    /// The verdict's word, also where there was no audit.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Audited(verdict) => verdict.word(),
            Self::NotDone(_) => NOT_AUDITED,
        }
    }

    /// Why it was not audited, and what to do; empty for one that was.
    pub fn reason(&self) -> String {
        match self {
            Self::Audited(_) => String::new(),
            Self::NotDone(error) => error.to_string(),
        }
    }
}

/// One host while everything about it is at hand.
#[derive(Debug)]
#[non_exhaustive]
pub struct Host<'h> {
    /// The input's name; with `#N` where one input holds several listings.
    pub name: &'h str,
    /// Its outcome.
    pub verdict: &'h HostVerdict,
    /// The machine as understood, whether it was audited or not; `None` where its listing could not be read.
    pub case: Option<&'h Case<'h>>,
    /// What was audited; `None` where it could not be.
    pub audited: Option<Audited<'h>>,
}

impl Host<'_> {
    /// Its name without folder and ending, as people call the host.
    pub fn short_name(&self) -> String {
        short_name(self.name)
    }
}

/// The name of a host without folder and ending.
pub fn short_name(name: &str) -> String {
    host_names(name).pop().unwrap_or_default()
}

/// A machine and its audit; diagnosed when the first output asks for it, and only once.
#[derive(Debug)]
pub struct Audited<'h> {
    /// The machine as understood.
    pub case: &'h Case<'h>,
    /// What differs from its plan.
    pub audit: &'h Audit,
    diagnosis: OnceCell<Diagnosis<'h>>,
}

impl<'h> Audited<'h> {
    pub(super) fn new(case: &'h Case<'h>, audit: &'h Audit) -> Self {
        Self { case, audit, diagnosis: OnceCell::new() }
    }

    /// The findings with their causes, and what to do.
    pub fn diagnosis(&self) -> &Diagnosis<'h> {
        self.diagnosis.get_or_init(|| diagnose(self.case, self.audit))
    }
}

/// What is kept of a host after it was dealt with.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct HostSummary {
    /// The input's name.
    pub name: String,
    /// All names by which a stock or a manifest can call it.
    pub names: Vec<String>,
    /// Product name.
    pub product: Option<String>,
    /// Version of its firmware.
    pub firmware: Option<String>,
    /// The system's serial number.
    pub serial: Option<String>,
    /// Its outcome.
    pub verdict: HostVerdict,
    /// Name or file of its plan.
    pub plan: Option<String>,
    /// Its findings.
    pub findings: Vec<HostFinding>,
    /// Its modules that state a serial number.
    pub modules: Vec<HostModule>,
    /// Number of its modules that state none.
    pub without_serial: usize,
    /// Whether not all of its modules are known: it could not be read, or the listing is damaged.
    pub unread: bool,
    /// Part numbers of its modules, each once, and whether one of that part runs slow.
    pub parts: Vec<(String, bool)>,
}

/// What is kept of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct HostFinding {
    /// What it is.
    pub kind: FindingKind,
    /// How much it weighs.
    pub severity: Severity,
    /// Its slots.
    pub slots: Vec<String>,
    /// One sentence.
    pub summary: String,
}

/// What is kept of a module.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct HostModule {
    /// Serial number as stated.
    pub serial: String,
    /// Part number.
    pub part: Option<String>,
    /// Slot.
    pub slot: String,
}

impl HostSummary {
    /// What is kept of a host that was not audited, and of whose modules nothing is known.
    pub(super) fn unread(name: String, names: Vec<String>, error: HostError) -> Self {
        Self {
            name,
            names,
            product: None,
            firmware: None,
            serial: None,
            verdict: HostVerdict::NotDone(error),
            plan: None,
            findings: Vec::new(),
            modules: Vec::new(),
            without_serial: 0,
            unread: true,
            parts: Vec::new(),
        }
    }

    /// What is kept of a machine; `audited` has the name of its plan and its findings.
    pub(super) fn of(
        (name, names): (String, Vec<String>),
        case: &Case<'_>,
        (verdict, audit): (HostVerdict, Option<&Audit>),
    ) -> Self {
        let finding = |finding: &crate::audit::Finding| HostFinding {
            kind: finding.kind,
            severity: finding.severity(),
            slots: finding.slots.clone(),
            summary: finding.summary.clone(),
        };
        let findings: Vec<HostFinding> =
            audit.map_or_else(Vec::new, |audit| audit.findings.iter().map(finding).collect());
        let (modules, without_serial, parts) = modules(&case.population, &findings);
        Self {
            name,
            names,
            product: product(case.listing).map(str::to_owned),
            firmware: firmware(case.listing).map(str::to_owned),
            serial: serial(case.listing).map(str::to_owned),
            verdict,
            plan: audit.map(|_| case.plan_name().to_owned()),
            findings,
            modules,
            without_serial,
            unread: case.listing.may_miss_records(),
            parts,
        }
    }
}

fn product<'l>(listing: &'l Listing<'_>) -> Option<&'l str> {
    listing.systems.first().and_then(|system| system.product.get()).and_then(identity::clean)
}

fn firmware<'l>(listing: &'l Listing<'_>) -> Option<&'l str> {
    listing.firmware.first().and_then(|firmware| firmware.version.get()).and_then(identity::clean)
}

fn serial<'l>(listing: &'l Listing<'_>) -> Option<&'l str> {
    listing.systems.first().and_then(|system| system.serial.get()).and_then(identity::clean)
}

/// The modules that state a serial number, the number of the others, and the part numbers.
fn modules(
    population: &Population<'_>,
    findings: &[HostFinding],
) -> (Vec<HostModule>, usize, Vec<(String, bool)>) {
    let mut modules = Vec::new();
    let mut without_serial = 0;
    let mut parts: Vec<(String, bool)> = Vec::new();
    let slow = |slot: &str| {
        let says = |f: &HostFinding| f.kind == FindingKind::ClockedDown && f.slots.iter().any(|s| s == slot);
        findings.iter().any(says)
    };
    for slot in &population.slots {
        let Some(module) = slot.module() else { continue };
        match module.serial {
            Some(serial) => modules.push(HostModule {
                serial: serial.to_owned(),
                part: module.part.as_deref().map(str::to_owned),
                slot: slot.name.to_string(),
            }),
            None => without_serial += 1,
        }
        if let Some(part) = module.part.as_deref() {
            let slow = slow(&slot.name);
            match parts.iter_mut().find(|(own, _)| own == part) {
                Some((_, any)) => *any |= slow,
                None => parts.push((part.to_owned(), slow)),
            }
        }
    }
    (modules, without_serial, parts)
}

/// All names by which the host of an input can be called.
pub(super) fn host_names(name: &str) -> Vec<String> {
    /// Endings that say how a listing is kept and nothing about the host.
    const ENDINGS: &[&str] = &[
        ".gz",
        ".zst",
        ".txt",
        ".log",
        ".out",
        ".dmi",
        ".dump",
        ".bin",
        ".capture",
        ".listing",
        ".dmidecode",
    ];
    let file = name.rsplit('/').next().unwrap_or(name);
    let mut stem = file;
    while let Some(shorter) = ENDINGS.iter().find_map(|ending| stem.strip_suffix(ending)) {
        stem = shorter;
    }
    let mut names = vec![name.to_owned(), file.to_owned(), identity::collapse(stem).into_owned()];
    names.dedup();
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hosts_are_named_by_their_files() {
        assert_eq!(host_names("rack/web01.example.org.txt.gz").last().unwrap(), "web01.example.org");
        assert_eq!(host_names("bay07").len(), 1);
    }
}
