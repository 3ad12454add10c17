//! Other witnesses beside a listing: what they add to findings, and what they contradict.

use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;

struct Bench(tempfile::TempDir);

impl Bench {
    /// The demo's listing with a plan that it fulfils.
    fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        Command::cargo_bin("asfitted")
            .unwrap()
            .args(["demo", "--files"])
            .arg(bench.0.path())
            .assert()
            .code(0);
        let listing = bench.0.path().join("listing.txt");
        let plan =
            Command::cargo_bin("asfitted").unwrap().args(["plan", "from"]).arg(listing).assert().code(0);
        bench.write("own.yaml", &plan.get_output().stdout);
        bench
    }

    fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, content).unwrap();
        path
    }

    /// The audit against `plan` with `others` beside it: exit code and result.
    fn audit(&self, plan: &str, others: &[&str]) -> (i32, Value) {
        let mut command = Command::cargo_bin("asfitted").unwrap();
        command.arg("audit").arg(self.0.path().join("listing.txt")).args(["--format", "json", "--plan"]);
        command.arg(self.0.path().join(plan));
        for (number, other) in others.iter().enumerate() {
            command.arg("--with").arg(self.write(&format!("other{number}"), other));
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
    let bench = Bench::new();
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
        let (got, result) = bench.audit("own.yaml", &[&other]);
        let found = finding(&result, "memory-errors");
        assert_eq!(got, code, "{other}");
        assert_eq!(found["severity"].as_str(), severity, "{other}");
        assert_eq!(found["slot"].as_str(), slot, "{other}");
    }
    let gone = row("s1.c1.p1", "Memory Device Disabled", "Asserted")
        + &row("s1.c1.p1", "Memory Device Disabled", "Deasserted");
    assert_eq!(bench.audit("own.yaml", &[&gone]).0, 0);
    // The controller's counter above those of its modules is memory that nothing ties to a slot.
    let (_, result) = bench.audit("own.yaml", &[&counts(7, 0).replacen("ce_count:7", "ce_count:9", 1)]);
    let found: Vec<&Value> =
        result["findings"].as_array().unwrap().iter().filter(|f| f["kind"] == "memory-errors").collect();
    assert_eq!(found.len(), 2);
    assert!(
        found.iter().any(|f| f["slot"].is_null() && f["found"] == "2 corrected errors counted"),
        "{found:?}"
    );
}

/// The management controller alone tells a disabled module from one that is not there, and is heard first.
#[test]
fn the_controller_tells_disabled_from_absent() {
    let bench = Bench::new();
    let plan = "fit:\n  - {module: 16GB, slots: [s1.c1.p3]}\n";
    bench.write("plan.yaml", plan);
    let first = |others: &[&str]| -> (String, Vec<String>) {
        let (code, result) = bench.audit("plan.yaml", others);
        assert_eq!(code, 1);
        let missing = finding(&result, "missing");
        assert_eq!(finding(&result, "memory-errors"), &Value::Null);
        let sources = missing["evidence"].as_array().unwrap().iter();
        let mut sources: Vec<String> = sources.map(|e| e["source"].as_str().unwrap().to_owned()).collect();
        sources.dedup();
        (missing["causes"][0]["kind"].as_str().unwrap().to_owned(), sources)
    };
    // A slot that is planned and empty, and nothing else that could be the module.
    bench.write("plan.yaml", "fit:\n  - {module: {part: NONE-SUCH-1}, slots: [s1.c1.p3]}\n");
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
    let bench = Bench::new();
    let (_, result) = bench.audit("own.yaml", &[]);
    let detected = result["totals"]["detected_bytes"].as_u64().unwrap() >> 20;
    let manages = |mib: u64| format!("mc/mc0/size_mb:{mib}\n");
    for (other, code) in [
        (manages(detected), 0),
        (manages(detected / 2), 3),
        (manages(detected * 2), 3),
        (format!("MemTotal: {} kB\n", detected * 2 * 1024), 3),
        (format!("MemTotal: {} kB\n", detected * 1000), 0),
    ] {
        let (got, result) = bench.audit("own.yaml", &[&other]);
        assert_eq!(got, code, "{other}");
        assert_eq!(finding(&result, "contradiction").is_null(), code == 0);
    }
}

#[test]
fn too_little_visible_is_a_fault_with_its_cause() {
    let bench = Bench::new();
    let (_, result) = bench.audit("own.yaml", &[]);
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
        let (code, result) = bench.audit("own.yaml", &texts);
        let found = finding(&result, "short-total");
        assert_eq!((code, found["causes"][0]["kind"].as_str()), (1, Some(cause)), "{found:#}");
        assert_eq!(found["evidence"][0]["source"], "meminfo");
    }
}
