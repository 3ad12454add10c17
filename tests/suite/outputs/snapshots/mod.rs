//! What people see, as files under `tests/suite/snapshots`, so that a change to a word is seen in review.
//!
//! `INSTA_UPDATE=always cargo test --test suite snapshots` writes them anew; look at the difference before it is
//! committed.

mod demo;
mod fleet;
mod help;
mod listings;
mod page;
mod plans;

use assert_cmd::Command;
use regex::Regex;

use crate::util::command::stdout;
use crate::util::path;

/// Holds `text` against `tests/suite/snapshots/FOLDER/NAME.snap`.
fn matches_snapshot(folder: &str, name: &str, text: &str) {
    assert!(!text.trim().is_empty(), "{folder}/{name} is empty");
    let masked = text.replace(concat!("asfitted ", env!("CARGO_PKG_VERSION")), "asfitted [version]");
    for place in [env!("CARGO_MANIFEST_DIR"), "/.tmp"] {
        assert!(!masked.contains(place), "{folder}/{name} names a folder of this machine:\n{masked}");
    }
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path(path("tests/suite/snapshots").join(folder));
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, masked));
}

/// What the command prints when it ends with `code`.
fn printed(command: &mut Command, arguments: &[&str], code: i32) -> String {
    stdout(&command.args(arguments).assert().code(code))
}

/// Hashes change with every change to a script or a sheet, which its own test looks after.
fn without_hashes(markup: &str) -> String {
    Regex::new("sha256-[A-Za-z0-9+/=]+").unwrap().replace_all(markup, "sha256-[hash]").into_owned()
}
