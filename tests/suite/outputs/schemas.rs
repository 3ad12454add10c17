//! The JSON Schemas in `schemas/` are those that the types give.
//!
//! To write them anew: `ASFITTED_WRITE_SCHEMAS=1 cargo test --test suite schemas`.

use std::collections::BTreeSet;

use crate::util::command::{asfitted, stderr, stdout};
use crate::util::path;

/// What `generate schema` can write, as its own error names it.
fn names() -> Vec<String> {
    let message = stderr(&asfitted().args(["generate", "schema", "banana"]).assert().code(2));
    let (_, values) = message.split_once("[possible values: ").unwrap();
    values.split(']').next().unwrap().split(", ").map(str::to_owned).collect()
}

#[test]
fn schemas_are_current() {
    let write = std::env::var_os("ASFITTED_WRITE_SCHEMAS").is_some();
    let mut files = BTreeSet::new();
    let mut stale = Vec::new();
    for name in names() {
        let made = stdout(&asfitted().args(["generate", "schema", &name]).assert().code(0));
        let file = format!("{name}.schema.json");
        let there = std::fs::read_to_string(path("schemas").join(&file)).unwrap_or_default();
        if there != made {
            if write {
                std::fs::write(path("schemas").join(&file), made).unwrap();
                println!("written: schemas/{file}");
            } else {
                stale.push(file.clone());
            }
        }
        files.insert(file);
    }
    assert!(
        stale.is_empty(),
        "stale: {stale:?}. Write them with ASFITTED_WRITE_SCHEMAS=1 cargo test --test suite schemas"
    );
    let there: BTreeSet<String> = std::fs::read_dir(path("schemas"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert_eq!(there, files, "a schema that no command writes");
}
