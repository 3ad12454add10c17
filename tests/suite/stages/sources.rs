//! Other sources of evidence beside a listing: what they add to findings, and what they contradict.

mod counters;

use serde_json::Value;

use crate::util::command::{Bench, audit, plan_from, stderr};

struct Machine(Bench);

impl Machine {
    /// The demo's listing with a plan that it fulfils.
    fn new() -> Self {
        let bench = Bench::new();
        bench.write("own.yaml", plan_from(&bench.path("listing.txt")));
        Self(bench)
    }

    /// The audit against `plan` with `others` beside it: exit code and result.
    fn audit(&self, plan: &str, others: &[&str]) -> (i32, Value) {
        let mut command = self.0.asfitted();
        command.args(["audit", "listing.txt", "--format", "json", "--plan", plan]);
        for (number, other) in others.iter().enumerate() {
            command.arg("--with").arg(self.0.write(&format!("other{number}"), other));
        }
        let output = command.output().unwrap();
        let result = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)));
        (output.status.code().unwrap(), result)
    }
}

fn finding<'v>(result: &'v Value, kind: &str) -> &'v Value {
    result["findings"].as_array().unwrap().iter().find(|f| f["kind"] == kind).unwrap_or(&Value::Null)
}

fn row(sensor: &str, event: &str, state: &str) -> String {
    format!("  1 | 11/20/2026 | 07:31:02 | Memory {sensor} | {event} | {state}\n")
}

#[test]
fn errors_weigh_by_what_they_are() {
    let machine = Machine::new();
    let counts = |ce: u32, ue: u32| {
        format!(
            "mc/mc0/ce_count:{ce}\nmc/mc0/ue_count:{ue}\nmc/mc0/dimm0/dimm_label:s1.c1.p1\nmc/mc0/dimm0/dimm_ce_count:{ce}\nmc/mc0/dimm0/dimm_ue_count:{ue}\n"
        )
    };
    for (other, code, severity, slot) in [
        (counts(0, 0), 0, None, None),
        (counts(7, 0), 0, Some("warning"), Some("s1.c1.p1")),
        (counts(7, 1), 1, Some("fault"), Some("s1.c1.p1")),
        (row("s1.c1.p1", "Correctable ECC", "Asserted"), 0, Some("warning"), Some("s1.c1.p1")),
        (row("s1.c1.p1", "Uncorrectable ECC", "Asserted"), 3, Some("unproven"), Some("s1.c1.p1")),
        (row("#0x53", "Memory Device Disabled", "Asserted"), 3, Some("unproven"), None),
        (row("s1.c1.p1", "Presence Detected", "Asserted"), 0, None, None),
    ] {
        let (got, result) = machine.audit("own.yaml", &[&other]);
        let found = finding(&result, "memory-errors");
        assert_eq!(got, code, "{other}");
        assert_eq!(found["severity"].as_str(), severity, "{other}");
        assert_eq!(found["slot"].as_str(), slot, "{other}");
    }
    let gone = row("s1.c1.p1", "Memory Device Disabled", "Asserted")
        + &row("s1.c1.p1", "Memory Device Disabled", "Deasserted");
    assert_eq!(machine.audit("own.yaml", &[&gone]).0, 0);
    // An uncorrectable error that is taken back has happened, and what is not understood is not silence.
    let back = row("s1.c1.p1", "Uncorrectable ECC", "Deasserted");
    for log in [row("s1.c1.p1", "Uncorrectable ECC", "Asserted") + &back, back] {
        let (code, result) = machine.audit("own.yaml", &[&log]);
        let found = finding(&result, "memory-errors");
        assert_eq!(
            (code, found["severity"].as_str(), found["slot"].as_str()),
            (3, Some("unproven"), Some("s1.c1.p1"))
        );
    }
    let (code, result) = machine.audit("own.yaml", &[&row("s1.c1.p1", "State Asserted", "Asserted")]);
    assert_eq!((code, finding(&result, "memory-errors")["severity"].as_str()), (3, Some("unproven")));
    // The controller's counter above those of its modules is memory that nothing ties to a slot.
    let (_, result) = machine.audit("own.yaml", &[&counts(7, 0).replacen("ce_count:7", "ce_count:9", 1)]);
    let found: Vec<&Value> =
        result["findings"].as_array().unwrap().iter().filter(|f| f["kind"] == "memory-errors").collect();
    assert_eq!(found.len(), 2);
    assert!(
        found.iter().any(|f| f["slot"].is_null() && f["found"] == "2 corrected errors counted"),
        "{found:?}"
    );
}

/// The words of logs, each read or open, never silent; those of the log's own state, and of a start, are no errors.
#[test]
fn words_of_logs_are_read_or_open() {
    let machine = Machine::new();
    let cells = |cells: &str| format!("  1 | 11/20/2026 | 07:31:02 | {cells}\n");
    for (log, code, severity, slot, words) in [
        (
            "s1.c1.p1 | Memory | Correctable memory error",
            0,
            Some("warning"),
            Some("s1.c1.p1"),
            "correctable ECC",
        ),
        (
            "s1.c1.p1 | Memory | Transition to Non-critical from OK",
            3,
            Some("unproven"),
            Some("s1.c1.p1"),
            "state non-critical",
        ),
        ("s1.c1.p1 | Memory | Transition to OK", 0, None, None, ""),
        (
            "Memory s1.c1.p1 | State Asserted",
            3,
            Some("unproven"),
            Some("s1.c1.p1"),
            "only the maker of the board",
        ),
        ("POST Error | No system memory", 3, Some("unproven"), None, "no system memory installed"),
        (
            "Memory s1.c1.p1 | Unrecoverable memory failure",
            3,
            Some("unproven"),
            Some("s1.c1.p1"),
            "unrecoverable memory failure",
        ),
        ("DIMM s1.c1.p1 | Uncorrectable ECC", 3, Some("unproven"), Some("s1.c1.p1"), "uncorrectable ECC"),
        (
            "Event Logging Disabled #0x10 | Correctable memory error logging disabled | Asserted",
            3,
            Some("unproven"),
            None,
            "logging of correctable errors disabled",
        ),
        ("Event Logging Disabled #0x10 | Log area reset/cleared | Asserted", 0, None, None, ""),
        ("System Firmware Progress #0x06 | Memory initialization | Asserted", 0, None, None, ""),
        (
            "DIMM s1.c1.p1 | OEM event 0x21 | Asserted",
            3,
            Some("unproven"),
            Some("s1.c1.p1"),
            "cannot be read here",
        ),
        (
            "Memory s1.c1.p1 | Correctable ECC | Deasserted",
            0,
            Some("warning"),
            Some("s1.c1.p1"),
            "correctable ECC",
        ),
    ] {
        let (got, result) = machine.audit("own.yaml", &[&cells(log)]);
        let found = finding(&result, "memory-errors");
        assert_eq!(
            (got, found["severity"].as_str(), found["slot"].as_str()),
            (code, severity, slot),
            "{log}"
        );
        assert!(found["found"].as_str().unwrap_or_default().contains(words), "{log}: {found:#}");
    }
    // A record of sensor type 10h, offset 00h.
    let record = "01 00 02 10 20 30 40 20 00 04 10 53 6f 80 04 ff\n";
    let (code, result) = machine.audit("own.yaml", &[record]);
    assert_eq!((code, finding(&result, "memory-errors")["severity"].as_str()), (3, Some("unproven")));
}

/// A log that writes a slot in another way means likely that slot, and says so; where it may be several, it is none.
#[test]
fn slots_under_other_names_are_likely_the_same() {
    let bench = Bench::new();
    let listing = bench.read("listing.txt");
    let slots = [
        ("s1.c1.p1", "P1-DIMM1A", "P0_Node0_Channel0_Dimm0"),
        ("s1.c1.p2", "P1-DIMM2A", "P0_Node0_Channel0_Dimm1"),
        ("s2.c1.p1", "P2-DIMM1A", "P1_Node0_Channel0_Dimm0"),
    ];
    let renamed = slots.iter().fold(listing, |listing, (old, new, _)| {
        listing.replace(&format!("Locator: {old}\n"), &format!("Locator: {new}\n"))
    });
    // The bank's label of a record follows the slot's.
    let renamed = slots.iter().fold(renamed, |listing, (_, new, bank)| {
        let (head, tail) = listing.split_once(&format!("\tLocator: {new}\n")).unwrap();
        let (_, rest) = tail.split_once('\n').unwrap();
        format!("{head}\tLocator: {new}\n\tBank Locator: {bank}\n{rest}")
    });
    bench.write("listing.txt", &renamed);
    bench.write("own.yaml", plan_from(&bench.path("listing.txt")));
    let machine = Machine(bench);
    for (event, slot, words) in [
        (
            "Memory | Uncorrectable ECC (@DIMM1A(CPU1)) | Asserted",
            Some("P1-DIMM1A"),
            "its source says DIMM1A(CPU1), likely the same slot",
        ),
        (
            "DIMM_P2-DIMM1A | Uncorrectable ECC | Asserted",
            Some("P2-DIMM1A"),
            "its source says DIMM_P2-DIMM1A, likely the same slot",
        ),
        ("Memory | Uncorrectable ECC (P1-DIMM1A) | Asserted", Some("P1-DIMM1A"), ""),
        ("Memory | Uncorrectable ECC (@DIMM1A) | Asserted", None, ""),
        ("Memory | Uncorrectable ECC (@DIMM9Z(CPU1)) | Asserted", None, ""),
    ] {
        let (code, result) = machine.audit("own.yaml", &[&format!("1 | 11/20/2026 | 07:31:02 | {event}\n")]);
        let found = finding(&result, "memory-errors");
        let said = found["found"].as_str().unwrap();
        assert_eq!((code, found["slot"].as_str()), (3, slot), "{event}: {found:#}");
        assert!(said.contains(words) && said.contains("likely") != words.is_empty(), "{event}: {said}");
    }
    let (_, result) =
        machine.audit("own.yaml", &["1 | a | b | Memory | Uncorrectable ECC (@DIMM1A) | Asserted\n"]);
    let summary = finding(&result, "memory-errors")["summary"].as_str().unwrap().to_owned();
    assert!(
        summary.starts_with("memory in one of P1-DIMM1A and P2-DIMM1A, which one is not said"),
        "{summary}"
    );
    // Counters and resources as well.
    let (_, result) =
        machine.audit("own.yaml", &["mc0/dimm0/dimm_label:CPU2_DIMM_1A\nmc0/dimm0/dimm_ce_count:2\n"]);
    assert_eq!(finding(&result, "memory-errors")["slot"], "P2-DIMM1A");
}

/// Only the management controller can tell a disabled module from one that is not there, and comes first.
#[test]
fn the_controller_distinguishes_disabled_from_absent() {
    let machine = Machine::new();
    let plan = "fit:\n  - {module: 16GB, slots: [s1.c1.p3]}\n";
    machine.0.write("plan.yaml", plan);
    let first = |others: &[&str]| -> (String, Vec<String>) {
        let (code, result) = machine.audit("plan.yaml", others);
        assert_eq!(code, 1);
        let missing = finding(&result, "missing");
        assert_eq!(finding(&result, "memory-errors"), &Value::Null);
        let sources = missing["evidence"].as_array().unwrap().iter();
        let mut sources: Vec<String> = sources.map(|e| e["source"].as_str().unwrap().to_owned()).collect();
        sources.dedup();
        (missing["causes"][0]["kind"].as_str().unwrap().to_owned(), sources)
    };
    // A slot that is planned and empty, and nothing else that could be the module.
    machine.0.write("plan.yaml", "fit:\n  - {module: {part: NONE-SUCH-1}, slots: [s1.c1.p3]}\n");
    assert_eq!(first(&[]).0, "not-seated");
    let disabled = row("s1.c1.p3", "Memory Device Disabled", "Asserted");
    assert_eq!(
        first(&[&disabled]),
        ("disabled".to_owned(), vec!["listing".to_owned(), "event-log".to_owned()])
    );
    assert_eq!(first(&[&row("s1.c1.p3", "Configuration Error", "Asserted")]).0, "rule-lock-out");
    let resource = |state: &str| {
        format!(
            "{{\"@odata.type\": \"#Memory.v1_17_0.Memory\", \"DeviceLocator\": \"s1.c1.p3\", \"Status\": {{\"State\": \"{state}\"}}}}\n"
        )
    };
    assert_eq!(first(&[&resource("UnavailableOffline")]).0, "disabled");
    let (cause, sources) = first(&[&resource("Absent")]);
    assert_eq!((cause.as_str(), sources[1].as_str()), ("not-seated", "redfish"));
}

#[test]
fn contradictions_leave_it_unproven() {
    let machine = Machine::new();
    let (_, result) = machine.audit("own.yaml", &[]);
    let detected = result["totals"]["detected_bytes"].as_u64().unwrap() >> 20;
    let manages = |mib: u64| format!("mc/mc0/size_mb:{mib}\n");
    for (other, code) in [
        (manages(detected), 0),
        (manages(detected / 2), 3),
        (manages(detected * 2), 3),
        (format!("MemTotal: {} kB\n", detected * 2 * 1024), 3),
        (format!("MemTotal: {} kB\n", detected * 1000), 0),
    ] {
        let (got, result) = machine.audit("own.yaml", &[&other]);
        assert_eq!(got, code, "{other}");
        assert_eq!(finding(&result, "contradiction").is_null(), code == 0);
    }
}

#[test]
fn too_little_visible_is_a_fault_with_its_cause() {
    let machine = Machine::new();
    let (_, result) = machine.audit("own.yaml", &[]);
    let detected = result["totals"]["detected_bytes"].as_u64().unwrap() >> 10;
    let meminfo = |kib: u64| format!("MemTotal: {kib} kB\n");
    for (others, cause) in [
        (vec![meminfo(detected * 49 / 100)], "mirroring"),
        (vec![meminfo(16_000_000), "BOOT_IMAGE=/v mem=16G ro\n".to_owned()], "command-line"),
        (vec![meminfo(3_500_000)], "32-bit"),
        (vec![meminfo(detected * 98 / 100 - (16 << 20))], "module-unused"),
        (vec![meminfo(detected * 7 / 10) + "HardwareCorrupted: 9000000 kB\n"], "bad-memory"),
    ] {
        let texts: Vec<&str> = others.iter().map(String::as_str).collect();
        let (code, result) = machine.audit("own.yaml", &texts);
        let found = finding(&result, "short-total");
        assert_eq!((code, found["causes"][0]["kind"].as_str()), (1, Some(cause)), "{found:#}");
        assert_eq!(found["evidence"][0]["source"], "meminfo");
    }
}

/// A mode that is planned and not on is reported; one that nobody can count is refused.
#[test]
fn a_mode_explains_no_more_than_it_reserves() {
    let machine = Machine::new();
    let own = machine.0.read("own.yaml");
    let (_, result) = machine.audit("own.yaml", &[]);
    let kib = result["totals"]["detected_bytes"].as_u64().unwrap() >> 10;
    let meminfo = |kib: u64| format!("MemTotal: {kib} kB\n");
    for (mode, visible, code, kind) in [
        ("rank sparing", 4_000_000, 1, "short-total"),
        ("rank sparing", kib * 74 / 100, 3, "unproven"),
        ("rank sparing", kib * 98 / 100, 0, ""),
        ("mirroring", kib * 49 / 100, 0, ""),
        ("mirroring", kib * 98 / 100, 3, "contradiction"),
    ] {
        machine.0.write("mode.yaml", format!("mode: {mode}\n{own}"));
        let (got, result) = machine.audit("mode.yaml", &[&meminfo(visible)]);
        assert_eq!(got, code, "{mode} {visible}: {:#}", result["findings"]);
        assert!(kind.is_empty() || !finding(&result, kind).is_null(), "{mode} {visible}");
    }
    let typo = machine.0.write("mode.yaml", format!("mode: mirorring\n{own}"));
    let message = stderr(&audit(&machine.0.path("listing.txt"), &typo).code(2));
    assert!(message.contains("mode.yaml:1: found `mode: mirorring`"), "{message}");
    assert!(message.contains("Did you mean `mirroring`?"), "{message}");
}

/// Several files: logs and resources add up, the worst state counts, a second of another kind is refused.
#[test]
fn several_sources_of_one_kind() {
    let machine = Machine::new();
    let resource = |slot: &str, state: &str| {
        format!(
            "{{\"@odata.type\": \"#Memory.v1_17_0.Memory\", \"DeviceLocator\": \"{slot}\", \"Status\": {{\"State\": \"{state}\"}}}}\n"
        )
    };
    let (bad, good) = (resource("s1.c1.p1", "Disabled"), resource("s1.c1.p2", "Enabled"));
    let same = resource("s1.c1.p1", "Enabled");
    for others in [vec![&bad, &good], vec![&good, &bad], vec![&bad, &same]] {
        let others: Vec<&str> = others.into_iter().map(String::as_str).collect();
        assert_eq!(machine.audit("own.yaml", &others).0, 3, "{others:?}");
    }
    let one_line = format!("{}{}", bad.trim(), resource("s1.c2.p1", "UnavailableOffline"));
    let (_, result) = machine.audit("own.yaml", &[&one_line]);
    let found: Vec<&Value> = result["findings"].as_array().unwrap().iter().collect();
    assert_eq!(found.len(), 2);
    assert!(
        found.iter().all(|f| f["evidence"][0]["line"] == 1 && f["evidence"][0]["text"] != ""),
        "{found:#?}"
    );
    let log = row("s1.c1.p1", "Uncorrectable ECC", "Asserted");
    let other = row("s2.c1.p1", "Uncorrectable ECC", "Deasserted");
    assert_eq!(machine.audit("own.yaml", &[&log, &other]).0, 3);
    // Two slots in one row tie it to neither, and a record's bytes are no names.
    let (_, result) =
        machine.audit("own.yaml", &[&row("", "Uncorrectable ECC, s1.c1.p1 and s2.c1.p1", "Asserted")]);
    assert!(finding(&result, "memory-errors")["slot"].is_null());
    // One file may hold two kinds.
    let both = "MemTotal: 900000000 kB\nmc/mc0/ue_count:5\n";
    let (code, result) = machine.audit("own.yaml", &[both]);
    assert_eq!((code, finding(&result, "memory-errors")["severity"].as_str()), (1, Some("fault")));
    let mut command = machine.0.asfitted();
    command.args(["audit", "listing.txt", "--plan", "own.yaml"]);
    for name in ["m1", "m2"] {
        command.arg("--with").arg(machine.0.write(name, "MemTotal: 1 kB\n"));
    }
    let message = stderr(&command.assert().code(2));
    assert!(message.contains("a second /proc/meminfo"));
}

/// Counters as large as they can be, memory that the kernel has taken out, a controller that knows better.
#[test]
fn extreme_values_are_reported() {
    let machine = Machine::new();
    let counts = format!(
        "mc0/dimm0/dimm_label:s1.c1.p1\nmc0/dimm0/dimm_ce_count:{}\nmc0/dimm0/dimm_ue_count:1\n",
        u64::MAX
    );
    assert_eq!(machine.audit("own.yaml", &[&counts]).0, 1);
    let bad = "MemTotal: 900000000 kB\nHardwareCorrupted: 8388608 kB\n";
    let (_, result) = machine.audit("own.yaml", &[bad]);
    assert_eq!(finding(&result, "memory-errors")["severity"], "fault");
    for resource in [
        r#"{"CapacityMiB": 16384, "DeviceLocator": "no such slot", "Status": {"State": "Disabled", "Health": "Critical"}}"#,
        r#"{"CapacityMiB": 8192, "DeviceLocator": "s1.c1.p1", "Status": {"State": "Enabled"}}"#,
        r#"{"CapacityMiB": 0, "DeviceLocator": "s1.c1.p1", "Status": {"State": "Absent"}}"#,
    ] {
        assert_eq!(machine.audit("own.yaml", &[resource]).0, 3, "{resource}");
    }
}
