//! The keys of the JSON, which are a contract.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::util::command::{Bench, asfitted, json};

/// The object has exactly these keys, in whatever order.
fn has_keys(value: &Value, wanted: &str) {
    let keys: BTreeSet<&str> = value.as_object().unwrap().keys().map(String::as_str).collect();
    assert_eq!(keys, wanted.split(' ').collect());
}

#[test]
fn audit_json_has_the_contract_keys() {
    let result = json(&asfitted().args(["demo", "--format", "json"]).assert());
    assert_eq!((result["format"].as_str(), result["version"].as_u64()), (Some("asfitted.audit"), Some(1)));
    has_keys(
        &result,
        "proof demands format version listing machine plan board verdict totals speed slots findings work notes expectation",
    );
    has_keys(&result["listing"], "name smbios_version utility_version");
    has_keys(&result["machine"], "maker product serial uuid firmware");
    has_keys(
        &result["totals"],
        "planned_bytes detected_bytes persistent_bytes tiers mapped_bytes visible_bytes",
    );
    has_keys(&result["speed"], "expected_mts configured_mts rated_mts");
    for slot in result["slots"].as_array().unwrap() {
        for key in ["slot", "socket", "channel", "position", "state", "planned", "found"] {
            assert!(slot.get(key).is_some(), "{key}");
        }
        for side in ["planned", "found"] {
            if !slot[side].is_null() {
                has_keys(
                    &slot[side],
                    "size_bytes type kind ranks width rated_mts configured_mts voltage_mv maker part serial",
                );
            }
        }
    }
    for step in result["work"].as_array().unwrap() {
        assert!(step.get("step").is_some());
    }
}

#[test]
fn findings_in_json_have_the_contract_keys() {
    let result = json(&asfitted().args(["demo", "--format", "json"]).assert());
    for finding in result["findings"].as_array().unwrap() {
        has_keys(
            finding,
            "kind severity slot slots other_slot fields summary expected found evidence causes",
        );
        for evidence in finding["evidence"].as_array().unwrap() {
            has_keys(evidence, "source line text");
        }
        assert!(!finding["causes"].as_array().unwrap().is_empty());
        for cause in finding["causes"].as_array().unwrap() {
            has_keys(cause, "kind cause likelihood why check");
        }
    }
}

#[test]
fn show_json_has_the_contract_keys() {
    let bench = Bench::new();
    let result = json(
        &asfitted().arg("show").arg(bench.path("listing.txt")).args(["--format", "json"]).assert().code(0),
    );
    assert_eq!(result["format"], "asfitted.population");
    for key in ["version", "listing", "machine", "totals", "slots", "notes"] {
        assert!(result.get(key).is_some(), "{key}");
    }
    has_keys(&result["totals"], "detected_bytes persistent_bytes tiers mapped_bytes slots fitted");
    let slots = result["slots"].as_array().unwrap();
    assert_eq!(slots.len(), 18);
    assert!(slots.iter().all(|slot| slot.get("planned").is_none()));
    assert_eq!(slots[5]["socket"], 1);
    assert_eq!(slots[5]["channel"], "2");
    assert_eq!(slots[5]["position"], 3);
}
