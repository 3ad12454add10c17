//! What a fleet comes to: counts, the worst hosts, and patterns that no single machine can show.

use std::collections::{BTreeMap, HashMap};

use super::error::HostError;
use super::host::{HostSummary, HostVerdict};
use crate::audit::{FindingKind, Severity, Verdict};

/// Hosts that are named as the worst.
const WORST: usize = 20;

/// Fewer machines with the same fault at the same place are no pattern.
const PATTERN_AT_LEAST: usize = 3;

/// A slot is a pattern if at least one in so many machines of a product shows it, or if at least half of that
/// product's findings of that kind are in this slot (common practice, no source).
const PATTERN_SHARE: usize = 5;

/// One of the worst hosts.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub struct Worst {
    /// Number of faults, negative so that the most come first.
    rank: (i64, i64, u64),
    /// The host.
    pub name: String,
    /// Number of faults.
    pub faults: usize,
    /// Number of open points.
    pub open: usize,
    /// Its findings, the first of each kind in one line.
    pub findings: Vec<String>,
}

/// How often slots are at fault on the machines of one product.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ProductFaults<'s> {
    /// The product.
    pub product: &'s str,
    /// Its machines.
    pub machines: usize,
    /// Slots with the number of machines on which they are at fault, by name.
    pub slots: Vec<(&'s str, usize)>,
}

/// The firmware of the machines of one product.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ProductFirmware<'s> {
    /// The product.
    pub product: &'s str,
    /// Versions with the number of machines that run each, the commonest first.
    pub versions: Vec<(&'s str, usize)>,
}

/// What many machines have in common.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Pattern {
    /// What kind of pattern.
    pub kind: PatternKind,
    /// Product name, or part number.
    pub of: String,
    /// Machines that show it.
    pub machines: usize,
    /// Machines that could.
    pub among: usize,
}

/// Kinds of patterns.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum PatternKind {
    /// The same finding in the same slot on machines of one product.
    Slot {
        /// The slot.
        slot: String,
        /// The finding.
        finding: FindingKind,
    },
    /// Machines with modules of one part number that run slow.
    SlowPart,
}

/// Sums over a fleet.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Summary {
    /// All hosts.
    pub hosts: usize,
    /// As planned: they may ship.
    pub as_planned: usize,
    /// With a fault.
    pub deviates: usize,
    /// Without a fault, with an open point.
    pub unproven: usize,
    /// That could not be audited.
    pub not_done: usize,
    /// Those of them that are planned and of which no listing came.
    pub no_listing: usize,
    /// Hosts with warnings among those that are as planned.
    pub with_warnings: usize,
    kinds: HashMap<FindingKind, (usize, usize)>,
    reasons: BTreeMap<String, (usize, Vec<String>)>,
    worst: Vec<Worst>,
    products: HashMap<String, usize>,
    at_slots: HashMap<(String, String, FindingKind), usize>,
    faults_at: HashMap<String, BTreeMap<String, usize>>,
    parts: HashMap<String, (usize, usize)>,
    firmware: BTreeMap<String, BTreeMap<String, usize>>,
}

impl Summary {
    /// Adds a host.
    pub(super) fn add(&mut self, host: &HostSummary) {
        self.hosts += 1;
        match &host.verdict {
            HostVerdict::Audited(Verdict::AsPlanned) => {
                self.as_planned += 1;
                self.with_warnings += usize::from(!host.findings.is_empty());
            }
            HostVerdict::Audited(Verdict::Deviates) => self.deviates += 1,
            HostVerdict::Audited(Verdict::Unproven) => self.unproven += 1,
            HostVerdict::NotDone(reason) => {
                self.not_done += 1;
                self.no_listing += usize::from(*reason == HostError::NoListing);
                let (count, names) = self.reasons.entry(reason.to_string()).or_default();
                *count += 1;
                if names.len() < 3 {
                    names.push(host.name.clone());
                }
            }
        }
        let mut seen: Vec<FindingKind> = Vec::new();
        for finding in &host.findings {
            let (hosts, all) = self.kinds.entry(finding.kind).or_default();
            *all += 1;
            if !seen.contains(&finding.kind) {
                seen.push(finding.kind);
                *hosts += 1;
            }
        }
        // Whether a machine was audited or not, its listing says what it runs.
        if let (Some(product), Some(firmware)) = (&host.product, &host.firmware) {
            let versions = self.firmware.entry(product.clone()).or_default();
            *versions.entry(firmware.clone()).or_default() += 1;
        }
        self.add_patterns(host);
        self.add_worst(host);
    }

    /// Whether no listing came at all.
    pub const fn is_empty(&self) -> bool {
        self.hosts == self.no_listing
    }

    fn add_patterns(&mut self, host: &HostSummary) {
        if !matches!(host.verdict, HostVerdict::Audited(_)) {
            return;
        }
        for (part, slow) in &host.parts {
            let (slow_count, all) = self.parts.entry(part.clone()).or_default();
            *all += 1;
            *slow_count += usize::from(*slow);
        }
        let Some(product) = &host.product else { return };
        *self.products.entry(product.clone()).or_default() += 1;
        let mut faulty: Vec<&str> = Vec::new();
        for finding in &host.findings {
            // What concerns the whole machine says nothing about a slot.
            if matches!(finding.kind, FindingKind::ClockedDown | FindingKind::EccOff | FindingKind::Unproven)
            {
                continue;
            }
            let fault = finding.severity == Severity::Fault;
            for slot in &finding.slots {
                if fault && !faulty.contains(&slot.as_str()) {
                    faulty.push(slot);
                }
                *self.at_slots.entry((product.clone(), slot.clone(), finding.kind)).or_default() += 1;
            }
        }
        if !faulty.is_empty() {
            let slots = self.faults_at.entry(product.clone()).or_default();
            for slot in faulty {
                *slots.entry(slot.to_owned()).or_default() += 1;
            }
        }
    }

    /// The firmware of all machines by product, in the order of their names.
    pub fn firmware(&self) -> Vec<ProductFirmware<'_>> {
        let mut all = Vec::with_capacity(self.firmware.len());
        for (product, versions) in &self.firmware {
            let mut versions: Vec<(&str, usize)> =
                versions.iter().map(|(version, count)| (version.as_str(), *count)).collect();
            versions.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
            all.push(ProductFirmware { product, versions });
        }
        all
    }

    /// Slots with faults by product, the product with the most faults first.
    pub fn faults_by_product(&self) -> Vec<ProductFaults<'_>> {
        let mut all: Vec<ProductFaults<'_>> = self
            .faults_at
            .iter()
            .map(|(product, slots)| ProductFaults {
                product,
                machines: self.products.get(product).copied().unwrap_or(0),
                slots: slots.iter().map(|(slot, count)| (slot.as_str(), *count)).collect(),
            })
            .collect();
        let faults = |own: &ProductFaults<'_>| own.slots.iter().map(|(_, count)| count).sum::<usize>();
        all.sort_by_key(|own| (std::cmp::Reverse(faults(own)), own.product));
        all
    }

    fn add_worst(&mut self, host: &HostSummary) {
        let count = |severity| host.findings.iter().filter(|f| f.severity == severity).count();
        let (faults, open) = (count(Severity::Fault), count(Severity::Unproven));
        if faults == 0 {
            return;
        }
        let negative = |number: usize| -i64::try_from(number).unwrap_or(i64::MAX);
        let rank = (negative(faults), negative(open), self.hosts as u64);
        if self.worst.len() == WORST && self.worst.last().is_some_and(|last| last.rank <= rank) {
            return;
        }
        let mut findings: Vec<String> = Vec::new();
        let mut kinds: Vec<FindingKind> = Vec::new();
        for finding in host.findings.iter().filter(|f| f.severity == Severity::Fault) {
            if !kinds.contains(&finding.kind) {
                kinds.push(finding.kind);
                let same = host.findings.iter().filter(|f| f.kind == finding.kind).count();
                let more = if same > 1 { format!(", and {} more", same - 1) } else { String::new() };
                findings.push(format!("{}: {}{more}", finding.kind.word(), finding.summary));
            }
        }
        self.worst.push(Worst { rank, name: host.name.clone(), faults, open, findings });
        self.worst.sort_unstable();
        self.worst.truncate(WORST);
    }

    /// Kinds of findings with the number of hosts that have one, and of findings, in the order of reports.
    pub fn kinds(&self) -> Vec<(FindingKind, usize, usize)> {
        let of = |kind| self.kinds.get(&kind).map(|(hosts, all)| (kind, *hosts, *all));
        FindingKind::ALL.iter().copied().filter_map(of).collect()
    }

    /// Why hosts could not be audited, the commonest first: reason, number, the first names.
    pub fn reasons(&self) -> Vec<(&str, usize, &[String])> {
        let mut all: Vec<_> = self
            .reasons
            .iter()
            .map(|(reason, (count, names))| (reason.as_str(), *count, names.as_slice()))
            .collect();
        all.sort_by_key(|(_, count, _)| std::cmp::Reverse(*count));
        all
    }

    /// The worst hosts, the one with the most faults first.
    pub fn worst(&self) -> &[Worst] {
        &self.worst
    }

    /// What machines have in common, the commonest first.
    pub fn patterns(&self) -> Vec<Pattern> {
        let mut patterns = Vec::new();
        let mut of_kind: HashMap<(&str, FindingKind), usize> = HashMap::new();
        for ((product, _, finding), machines) in &self.at_slots {
            *of_kind.entry((product, *finding)).or_default() += machines;
        }
        for ((product, slot, finding), machines) in &self.at_slots {
            let among = self.products.get(product).copied().unwrap_or(0);
            let all = of_kind.get(&(product.as_str(), *finding)).copied().unwrap_or(0);
            if *machines >= PATTERN_AT_LEAST && (*machines * PATTERN_SHARE >= among || *machines * 2 >= all) {
                patterns.push(Pattern {
                    kind: PatternKind::Slot { slot: slot.clone(), finding: *finding },
                    of: product.clone(),
                    machines: *machines,
                    among,
                });
            }
        }
        for (part, (slow, among)) in &self.parts {
            // A lot that always runs slow; the same part running well elsewhere is a machine's matter.
            if *slow >= PATTERN_AT_LEAST && slow == among {
                patterns.push(Pattern {
                    kind: PatternKind::SlowPart,
                    of: part.clone(),
                    machines: *slow,
                    among: *among,
                });
            }
        }
        let place = |pattern: &Pattern| match &pattern.kind {
            PatternKind::Slot { slot, finding } => (slot.clone(), finding.word()),
            PatternKind::SlowPart => (String::new(), ""),
        };
        patterns.sort_by_cached_key(|p| (std::cmp::Reverse(p.machines), p.of.clone(), place(p)));
        patterns
    }

    /// The verdict by which the fleet ends, the worst of all: could not be done, deviates, unproven, as planned.
    pub fn worst_verdict(&self) -> Option<Verdict> {
        // Of a host without a listing nothing was tried: nothing failed, and nothing is proven.
        match (self.not_done - self.no_listing, self.deviates, self.unproven + self.no_listing) {
            (1.., ..) => None,
            (0, 1.., _) => Some(Verdict::Deviates),
            (0, 0, 1..) => Some(Verdict::Unproven),
            (0, 0, 0) => Some(Verdict::AsPlanned),
        }
    }
}
