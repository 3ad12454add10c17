//! The kernel's error counters: both layouts, what holds no number, and folders.

use serde_json::Value;

use super::{Machine, finding};
use crate::util::command::stderr;

/// What cannot be read is neither zero nor an error.
#[test]
fn a_counter_without_a_number_is_unproven() {
    let machine = Machine::new();
    let edac = |count: &str| {
        format!("mc0/mc_name:Demo\nmc0/dimm0/dimm_label:s1.c1.p1\nmc0/dimm0/dimm_ce_count:{count}\n")
    };
    let (code, result) = machine.audit("own.yaml", &[&edac("0")]);
    assert_eq!((code, &result["findings"]), (0, &serde_json::json!([])));
    let (code, result) = machine.audit("own.yaml", &[&edac("none")]);
    let found = finding(&result, "memory-errors");
    assert_eq!(
        (code, &found["severity"], &found["slot"]),
        (3, &Value::from("unproven"), &Value::from("s1.c1.p1"))
    );
    assert_eq!(found["evidence"].as_array().unwrap().last().unwrap()["line"], 3);
}

/// What the kernel shows in two layouts is one error, and a row's channels are tied by their labels.
#[test]
fn both_layouts_of_counters_count_once() {
    let machine = Machine::new();
    let old = |ce: u32, ue: u32| {
        format!(
            "mc0/csrow0/ce_count:{ce}\nmc0/csrow0/ue_count:{ue}\nmc0/csrow0/ch0_ce_count:{ce}\n\
             mc0/csrow0/ch0_dimm_label:s1.c1.p1\n"
        )
    };
    let new = |ce: u32| format!("mc0/dimm0/dimm_label:s1.c1.p1\nmc0/dimm0/dimm_ce_count:{ce}\n");
    let own = |ce: u32| format!("mc0/ce_count:{ce}\n");
    for (other, code, slot, found) in [
        (old(3, 0), 0, Some("s1.c1.p1"), "3 corrected errors counted"),
        (old(0, 1), 1, Some("s1.c1.p1"), "1 uncorrected error counted"),
        (old(3, 0) + &new(3) + &own(3), 0, Some("s1.c1.p1"), "3 corrected errors counted"),
        (new(3) + &old(3, 0) + &own(3), 0, Some("s1.c1.p1"), "3 corrected errors counted"),
        // Modules without counters, as the kernels between the two layouts show them.
        (
            "mc0/dimm0/dimm_label:s1.c1.p1\nmc0/dimm0/size:1024\n".to_owned() + &old(5, 0) + &own(5),
            3,
            Some("s1.c1.p1"),
            "5 corrected errors counted",
        ),
        (old(0, 0), 0, None, ""),
        ("mc0/csrow0/ue_count:2\n".to_owned(), 1, None, "2 uncorrected errors counted"),
    ] {
        let (got, result) = machine.audit("own.yaml", &[&other]);
        let all: Vec<&Value> =
            result["findings"].as_array().unwrap().iter().filter(|f| f["kind"] == "memory-errors").collect();
        assert_eq!((got, all.len()), (code, usize::from(!found.is_empty())), "{other}: {all:#?}");
        if let [one] = all.as_slice() {
            assert_eq!((one["slot"].as_str(), one["found"].as_str()), (slot, Some(found)), "{other}");
        }
    }
    // A row over two channels of two modules: which one its uncorrected error is of, nobody can say.
    let two = old(1, 1) + "mc0/csrow0/ch1_dimm_label:s1.c2.p1\nmc0/csrow0/ch1_ce_count:0\n";
    let (code, result) = machine.audit("own.yaml", &[&two]);
    let mut all: Vec<(Option<&str>, &str)> = result["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["slot"].as_str(), f["found"].as_str().unwrap()))
        .collect();
    all.sort_unstable();
    assert_eq!(code, 1);
    assert_eq!(all, [(None, "1 uncorrected error counted"), (Some("s1.c1.p1"), "1 corrected error counted")]);
    // What is no number is open, in either layout.
    let (code, result) =
        machine.audit("own.yaml", &["mc0/csrow0/ch0_dimm_label:s1.c1.p1\nmc0/csrow0/ch0_ce_count:\n"]);
    assert_eq!((code, finding(&result, "memory-errors")["slot"].as_str()), (3, Some("s1.c1.p1")));
}

/// A folder that was taken from the kernel's is read at any height, and one without counters is refused.
#[test]
fn a_folder_of_counters_is_read() {
    let machine = Machine::new();
    let bench = &machine.0;
    let write = |path: &str, body: &str| {
        let path = bench.path(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, body).unwrap();
    };
    for (file, body) in [
        ("ce_count", "4\n"),
        ("dimm0/dimm_label", "s1.c1.p1\n"),
        ("dimm0/dimm_ce_count", "4\n"),
        ("csrow0/ce_count", "4\n"),
        ("csrow0/ch0_ce_count", "4\n"),
        ("csrow0/ch0_dimm_label", "s1.c1.p1\n"),
    ] {
        write(&format!("copy/edac/mc/mc0/{file}"), body);
    }
    write("copy/edac/mc/power/control", "auto\n");
    write("copy/other/file", "nothing\n");
    let audit = |folder: &str| {
        let mut command = bench.asfitted();
        command.args(["audit", "listing.txt", "--format", "json", "--plan", "own.yaml", "--with", folder]);
        command
    };
    for folder in ["copy", "copy/edac", "copy/edac/mc", "copy/edac/mc/mc0"] {
        let output = audit(folder).output().unwrap();
        let result: Value = serde_json::from_slice(&output.stdout).unwrap();
        let found = finding(&result, "memory-errors");
        assert_eq!(
            (found["slot"].as_str(), found["found"].as_str(), output.status.code()),
            (Some("s1.c1.p1"), Some("4 corrected errors counted"), Some(0)),
            "{folder}"
        );
        assert!(
            found["evidence"]
                .as_array()
                .unwrap()
                .iter()
                .any(|line| line["text"].as_str().unwrap().ends_with("mc0/dimm0/dimm_ce_count:4"))
        );
    }
    let message = stderr(&audit("copy/other").assert().code(2));
    assert!(message.contains("copy/other: found a folder without error counters"), "{message}");
    // A counter that is there and cannot be read as one is open.
    std::fs::remove_file(bench.path("copy/edac/mc/mc0/dimm0/dimm_ce_count")).unwrap();
    std::fs::create_dir(bench.path("copy/edac/mc/mc0/dimm0/dimm_ce_count")).unwrap();
    audit("copy").assert().code(3);
    let message = stderr(&audit("copy").args(["--work", "copy/edac/mc/mc0/ce_count"]).assert().code(2));
    assert!(message.contains("found as input and as the place of a result"), "{message}");
}
