//! The demo: report, JSON, page, paper.

use super::page::{markup, visible};
use super::{matches_snapshot, printed};
use crate::util::command::{Bench, asfitted};

#[test]
fn report() {
    matches_snapshot("demo", "audit-text", &printed(&mut asfitted(), &["demo"], 1));
}

#[test]
fn json() {
    matches_snapshot("demo", "audit-json", &printed(&mut asfitted(), &["demo", "--format", "json"], 1));
}

#[test]
fn page_as_read() {
    let page = printed(&mut asfitted(), &["demo", "--format", "html"], 1);
    matches_snapshot("demo", "page-text", &visible(&page));
}

#[test]
fn page_as_marked_up() {
    let page = printed(&mut asfitted(), &["demo", "--format", "html"], 1);
    matches_snapshot("demo", "page-markup", &markup(&page));
}

#[test]
fn paper() {
    let bench = Bench::new();
    let arguments = ["audit", "listing.txt", "--plan", "plan.yaml", "--work", "work.txt"];
    bench.asfitted().args(arguments).assert().code(1);
    matches_snapshot("demo", "paper", &bench.read("work.txt"));
}

#[test]
fn population() {
    let bench = Bench::new();
    matches_snapshot("demo", "show-text", &printed(&mut bench.asfitted(), &["show", "listing.txt"], 0));
}

#[test]
fn diagnosis() {
    let bench = Bench::new();
    let fitted = ["diagnose", "listing.txt", "--fitted", "12 x 16GB 2Rx4 PC3L-10600R"];
    matches_snapshot("demo", "diagnose-text", &printed(&mut bench.asfitted(), &fitted, 1));
}
