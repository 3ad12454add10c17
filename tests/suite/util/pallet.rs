//! The invented pallet in `fixtures/pallet`; `crate::command::pallet` makes its files.

use std::path::PathBuf;

use assert_cmd::Command;

use super::command::asfitted;
use super::path;

pub fn folder() -> PathBuf {
    path("fixtures/pallet")
}

/// The fleet audit of the whole pallet with its stock.
pub fn fleet() -> Command {
    let mut command = asfitted();
    command.current_dir(folder());
    command.args(["fleet", "listings", "--plans", "plans", "--stock", "stock.csv"]);
    command
}

/// The text of one of its listings.
pub fn listing(name: &str) -> String {
    std::fs::read_to_string(folder().join("listings").join(name)).unwrap()
}

/// A listing that fulfils the plan of its product.
pub fn good() -> Vec<u8> {
    listing("bay01.txt").into_bytes()
}
