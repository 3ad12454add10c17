//! What a headline is about: short facts with a key each, and notes.

use super::planned_word;
use super::speed::{expected_in_brief, speed};
use crate::audit::{Decision, Proof};
use crate::case::Case;
use crate::diagnose::Diagnosis;
use crate::plan::Plan;
use crate::population::{Population, Tier, identity};
use crate::records::Field;
use crate::units::Bytes;

/// One fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fact {
    pub(crate) key: &'static str,
    pub(crate) text: String,
}

impl Fact {
    pub(super) fn new(key: &'static str, text: impl Into<String>) -> Self {
        Self { key, text: text.into() }
    }
}

/// The machine as its listing names it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Machine {
    pub(crate) maker: Option<String>,
    pub(crate) product: Option<String>,
    pub(crate) serial: Option<String>,
    pub(crate) uuid: Option<String>,
    pub(crate) firmware: Option<Firmware>,
}

/// The firmware of a machine.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Firmware {
    pub(crate) vendor: Option<String>,
    pub(crate) version: Option<String>,
    pub(crate) date: Option<String>,
}

impl Firmware {
    /// All of it in words.
    fn sentence(&self) -> String {
        let named: Vec<&str> =
            [&self.vendor, &self.version].into_iter().flatten().map(String::as_str).collect();
        let date = self.date.as_ref().map_or_else(String::new, |date| format!(" of {date}"));
        format!("{}{date}", named.join(" ")).trim_start().to_owned()
    }
}

/// The machine of a case, without placeholders.
pub(crate) fn machine(case: &Case<'_>) -> Machine {
    let system = case.listing.systems.first();
    let text = |field: Option<&str>| field.and_then(identity::clean).map(str::to_owned);
    Machine {
        maker: text(system.and_then(|s| s.manufacturer.get())),
        product: text(system.and_then(|s| s.product.get())),
        serial: text(system.and_then(|s| s.serial.get())),
        uuid: text(system.and_then(|s| s.uuid.get())).filter(|uuid| !uuid.starts_with("Not ")),
        firmware: firmware(case),
    }
}

fn firmware(case: &Case<'_>) -> Option<Firmware> {
    let stated = case.listing.firmware.first()?;
    let text = |field: Field<&str>| field.get().and_then(identity::clean).map(str::to_owned);
    let firmware =
        Firmware { vendor: text(stated.vendor), version: text(stated.version), date: text(stated.date) };
    (firmware != Firmware::default()).then_some(firmware)
}

/// Of an audit.
pub(super) fn of_audit(diagnosis: &Diagnosis<'_>) -> Vec<Fact> {
    let (case, audit) = (diagnosis.case, diagnosis.audit);
    let plan = &*case.plan;
    let planned = planned_word(case);
    let mut facts = vec![plan_fact(case)];
    facts.extend(proof(&audit.proof));
    facts.extend(origin(case));
    facts.push(Fact::new("memory", memory(case, planned)));
    facts.extend(other_tiers(case, planned));
    let expected = plan.expect.speed.map_or_else(String::new, |rate| format!(", {rate} {planned}"));
    facts.push(Fact::new("speed", format!("{}{expected}", speed(&case.population))));
    if let (Some(board), Some(prediction)) = (case.board, &audit.prediction) {
        facts.push(Fact::new("board", board.name.as_str()));
        facts.push(Fact::new("rules", expected_in_brief(prediction)));
    }
    facts.extend(decides_nothing(diagnosis));
    facts
}

/// Of a server that shows too little.
pub(super) fn of_shortfall(diagnosis: &Diagnosis<'_>) -> Vec<Fact> {
    let case = diagnosis.case;
    let mut facts = origin(case);
    facts.extend(other_tiers(case, planned_word(case)));
    facts.extend(decides_nothing(diagnosis));
    facts
}

/// Of a work order on paper.
pub(super) fn of_order(diagnosis: &Diagnosis<'_>) -> Vec<Fact> {
    let mut facts = vec![plan_fact(diagnosis.case)];
    facts.extend(origin(diagnosis.case));
    facts
}

/// Of a population.
pub(super) fn of_population(case: &Case<'_>) -> Vec<Fact> {
    let mut facts = origin(case);
    let firmware = machine(case).firmware.map(|firmware| Fact::new("firmware", firmware.sentence()));
    facts.extend(firmware);
    facts.extend(other_tiers(case, ""));
    facts.push(Fact::new("speed", speed(&case.population)));
    facts.push(Fact::new("mapped", mapped(&case.population)));
    facts
}

fn plan_fact(case: &Case<'_>) -> Fact {
    Fact::new("plan", case.plan_name())
}

/// How many of the plan's demands are shown.
fn proof(proof: &Proof) -> Option<Fact> {
    let (all, met) = (proof.demands.len(), proof.count(Decision::Met));
    let rest = [(Decision::Contradicted, "contradicted"), (Decision::Open, "unproven")];
    let rest = rest.map(|(decision, word)| match proof.count(decision) {
        0 => String::new(),
        count => format!(", {count} {word}"),
    });
    let demands = if all == 1 { "demand" } else { "demands" };
    (all > 0).then(|| Fact::new("proof", format!("{met} of {all} {demands} shown{}", rest.concat())))
}

/// Name and version of the input, and the machine.
fn origin(case: &Case<'_>) -> Vec<Fact> {
    let version = match (case.listing.smbios.get(), case.listing.dmidecode.get()) {
        (Some(smbios), Some(utility)) => format!(" (SMBIOS {smbios}, dmidecode {utility})"),
        (Some(smbios), None) => format!(" (SMBIOS {smbios})"),
        (None, Some(utility)) => format!(" (dmidecode {utility})"),
        (None, None) => String::new(),
    };
    let mut facts = vec![Fact::new("listing", format!("{}{version}", case.name))];
    let machine = machine(case);
    let mut words: Vec<String> = [machine.maker, machine.product].into_iter().flatten().collect();
    words.extend(machine.serial.map(|serial| format!("serial {serial}")));
    if !words.is_empty() {
        facts.push(Fact::new("machine", words.join(", ")));
    }
    facts
}

/// What the plan lets pass, and notes.
fn decides_nothing(diagnosis: &Diagnosis<'_>) -> impl Iterator<Item = Fact> {
    let notes = diagnosis.audit.notes.iter().map(|note| Fact::new("note", note.as_str()));
    waived(&diagnosis.case.plan).into_iter().chain(notes)
}

/// What the plan lets pass where nothing shows it.
fn waived(plan: &Plan) -> Option<Fact> {
    let words: Vec<&str> = plan.waived.iter().map(|field| field.word()).collect();
    let text = || {
        format!("{}: by the plan, nothing is unproven where the evidence does not show it", words.join(", "))
    };
    (!words.is_empty()).then(|| Fact::new("waived", text()))
}

/// Main memory, with what is planned of it.
fn memory(case: &Case<'_>, planned: &str) -> String {
    let dimms = case.population.totals.dimms();
    let of = |size: Bytes| format!(" of {size} {planned}");
    let of = case.planned_of(Tier::Main).map_or_else(String::new, of);
    format!("{}{of}, in {} of {} slots", total(&case.population), dimms.fitted, dimms.slots)
}

/// What is beside main memory, one fact for each tier.
fn other_tiers(case: &Case<'_>, planned: &str) -> Vec<Fact> {
    let totals = case.population.totals;
    let others = [(Tier::Hbm, "hbm"), (Tier::Cxl, "cxl"), (Tier::Persistent, "pmem")];
    let fact = |(tier, key): (Tier, &'static str)| {
        let (size, of) = (totals.size_of(tier), case.planned_of(tier));
        let own = totals.of(tier);
        let there = own.fitted > 0 || size.0 > 0 || of.is_some();
        let of = of.map_or_else(String::new, |size| format!(" of {size} {planned}"));
        let slots = if own.slots > 0 {
            format!(", in {} of {} places", own.fitted, own.slots)
        } else {
            String::new()
        };
        there.then(|| Fact::new(key, format!("{size}{of}{slots}")))
    };
    let cache = totals.cache();
    let cached = (cache.0 > 0).then(|| {
        let text =
            format!("main memory is on persistent modules; {cache} DRAM in front of them is their cache");
        Fact::new("cache", text)
    });
    cached.into_iter().chain(others.into_iter().filter_map(fact)).collect()
}

/// Main memory in words.
pub(super) fn total(population: &Population<'_>) -> String {
    let totals = population.totals;
    match totals.main() {
        Some(size) => size.to_string(),
        None => format!("at least {}", totals.main_at_least()),
    }
}

fn mapped(population: &Population<'_>) -> String {
    match population.totals.mapped {
        Some(size) if Some(size) == population.totals.main() => format!("{size}, the sum of the modules"),
        Some(size) => size.to_string(),
        None => "no address ranges in this listing".to_owned(),
    }
}

/// Something noticed in a listing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Note {
    /// What it is, in a word for machines.
    pub(crate) kind: &'static str,
    /// What it means.
    pub(crate) text: String,
    /// The line that shows it.
    pub(crate) line: Option<u32>,
    /// How many times it was seen.
    pub(crate) count: u32,
}

impl Note {
    /// All of it in one sentence.
    pub(crate) fn sentence(&self) -> String {
        let place = self.line.map_or_else(String::new, |line| format!("line {line}: "));
        let times = if self.count > 1 { format!(" ({} times)", self.count) } else { String::new() };
        format!("{place}{}{times}", self.text)
    }
}

/// What was noticed in the listing of a case.
pub(crate) fn notes(case: &Case<'_>) -> Vec<Note> {
    let reading = case.listing.notes.iter().map(|note| Note {
        kind: note.kind.word(),
        text: note.kind.explanation().to_owned(),
        line: note.place.map(|place| place.line),
        count: note.count,
    });
    let observed = case.population.observations.iter().map(|seen| Note {
        kind: seen.kind.word(),
        text: seen.text.clone(),
        line: seen.place.map(|place| place.line),
        count: 1,
    });
    reading.chain(observed).collect()
}
