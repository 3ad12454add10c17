//! Verdicts that were wrong once. A verdict is the sum of proofs: what the listing cannot tell is neither as planned nor
//! a deviation.

use std::path::PathBuf;

use crate::util::command::{Bench, audit, audit_json, plan_from};
use crate::util::path;

fn defect(name: &str) -> PathBuf {
    path("fixtures/defects").join(name)
}

#[test]
fn each_defect_has_the_exit_code_that_its_listing_proves() {
    for (name, code, why) in [
        ("cut-total-deviates", 3, "the end record is lost, and with it perhaps the second module"),
        ("doubled-records", 1, "a record with the same handle and identity counts once"),
        ("ecc-second-array-silent", 3, "the second array says nothing of error correction"),
        ("unknown-slot-deviates", 3, "the planned slot may hold the planned module"),
        ("unknown-slot-total", 3, "the slot of unknown size may hold the rest"),
    ] {
        let result = audit_json(&defect(&format!("{name}.txt")), &defect(&format!("{name}.yaml")), code);
        let word = if code == 3 { "unproven" } else { "deviates" };
        assert_eq!(result["verdict"], word, "{name}: {why}");
        let proof = &result["proof"];
        let decided = if code == 3 { "open" } else { "contradicted" };
        assert_ne!(proof[decided], 0, "{name}: {proof}");
    }
}

/// Correction of one array proves nothing of a module that is in none of the listed ones.
#[test]
fn a_module_of_an_unlisted_array_is_not_under_its_correction() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(defect("doubled-records.txt")).unwrap();
    let plan = bench.write("p.yaml", "fit: [{module: 16GB, slots: [A1, A2]}]\nexpect: {ecc: on}\n");
    audit(&bench.write("l.txt", &text), &plan).code(0);
    let last = text.rfind("Handle 0x0020, DMI type 17").unwrap();
    let (first, end) = (&text[..last], "Handle 0x007F, DMI type 127, 40 bytes\nEnd Of Table\n");
    let orphaned = first.replacen("Array Handle: 0x0010", "Array Handle: 0x0099", 1);
    let result = audit_json(&bench.write("l.txt", orphaned + end), &plan, 3);
    assert_eq!(result["findings"][0]["fields"][0], "ecc");
}

/// Repeated records have a note, and the module is in one slot.
#[test]
fn a_repeated_record_counts_once() {
    let result = audit_json(&defect("doubled-records.txt"), &defect("doubled-records.yaml"), 1);
    assert_eq!(result["totals"]["detected_bytes"], 32u64 << 30);
    let notes = result["notes"].as_array().unwrap();
    assert!(notes.iter().any(|note| note["kind"] == "repeated-record"), "{notes:#?}");
}

/// Without handles nothing tells a record that was printed twice from a second module.
#[test]
fn records_repeated_without_handles_prove_no_total() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(defect("doubled-records.txt")).unwrap();
    let kept = |line: &&str| !line.starts_with("Handle ") && !line.contains("Array Handle");
    let quiet: Vec<&str> = text.lines().filter(kept).collect();
    let quiet = bench.write("quiet.txt", quiet.join("\n").replace("End Of Table", ""));
    let plan = bench.write("p.yaml", "expect: {total: 64 GiB}\n");
    let result = audit_json(&quiet, &plan, 3);
    assert_eq!(result["demands"][0]["result"], "open");
    let half = bench.write("h.yaml", "expect: {total: 32 GiB}\n");
    audit(&quiet, &half).code(0);
}

#[test]
fn a_listing_fulfils_the_plan_that_it_gave() {
    let bench = Bench::new();
    let listing = defect("eccoff-own-plan.txt");
    let plan = bench.write("p.yaml", plan_from(&listing));
    audit(&listing, &plan).code(0);
}

/// Which machine it is was demanded, and is not shown.
#[test]
fn a_machine_that_is_not_named_is_not_proven() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(defect("unknown-slot-total.txt")).unwrap();
    let plan =
        |machine: &str| bench.write("p.yaml", format!("machine: {machine}\nexpect: {{total: 16 GiB}}\n"));
    let named = bench.write("named.txt", &text);
    audit(&named, &plan("{serial: SYS1}")).code(0);
    audit(&named, &plan("{serial: SYS2}")).code(2);
    let result = audit_json(&named, &plan("{asset_tag: T1}"), 3);
    assert_eq!(result["findings"][0]["fields"][0], "machine");
    let scrubbed = bench.write("scrubbed.txt", text.replace("SYS1", "Not Specified"));
    let result = audit_json(&scrubbed, &plan("{serial: SYS1}"), 3);
    assert_eq!(
        (&result["demands"][1]["subject"], &result["demands"][1]["field"]),
        (&"machine".into(), &"serial".into())
    );
    let waived = bench.write("w.yaml", "machine: {serial: SYS1}\nexpect: {total: 16 GiB}\nwaive: machine\n");
    audit(&scrubbed, &waived).code(0);
}

/// A slot that the plan demands empty is a demand; one that it does not mention is none.
#[test]
fn a_module_in_a_slot_that_should_be_empty_is_a_fault() {
    let bench = Bench::new();
    let listing = defect("doubled-records.txt");
    let fit = "fit: [{module: 16GB, slots: A1}]\nexpect: {ecc: on}\n";
    let result = audit_json(&listing, &bench.write("p.yaml", format!("{fit}empty: A2\n")), 1);
    let finding = &result["findings"][0];
    assert_eq!((&finding["kind"], &finding["severity"]), (&"unplanned".into(), &"fault".into()));
    let result = audit_json(&listing, &bench.write("p.yaml", fit), 0);
    assert_eq!(result["findings"][0]["severity"], "warning");
}

#[test]
fn one_serial_number_on_two_modules_is_a_fault() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(defect("doubled-records.txt")).unwrap();
    let plan = bench.write("p.yaml", "fit: [{module: 16GB, slots: [A1, A2]}]\n");
    audit(&bench.write("l.txt", &text), &plan).code(0);
    let result = audit_json(&bench.write("l.txt", text.replace("S2A", "S1A")), &plan, 1);
    assert_eq!(result["findings"][0]["kind"], "duplicate-serial");
    assert_eq!(result["findings"][0]["slots"], serde_json::json!(["A1", "A2"]));
    audit(&bench.write("l.txt", text.replace("S2A", "None").replace("S1A", "None")), &plan).code(0);
}

/// Where no record says anything of memory, nothing is known of its total.
#[test]
fn a_listing_without_memory_records_proves_no_total() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(defect("unknown-slot-total.txt")).unwrap();
    let system = &text[..text.find("Handle 0x0010").unwrap()];
    let end = "Handle 0x007F, DMI type 127, 40 bytes\nEnd Of Table\n";
    let plan = defect("unknown-slot-total.yaml");
    audit(&bench.write("none.txt", format!("{system}{end}")), &plan).code(3);
    audit(
        &bench.write(
            "unknown.txt",
            text.replace("16 GB", "Unknown")
                .replace("M393A2K43BB1-CRC", "Unknown")
                .replace(": S1", ": Unknown"),
        ),
        &plan,
    )
    .code(3);
}

/// A half-seated module whose record keeps speed and ranks and has lost size and identity.
#[test]
fn a_record_that_has_lost_size_and_part_number_names_its_trace() {
    let bench = Bench::new();
    let slot = |number: u32, fields: &str| {
        format!(
            "Handle 0x00{number:02X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: A{number}\n{fields}\tPart Number: Not Specified\n\n"
        )
    };
    let runs = "\tSize: 16 GB\n\tSpeed: 1333 MT/s\n\tRank: 2\n";
    let half = "\tSize: No Module Installed\n\tSpeed: 1333 MT/s\n\tRank: 2\n";
    let empty = "\tSize: No Module Installed\n\tSpeed: Unknown\n\tRank: Unknown\n";
    let plan = bench.write("p.yaml", "fit: [{module: 16GB 2Rx4, slots: [A1, A2]}]\n");
    let audited = |third: &str| {
        let body = [slot(1, runs), slot(2, half), slot(3, third)].concat();
        let listing = bench.write("l.txt", body + "Handle 0x007F, DMI type 127, 40 bytes\nEnd Of Table\n");
        audit_json(&listing, &plan, 1)["findings"][0].clone()
    };
    let finding = audited(empty);
    assert_eq!((&finding["kind"], &finding["slot"]), (&"missing".into(), &"A2".into()));
    let found = finding["found"].as_str().unwrap();
    assert!(found.contains("its record states speed, ranks: something answered there"), "{found}");
    let lines: Vec<_> =
        finding["evidence"].as_array().unwrap().iter().map(|line| line["text"].clone()).collect();
    assert!(lines.contains(&"Speed: 1333 MT/s".into()) && lines.contains(&"Rank: 2".into()), "{lines:?}");
    assert_eq!(finding["causes"][0]["kind"], "failed-training");
    // Where every empty slot has these fields, they are the firmware's habit.
    let finding = audited(half);
    assert_eq!(finding["found"], "an empty slot");
    assert_ne!(finding["causes"][0]["kind"], "failed-training");
}

/// One size halved so that it is that of a module planned elsewhere: the least work is to move it, and the other reading
/// is named.
#[test]
fn a_module_taken_for_one_planned_elsewhere_may_be_of_another_size() {
    let bench = Bench::new();
    let slot = |number: u32, size: &str, ranks: u32| {
        format!(
            "Handle 0x00{number:02X}, DMI type 17, 40 bytes\nMemory Device\n\tLocator: A{number}\n\tSize: {size}\n\tRank: {ranks}\n\n"
        )
    };
    let plan = bench.write(
        "p.yaml",
        "fit: [{module: {size: 16 GiB, ranks: 2}, slots: A1}, {module: {size: 8 GiB, ranks: 2}, slots: A2}]\n",
    );
    let causes = |ranks: u32, last: &str| {
        let body = [slot(1, "8 GB", ranks), slot(2, last, 1)].concat();
        let listing = bench.write("l.txt", body + "Handle 0x007F, DMI type 127, 40 bytes\nEnd Of Table\n");
        let result = audit_json(&listing, &plan, 1);
        let findings = result["findings"].as_array().unwrap().clone();
        let of = |kind: &str| {
            let finding = findings.iter().find(|finding| finding["kind"] == kind);
            finding.map(|finding| finding["causes"].to_string()).unwrap_or_default()
        };
        (of("missing"), of("wrong-slot"))
    };
    for last in ["4 GB", "No Module Installed"] {
        let (missing, wrong_slot) = causes(2, last);
        for text in [missing, wrong_slot] {
            assert!(text.contains("or another size is fitted here than planned"), "{last}: {text}");
        }
    }
}
