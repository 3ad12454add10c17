//! Fleets with inputs that cannot be read, runs that are stopped, and results by readers that are not ours.

mod inputs;
mod planned;
mod plans_and_stock;
mod results;
mod slow;

use std::path::Path;

use serde_json::Value;

use crate::util::command::{asfitted, json_lines};
use crate::util::pallet;

/// A fleet over `path`, with the pallet's plans: exit code and lines.
pub fn run(path: &Path) -> (i32, Vec<Value>) {
    let mut command = asfitted();
    command
        .arg("fleet")
        .arg(path)
        .arg("--plans")
        .arg(pallet::folder().join("plans"))
        // The pallet's plans name machines that are not in every folder.
        .args(["--subset", "--format", "json"]);
    let output = command.output().unwrap();
    (output.status.code().unwrap(), json_lines(&output.stdout))
}

pub fn reason<'v>(lines: &'v [Value], name: &str) -> &'v str {
    let line = lines.iter().find(|l| l["listing"]["name"].as_str().is_some_and(|n| n.ends_with(name)));
    line.unwrap_or_else(|| panic!("{name}: {lines:#?}"))["reason"].as_str().unwrap_or("audited")
}
