//! Memory by tier: modules in slots, on the package, behind CXL links, and those that keep their contents.

use std::fmt::Write;

use asfitted::audit::{Audit, Decision, FindingKind, Verdict, audit};
use asfitted::case::Case;
use asfitted::diagnose::{FittedClaim, Shortfall, assume, diagnose};
use asfitted::evidence::Text;
use asfitted::plan::{self, parse_order, parse_sticker};
use asfitted::population::Tier;
use asfitted::records;
use asfitted::report::{audit_json, population_json};
use asfitted::sources::Sources;
use asfitted::units::Bytes;
use serde_json::Value;

/// A listing of the invented server that grows record by record.
#[derive(Clone)]
struct Records {
    text: String,
    handle: u16,
}

impl Records {
    fn new() -> Self {
        Self { text: "# dmidecode 3.6\nSMBIOS 3.7.0 present.\n\n".to_owned(), handle: 0x1100 }
    }

    fn array(mut self, handle: u16, location: &str, correction: &str) -> Self {
        let body = format!(
            "Handle {handle:#06x}, DMI type 16, 23 bytes\nPhysical Memory Array\n\tLocation: {location}\n\tUse: System Memory\n\tError Correction Type: {correction}\n\n"
        );
        self.text.push_str(&body);
        self
    }

    fn device(mut self, array: u16, locator: &str, size: &str, more: &[(&str, &str)]) -> Self {
        self.handle += 1;
        let head = format!(
            "Handle {:#06x}, DMI type 17, 92 bytes\nMemory Device\n\tArray Handle: {array:#06x}\n\tSize: {size}\n\tLocator: {locator}\n",
            self.handle
        );
        self.text.push_str(&head);
        for (key, value) in more {
            writeln!(self.text, "\t{key}: {value}").unwrap();
        }
        self.text.push('\n');
        self
    }

    /// So many DIMMs, and an empty slot for each one that is lacking.
    fn dimms(mut self, slots: u16, fitted: u16, size: &str) -> Self {
        for n in 0..slots {
            let fields = [
                ("Type", "DDR5"),
                ("Type Detail", "Synchronous Registered (Buffered)"),
                ("Total Width", "80 bits"),
                ("Data Width", "64 bits"),
                ("Speed", "4800 MT/s"),
                ("Part Number", "WW64-2R4-4800"),
                ("Configured Memory Speed", "4800 MT/s"),
            ];
            let locator = format!("s1.c{}.p1", n + 1);
            self = if n < fitted {
                self.device(0x1000, &locator, size, &fields)
            } else {
                self.device(0x1000, &locator, "No Module Installed", &[])
            };
        }
        self
    }

    fn persistent(mut self, count: u16, volatile: &str, keeps: &str) -> Self {
        for n in 0..count {
            let fields = [
                ("Type", "Logical non-volatile device"),
                ("Type Detail", "Synchronous Non-Volatile"),
                ("Part Number", "WW128-PM"),
                ("Memory Operating Mode Capability", "Volatile memory Byte-accessible persistent memory"),
                ("Non-Volatile Size", keeps),
                ("Volatile Size", volatile),
            ];
            self = self.device(0x1000, &format!("s1.c{}.p2", n + 1), "129408 MB", &fields);
        }
        self
    }

    /// Main memory of `fitted` of eight DIMMs of 64 GB, and an expander of 128 GB.
    fn expanded(fitted: u16, location: &str, locator: &str) -> Self {
        Self::new()
            .array(0x1000, "System Board Or Motherboard", "Multi-bit ECC")
            .dimms(8, fitted, "64 GB")
            .array(0x1001, location, "None")
            .device(
                0x1001,
                locator,
                "128 GB",
                &[("Type", "DDR5"), ("Speed", "3200 MT/s"), ("Part Number", "WW-CXL-128")],
            )
    }

    /// The same with four stacks on the package.
    fn stacked(fitted: u16) -> Self {
        let mut records = Self::new()
            .array(0x1000, "System Board Or Motherboard", "Multi-bit ECC")
            .dimms(8, fitted, "64 GB")
            .array(0x1002, "System Board Or Motherboard", "Multi-bit ECC");
        for n in 0..4 {
            let fields = [("Type", "HBM2"), ("Speed", "3200 MT/s"), ("Configured Memory Speed", "3200 MT/s")];
            records = records.device(0x1002, &format!("s1.hbm{n}"), "32 GB", &fields);
        }
        records
    }

    /// Eight DIMMs of 16 GB before eight persistent modules.
    fn with_persistent(count: u16, volatile: &str, keeps: &str) -> Self {
        Self::new()
            .array(0x1000, "System Board Or Motherboard", "Multi-bit ECC")
            .dimms(8, 8, "16 GB")
            .persistent(count, volatile, keeps)
    }

    /// Audits against a plan, with so many GiB visible; what is decided, and its JSON.
    fn audit(&self, plan: &str, visible: Option<u64>) -> (Audit, Value) {
        let text = Text::from_bytes("bay07.txt", self.text.clone().into_bytes()).unwrap();
        let listings = records::read(&text);
        let plan = plan::read("plan.yaml", plan).unwrap();
        let machine = Case::of(&text, &listings[0]).plan(&plan).sources(seen(visible));
        let case = machine.build().unwrap();
        let audit = audit(&case);
        let json = serde_json::to_value(audit_json(&diagnose(&case, &audit))).unwrap();
        (audit, json)
    }

    fn own_plan(&self) -> String {
        let text = Text::from_bytes("bay07.txt", self.text.clone().into_bytes()).unwrap();
        let listings = records::read(&text);
        let machine = Case::of(&text, &listings[0]);
        let derived = plan::from_population(&listings[0], &machine.machine().population, false);
        plan::to_yaml(&derived.plan, &[])
    }

    /// The first loss of what someone says was fitted: where, and how much.
    fn loss(&self, claim: &FittedClaim, visible: Option<u64>) -> Option<(&'static str, Bytes)> {
        let text = Text::from_bytes("bay07.txt", self.text.clone().into_bytes()).unwrap();
        let listings = records::read(&text);
        let machine = Case::of(&text, &listings[0]).sources(seen(visible));
        let (case, suspected) = assume(machine.build().unwrap(), Some(claim));
        let audit = audit(&case);
        let shortfall = Shortfall::of(&diagnose(&case, &audit), Some(claim), suspected);
        shortfall.first_loss().map(|stage| (stage.station.word(), stage.lost))
    }
}

fn seen(visible: Option<u64>) -> Sources {
    let mut sources = Sources::default();
    if let Some(gib) = visible {
        let body = format!("MemTotal: {} kB\n", gib << 20);
        sources.add(&Text::from_bytes("meminfo", body.into_bytes()).unwrap()).unwrap();
    }
    sources
}

fn claim(text: &str) -> FittedClaim {
    match Bytes::parse(text) {
        Some(total) => FittedClaim::Total(total),
        None => FittedClaim::Modules(vec![parse_order(text).unwrap()]),
    }
}

fn tiers(json: &Value) -> Vec<(&str, Option<u64>, Option<u64>)> {
    let gib = |value: &Value| value.as_u64().map(|bytes| bytes >> 30);
    let tiers = json["totals"]["tiers"].as_array().unwrap().iter();
    tiers
        .map(|t| (t["tier"].as_str().unwrap(), gib(&t["planned_bytes"]), gib(&t["detected_bytes"])))
        .collect()
}

/// An expander stands in for no DIMM: 448 of 512 GiB are there, whatever is beside them.
#[test]
fn an_expander_is_no_dimm() {
    for (location, locator) in [("CXL Add-on Card", "Slot 4"), ("<OUT OF SPEC>", "CXL Expander 1")] {
        let (audit, json) = Records::expanded(8, location, locator).audit("expect: {total: 512 GiB}", None);
        assert_eq!(audit.verdict, Verdict::AsPlanned, "{:#?}", audit.findings);
        assert_eq!(tiers(&json), [("main", Some(512), Some(512)), ("cxl", None, Some(128))]);
        assert_eq!(json["totals"]["detected_bytes"], 640u64 << 30);
        let lost = Records::expanded(7, location, locator);
        for plan in ["expect: {total: 512 GiB}", "expect: {total: 640 GiB}"] {
            let (audit, _) = lost.audit(plan, None);
            let short = audit.findings.iter().find(|f| f.kind == FindingKind::ShortTotal).unwrap();
            assert_eq!((audit.verdict, short.found.as_str()), (Verdict::Deviates, "448 GiB"));
        }
        for told in ["512 GiB", "8 x 64GB", "640 GiB"] {
            let missed = if told == "640 GiB" { 192 } else { 64 };
            assert_eq!(lost.loss(&claim(told), None), Some(("detected", Bytes::gib(missed))), "{told}");
            assert_eq!(Records::expanded(8, location, locator).loss(&claim(told), None), None, "{told}");
        }
    }
}

/// One module of eight is as large as the expander: it must not count as found.
#[test]
fn a_dimm_as_large_as_the_expander_is_still_missed() {
    let records = |fitted| {
        Records::new()
            .array(0x1000, "System Board Or Motherboard", "Multi-bit ECC")
            .dimms(4, fitted, "128 GB")
            .device(0x1000, "CXL 1", "128 GB", &[("Type", "DDR5")])
    };
    assert_eq!(records(4).loss(&claim("4 x 128GB"), None), None);
    assert_eq!(records(3).loss(&claim("4 x 128GB"), None), Some(("detected", Bytes::gib(128))));
    let (audit, _) = records(3).audit("expect: {total: 512 GiB}", None);
    assert_eq!(audit.verdict, Verdict::Deviates);
}

/// Whether other tiers are visible is a setting: both are well, and what is below main memory alone is lost.
#[test]
fn the_visible_total_may_count_other_tiers() {
    for records in [Records::expanded(8, "CXL Add-on Card", "Slot 4"), Records::stacked(8)] {
        let plan = records.own_plan();
        for (visible, verdict) in
            [(502, Verdict::AsPlanned), (630, Verdict::AsPlanned), (440, Verdict::Deviates)]
        {
            let (audit, _) = records.audit(&plan, Some(visible));
            assert_eq!(audit.verdict, verdict, "{visible}: {:#?}", audit.findings);
            assert!(audit.notes.iter().any(|note| note.contains("128 GiB") && note.contains("512 GiB")));
        }
        assert_eq!(records.loss(&claim("512 GiB"), Some(503)), None);
    }
}

/// A plan can list any device; what it says of one tier is compared with that tier.
#[test]
fn plans_of_other_tiers() {
    let plan = "fit:\n  - {module: 128GB, slots: [Slot 4]}\nexpect: {total: 512 GiB, cxl: 128 GiB}\n";
    let records = Records::expanded(8, "CXL Add-on Card", "Slot 4");
    let (audit, json) = records.audit(plan, None);
    assert_eq!(audit.verdict, Verdict::AsPlanned, "{:#?}", audit.findings);
    assert_eq!(tiers(&json)[1], ("cxl", Some(128), Some(128)));
    let (audit, _) = records.audit("expect: {total: 512 GiB, cxl: 256 GiB}", None);
    assert_eq!(audit.proof.count(Decision::Contradicted), 1);
    let (audit, _) = Records::stacked(8).audit("expect: {hbm: 256 GiB}", None);
    assert!(audit.findings[0].summary.starts_with("HBM modules sum to 128 GiB"), "{:#?}", audit.findings);
    // The sum of everything that the plan lists counts everything.
    let all: String = (1..=8).map(|n| format!("  - {{module: 64GB, slots: [s1.c{n}.p1]}}\n")).collect();
    let plan = format!("fit:\n{all}  - {{module: 128GB, slots: [Slot 4]}}\nexpect: {{total: 640 GiB}}\n");
    assert_eq!(records.audit(&plan, None).0.verdict, Verdict::AsPlanned);
    assert_eq!(
        Records::expanded(7, "CXL Add-on Card", "Slot 4").audit(&plan, None).0.verdict,
        Verdict::Deviates
    );
}

/// In memory mode persistent modules are main memory, and the DRAM in front of them their cache.
#[test]
fn persistent_modules_as_main_memory() {
    let records = Records::with_persistent(8, "126 GB", "None");
    let plan = records.own_plan();
    let (audit, json) = records.audit(&plan, Some(990));
    assert_eq!(audit.verdict, Verdict::AsPlanned, "{:#?}", audit.findings);
    assert_eq!(tiers(&json), [("main", Some(1008), Some(1008))]);
    assert_eq!(json["totals"]["persistent_bytes"], 0);
    let (audit, _) = records.audit(&plan, Some(870));
    assert!(audit.findings.iter().any(|f| f.kind == FindingKind::ShortTotal), "{:#?}", audit.findings);
    // One module gone is seen, by its slot and by the sum.
    let lost = Records::with_persistent(7, "126 GB", "None");
    assert_eq!(lost.audit("expect: {total: 1008 GiB}", None).0.verdict, Verdict::Deviates);
    assert_eq!(lost.loss(&claim("1008 GiB"), None), Some(("detected", Bytes::gib(126))));
    assert_eq!(records.loss(&claim("1008 GiB"), Some(990)), None);
    assert_eq!(records.loss(&claim("1008 GiB"), Some(500)), Some(("visible", Bytes::gib(508))));
    // That the cache does not count is common, and no record states it.
    assert_eq!(records.audit("expect: {total: 1136 GiB}", None).0.verdict, Verdict::Unproven);
    assert_eq!(records.audit("expect: {total: 1200 GiB}", None).0.verdict, Verdict::Deviates);
}

/// Where the last module that is main memory is lost, nothing shows what it was set up for: it explains the loss.
#[test]
fn a_lost_module_explains_either_total() {
    let whole = Records::with_persistent(1, "126 GB", "None");
    let lost = Records {
        text: whole.text.replace("\tSize: 129408 MB\n", "\tSize: No Module Installed\n"),
        handle: whole.handle,
    };
    let (audit, _) = lost.audit(&whole.own_plan(), None);
    let kinds: Vec<FindingKind> = audit.findings.iter().map(|finding| finding.kind).collect();
    assert!(!kinds.contains(&FindingKind::ShortTotal) && audit.verdict == Verdict::Deviates, "{kinds:?}");
}

/// Half of each module is main memory: each half counts in its tier.
#[test]
fn modules_that_are_divided() {
    let (_, json) = Records::with_persistent(8, "63 GB", "63 GB").audit("expect: {total: 504 GiB}", None);
    assert_eq!(
        tiers(&json),
        [("main", Some(504), Some(504)), ("persistent", None, Some(504))],
        "{:#}",
        json["findings"]
    );
}

/// As set up to keep their contents, they are a tier of their own.
#[test]
fn persistent_modules_are_no_main_memory() {
    let records = Records::with_persistent(8, "None", "126 GB");
    let (audit, json) = records.audit(&records.own_plan(), Some(124));
    assert_eq!(audit.verdict, Verdict::AsPlanned, "{:#?}", audit.findings);
    assert_eq!(tiers(&json), [("main", Some(128), Some(128)), ("persistent", Some(1011), Some(1011))]);
    assert_eq!(records.audit("expect: {total: 512 GiB}", None).0.verdict, Verdict::Deviates);
}

/// A label names the size by which a persistent module is sold; firmware states less.
#[test]
fn the_nominal_size_of_persistent_modules() {
    let records = Records::with_persistent(8, "None", "126 GB");
    let slots: Vec<String> = (1..=8).map(|n| format!("s1.c{n}.p2")).collect();
    let plan = |label: &str| {
        assert!(parse_sticker(label).is_ok());
        format!("fit:\n  - {{module: {label}, slots: [{}]}}\n", slots.join(", "))
    };
    assert_eq!(records.audit(&plan("128GB NVDIMM"), None).0.verdict, Verdict::AsPlanned);
    // Its type says nothing of the generation.
    assert_eq!(records.audit(&plan("128GB DDR4 NVDIMM"), None).0.verdict, Verdict::Unproven);
    assert_eq!(records.audit(&plan("256GB NVDIMM"), None).0.verdict, Verdict::Deviates);
    // No other module is smaller than its label.
    let dimm = Records::new().dimms(1, 1, "129408 MB");
    assert_eq!(dimm.audit("fit: [{module: 128GB, slots: [s1.c1.p1]}]", None).0.verdict, Verdict::Deviates);
    // A size that no source has stays open.
    let other = Records::new().device(
        0x1000,
        "s1.c1.p1",
        "514661 MB",
        &[("Type Detail", "Synchronous Non-Volatile"), ("Non-Volatile Size", "502 GB")],
    );
    assert_eq!(other.audit("fit: [{module: 512GB, slots: [s1.c1.p1]}]", None).0.verdict, Verdict::Unproven);
}

/// What a listing shows is a plan that it fulfils, in every tier.
#[test]
fn own_plans_are_fulfilled() {
    for records in [
        Records::expanded(8, "CXL Add-on Card", "Slot 4"),
        Records::expanded(5, "<OUT OF SPEC>", "CXL2"),
        Records::stacked(8),
        Records::stacked(0),
        Records::with_persistent(8, "126 GB", "None"),
        Records::with_persistent(8, "63 GB", "63 GB"),
        Records::with_persistent(3, "Unknown", "Unknown"),
        Records::with_persistent(1, "126 GB", "None"),
    ] {
        let plan = records.own_plan();
        let (audit, _) = records.audit(&plan, None);
        assert_eq!(audit.verdict, Verdict::AsPlanned, "{plan}\n{:#?}", audit.findings);
    }
}

/// Every slot says its tier.
#[test]
fn slots_say_their_tier() {
    let records = Records::expanded(8, "CXL Add-on Card", "Slot 4");
    let text = Text::from_bytes("bay07.txt", records.text.into_bytes()).unwrap();
    let listings = records::read(&text);
    let machine = Case::of(&text, &listings[0]);
    let case = machine.machine();
    let cxl: Vec<&str> =
        case.population.slots.iter().filter(|slot| slot.tier == Tier::Cxl).map(|slot| &*slot.name).collect();
    assert_eq!(cxl, ["Slot 4"]);
    let json = serde_json::to_value(population_json(&case)).unwrap();
    assert_eq!(json["slots"][8]["tier"], "cxl");
    assert_eq!(json["slots"][0]["tier"], "main");
}
