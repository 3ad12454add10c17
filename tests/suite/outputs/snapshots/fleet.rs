//! The invented pallet as a fleet, in every format.

use serde_json::Value;

use super::page::visible;
use super::{matches_snapshot, printed};
use crate::util::pallet::fleet;

#[test]
fn summary() {
    matches_snapshot("fleet", "summary-text", &printed(&mut fleet(), &[], 2));
}

/// The keys in the order of the alphabet; their order is no part of the contract.
#[test]
fn last_line() {
    let lines = printed(&mut fleet(), &["--format", "json"], 2);
    let last: Value = serde_json::from_str(lines.lines().last().unwrap()).unwrap();
    matches_snapshot("fleet", "last-line-json", &serde_json::to_string_pretty(&last).unwrap());
}

#[test]
fn page_as_read() {
    matches_snapshot("fleet", "page-text", &visible(&printed(&mut fleet(), &["--format", "html"], 2)));
}

#[test]
fn tables_test_report_and_metrics() {
    let folder = tempfile::tempdir().unwrap();
    let mut command = fleet();
    let outputs = [
        ("--findings-table", "findings-table"),
        ("--hosts-table", "hosts-table"),
        ("--test-report", "test-report"),
        ("--metrics", "metrics"),
    ];
    for (option, name) in outputs {
        command.arg(option).arg(folder.path().join(name));
    }
    command.assert().code(2);
    for (_, name) in outputs {
        matches_snapshot("fleet", name, &std::fs::read_to_string(folder.path().join(name)).unwrap());
    }
}
