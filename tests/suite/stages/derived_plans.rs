//! Plans that the command derives, and what audits against them say.

use crate::util::command::{Bench, asfitted, audit, audit_json, plan_from, stdout};

/// A slot of a listing without handles, as release 3.3 prints it.
fn slot(name: &str, size: &str, module: &str) -> String {
    format!(
        "Memory Device\n\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tSize: {size}\n\tLocator: {name}\n\tBank Locator: B\n\tType: DDR4\n{module}\n"
    )
}

const ARRAY: &str = "Physical Memory Array\n\tUse: System Memory\n\tError Correction Type: Multi-bit ECC\n\tNumber Of Devices: 2\n\n";

fn derive(bench: &Bench, listing: &str) -> String {
    let listing = bench.write("first.txt", listing);
    plan_from(&listing)
}

/// A correction that is lost later is seen, and one that nobody states is not proven.
#[test]
fn a_derived_plan_demands_the_correction_that_is_stated() {
    let bench = Bench::new();
    let listing = ARRAY.to_owned() + &slot("A1", "16 GB", "") + &slot("A2", "No Module Installed", "");
    let plan = derive(&bench, &listing);
    assert!(
        plan.contains("  ecc: \"on\"") || plan.contains("  ecc: on") || plan.contains("  ecc: 'on'"),
        "{plan}"
    );
    let plan = bench.write("p.yaml", plan);
    audit(&bench.write("l.txt", &listing), &plan).code(0);
    let lost = bench.write("l.txt", listing.replace("Multi-bit ECC", "None"));
    let result = audit_json(&lost, &plan, 1);
    assert_eq!(result["findings"][0]["kind"], "ecc-off");
    audit(&bench.write("l.txt", listing.replace(ARRAY, "")), &plan).code(3);
    // Modules without check bits have nothing to correct with, whatever the array says.
    let without = listing
        .replace("72 bits", "64 bits")
        .replace("DDR4\n", "DDR4\n\tType Detail: Synchronous Unbuffered (Unregistered)\n");
    assert!(!derive(&bench, &without).contains("expect:\n  ecc"));
}

/// A slot that is called `NO DIMM` while it is empty has another name once it is filled.
#[test]
fn a_derived_plan_names_no_placeholder() {
    let bench = Bench::new();
    let first = ARRAY.to_owned() + &slot("A1", "16 GB", "");
    let plan = derive(&bench, &(first.clone() + &slot("NO DIMM", "No Module Installed", "")));
    assert!(!plan.contains("NO DIMM"), "{plan}");
    let plan = bench.write("p.yaml", plan);
    let filled = bench.write("l.txt", first + &slot("A2", "16 GB", ""));
    let text = stdout(&audit(&filled, &plan).code(0));
    assert!(text.starts_with("AS PLANNED, AND 1 MODULE MORE THAN PLANNED: 1 warning\n"), "{text}");
    let nothing = bench.write("n.txt", slot("NO DIMM", "No Module Installed", ""));
    asfitted().args(["plan", "from"]).arg(nothing).assert().code(2);
}

/// A plan without modules plans no total.
#[test]
fn a_plan_without_modules_plans_no_total() {
    let bench = Bench::new();
    let plan = bench.write("p.yaml", "expect: {ecc: on}\n");
    let text = stdout(&audit(&bench.path("listing.txt"), &plan));
    assert!(!text.contains("0 B"), "{text}");
}

/// A planned module that is in the place of another is in the wrong slot; only what is nowhere must be got.
#[test]
fn a_planned_module_in_the_slot_of_another_is_moved_home() {
    let bench = Bench::new();
    let part = |part: &str| format!("\tPart Number: {part}\n");
    let of =
        |a: &str, b: &str| ARRAY.to_owned() + &slot("A", "16 GB", &part(a)) + &slot("B", "16 GB", &part(b));
    let plan = bench.write("p.yaml", derive(&bench, &of("WW-1111", "WW-2222")));
    let found = bench.write("l.txt", of("WW-2222", "WW-3333"));
    let result = audit_json(&found, &plan, 1);
    let words = |key: &str| -> Vec<&str> {
        result["findings"].as_array().unwrap().iter().map(|f| f[key].as_str().unwrap()).collect()
    };
    assert_eq!(words("kind"), ["missing", "wrong-slot", "unplanned"]);
    assert_eq!(words("slot"), ["A", "A", "B"]);
    assert_eq!(result["findings"][1]["other_slot"], "B");
    let steps: Vec<&str> =
        result["work"].as_array().unwrap().iter().map(|s| s["step"].as_str().unwrap()).collect();
    assert_eq!(steps, ["remove", "move", "fit"]);
}
