//! What records state beyond what is compared: errors, firmware, bytes of a text, the parts of a module.

use serde_json::Value;

use crate::util::command::{asfitted, json, stdout};

/// A machine with four slots, of which the last is empty, each pointing to an error record of `kinds`.
fn listing(version: &str, kinds: [&str; 4]) -> String {
    let mut text = format!(
        "# dmidecode 3.6\nSMBIOS 3.7.0 present.\n\nHandle 0x0000, DMI type 0, 26 bytes\nBIOS Information\n\tVendor: Firmware Works\n\tVersion: {version}\n\tRelease Date: 03/18/2021\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: Wetherlam Works\n\tProduct Name: Kestrel Twin\n\tUUID: 6d0b1c52-0000-4000-8000-000000000042\n\n"
    );
    for (n, kind) in kinds.iter().enumerate() {
        let size = if n == 3 { "No Module Installed" } else { "16 GB" };
        let fields = if n == 3 {
            String::new()
        } else {
            "\tType: DDR5\n\tPart Number: 0x57573136444452352D3248582020FF00\n\tSet: 2\n\tMemory Technology: DRAM\n\tModule Manufacturer ID: Bank 1, Hex 0xCE\n\tMemory Subsystem Controller Manufacturer ID: Bank 1, Hex 0xB3\n\tFirmware Version: 7.1\n\tVolatile Size: 16 GB\n\tCache Size: None\n\tPMIC0 Manufacturer ID: Bank 12, Hex 0x10\n\tPMIC0 Device Type: 2\n\tPMIC0 Device Revision: 1.1\n\tRCD Manufacturer ID: Bank 7, Hex 0xB3\n\tRCD Revision Number: Unknown\n".to_owned()
        };
        text.push_str(&format!(
            "Handle 0x11{n:02}, DMI type 17, 100 bytes\nMemory Device\n\tError Information Handle: 0x12{n:02}\n\tSize: {size}\n\tLocator: s1.c{}.p1\n{fields}\nHandle 0x12{n:02}, DMI type {}, 23 bytes\n{} Memory Error Information\n\tType: {kind}\n\tGranularity: Device Level\n\tOperation: Read\n\n",
            n + 1,
            if n % 2 == 0 { 18 } else { 33 },
            if n % 2 == 0 { "32-bit" } else { "64-bit" },
        ));
    }
    text.push_str("Handle 0x1300, DMI type 127, 4 bytes\nEnd Of Table\n\n");
    text
}

fn audited(listing: &str, plan: &str, code: i32) -> Value {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [("bay07.txt", listing), ("plan.yaml", plan)] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let mut command = asfitted();
    command.current_dir(folder.path()).args([
        "audit",
        "bay07.txt",
        "--plan",
        "plan.yaml",
        "--format",
        "json",
    ]);
    json(&command.assert().code(code))
}

const PLAN: &str = "fit: [{module: 16GB, slots: [s1.c1.p1, s1.c2.p1, s1.c3.p1]}]\n";

/// A record does not say when its error was, so it is open; it says nothing of an empty slot.
#[test]
fn error_records_are_open() {
    let result = audited(&listing("2.1", ["OK", "Bad Read", "Bad Read", "Bad Read"]), PLAN, 3);
    let findings = result["findings"].as_array().unwrap();
    assert_eq!(findings.len(), 1, "{findings:#?}");
    let found = &findings[0];
    assert_eq!(
        (found["kind"].as_str(), found["severity"].as_str()),
        (Some("memory-errors"), Some("unproven"))
    );
    assert_eq!(found["slots"], serde_json::json!(["s1.c2.p1", "s1.c3.p1"]));
    let lines: Vec<&str> =
        found["evidence"].as_array().unwrap().iter().map(|line| line["text"].as_str().unwrap()).collect();
    assert!(
        lines.contains(&"Type: Bad Read") && lines.contains(&"Error Information Handle: 0x1201"),
        "{lines:?}"
    );
    let waived = format!("{PLAN}waive: [errors]\n");
    audited(&listing("2.1", ["OK", "Bad Read", "Bad Read", "Bad Read"]), &waived, 0);
}

#[test]
fn records_without_an_error_are_none() {
    for kinds in [["OK"; 4], ["None"; 4], ["Unknown"; 4], ["Other"; 4], ["<OUT OF SPEC>"; 4]] {
        let result = audited(&listing("2.1", kinds), PLAN, 0);
        assert_eq!(result["findings"], serde_json::json!([]), "{kinds:?}");
    }
    let result = audited(&listing("2.1", ["OK", "OK", "Corrected Single-bit Error", "OK"]), PLAN, 0);
    assert_eq!(result["findings"][0]["severity"], "warning");
}

/// Where a module is missed, an error that the firmware keeps of its slot is evidence.
#[test]
fn an_error_of_a_missing_module_is_evidence() {
    let plan = PLAN.replace("s1.c3.p1]", "s1.c3.p1, s1.c4.p1]");
    let result = audited(&listing("2.1", ["OK", "OK", "OK", "Bad Read"]), &plan, 1);
    assert_eq!(result["findings"].as_array().unwrap().len(), 1);
    assert_eq!(result["findings"][0]["kind"], "missing");
    let lines = result["findings"][0]["evidence"].as_array().unwrap();
    assert!(lines.iter().any(|line| line["text"] == "Type: Bad Read"), "{lines:#?}");
}

/// What a listing shows is a plan that it fulfils, errors included; it is said that the plan accepts them.
#[test]
fn a_listing_with_errors_fulfils_its_own_plan() {
    let folder = tempfile::tempdir().unwrap();
    let listing = listing("2.1", ["Bad Read", "OK", "Bad Read", "Bad Read"]);
    std::fs::write(folder.path().join("bay07.txt"), &listing).unwrap();
    let mut command = asfitted();
    let made = command.current_dir(folder.path()).args(["plan", "from", "bay07.txt"]).assert().code(0);
    let plan = stdout(&made);
    assert!(plan.contains("s1.c1.p1, s1.c3.p1: the firmware keeps a record of an error"), "{plan}");
    audited(&listing, &plan, 0);
}

#[test]
fn show_has_what_records_state() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bay07.txt"), listing("2.1", ["Bad Read", "OK", "OK", "OK"])).unwrap();
    let show = |format: &str| {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["show", "bay07.txt", "--format", format]).assert().code(0)
    };
    let result = json(&show("json"));
    assert_eq!(
        result["machine"]["firmware"],
        serde_json::json!({"vendor": "Firmware Works", "version": "2.1", "date": "03/18/2021"})
    );
    assert_eq!(result["machine"]["uuid"], "6d0b1c52-0000-4000-8000-000000000042");
    let slot = &result["slots"][0];
    assert_eq!(slot["found"]["part"], "WW16DDR5-2HX");
    let record = &slot["record"];
    for (key, want) in [
        ("part_as_printed", Value::from("0x57573136444452352D3248582020FF00")),
        ("set", Value::from(2)),
        ("module_maker", Value::from("Samsung")),
        ("controller_maker", Value::from("IDT")),
        ("firmware_version", Value::from("7.1")),
        ("volatile_bytes", Value::from(16u64 << 30)),
        ("cache_bytes", Value::from(0)),
        ("logical_bytes", Value::Null),
        ("pmic_revision", Value::from("1.1")),
        ("rcd_revision", Value::Null),
    ] {
        assert_eq!(record[key], want, "{key}: {record:#}");
    }
    assert_eq!(record["error"]["kind"], "Bad Read");
    assert!(result["slots"][3].get("record").is_none());
    assert!(stdout(&show("text")).contains("Firmware Works 2.1 of 03/18/2021"));
}

/// How many machines of a product run which firmware.
#[test]
fn a_fleet_has_its_firmware() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("listings")).unwrap();
    std::fs::create_dir(folder.path().join("plans")).unwrap();
    let plan = format!("machine: {{product: Kestrel Twin}}\n{PLAN}");
    std::fs::write(folder.path().join("plans/twin.yaml"), plan).unwrap();
    for (n, version) in ["2.1", "2.1", "1.9"].into_iter().enumerate() {
        let path = folder.path().join(format!("listings/bay{n}.txt"));
        std::fs::write(path, listing(version, ["OK"; 4])).unwrap();
    }
    let fleet = |more: &[&str]| {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "listings", "--plans", "plans"]).args(more);
        stdout(&command.assert().code(0))
    };
    let text = fleet(&["--hosts-table", "hosts.csv"]);
    assert!(text.contains("Kestrel Twin: 2.1 on 2 machines, 1.9 on 1 machine"), "{text}");
    let table = std::fs::read_to_string(folder.path().join("hosts.csv")).unwrap();
    assert!(table.lines().next().unwrap().ends_with(",firmware,firmware_date"), "{table}");
    assert!(table.lines().any(|row| row.ends_with(",1.9,03/18/2021")), "{table}");
    let json = fleet(&["--format", "json"]);
    let last: Value = serde_json::from_str(json.lines().last().unwrap()).unwrap();
    assert_eq!(
        last["firmware"],
        serde_json::json!([{"product": "Kestrel Twin", "versions": [{"version": "2.1", "machines": 2}, {"version": "1.9", "machines": 1}]}])
    );
}
