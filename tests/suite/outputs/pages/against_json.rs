//! A page has what the JSON has.

use serde_json::json;

use super::{GRAVE, both, same_findings, same_slots, strings};
use crate::util::command::{Bench, asfitted, stderr, stdout};
use crate::util::html::{all, cells, select, text_of};
use crate::util::pallet;

#[test]
fn a_page_says_what_the_json_says() {
    let bench = Bench::new();
    let folder = bench.path("");
    let audit = ["audit", "listing.txt", "--plan", "plan.yaml"];
    let (json, page) = both(&audit, &folder);
    same_findings(&json, &page, "audit");
    same_slots(&json, &page, "audit");
    assert_eq!(all(&page, "h1").len(), 1);
    let (json, page) = both(&["diagnose", "listing.txt", "--plan", "plan.yaml"], &folder);
    same_findings(&json, &page, "diagnose");
    let stations: Vec<Option<&str>> =
        all(&page, "[data-station]").into_iter().map(|p| p.value().attr("data-station")).collect();
    let wanted: Vec<Option<&str>> =
        json["waterfall"].as_array().unwrap().iter().map(|stage| stage["station"].as_str()).collect();
    assert_eq!(stations, wanted);
    let (json, page) = both(&["diagnose", "listing.txt", "--fitted", "12 x 16GB 2Rx4 PC3L-10600R"], &folder);
    same_findings(&json, &page, "diagnose --fitted");
    for suspect in strings(&json, "suspects") {
        assert!(text_of(all(&page, "section")[2]).contains(suspect), "{suspect}");
        let drawn = all(&page, &format!("a.slot[aria-label*=\". {suspect}: \"]"));
        let spoken = drawn[0].value().attr("aria-label").unwrap();
        assert!(drawn[0].value().classes().any(|class| GRAVE.contains(&class)), "{suspect}");
        assert!(!spoken.contains("no finding"), "{spoken}");
    }
    let (json, page) = both(&["show", "listing.txt"], &folder);
    same_slots(&json, &page, "show");
}

/// A slot that only the first listing has is named beside the map.
#[test]
fn a_page_of_a_comparison_names_slots_that_are_gone() {
    let bench = Bench::new();
    let listing = bench.read("listing.txt");
    let cut = listing.find("Locator: s2.c3.p3").unwrap();
    let cut = listing[..cut].rfind("Handle").unwrap();
    bench.write("shorter.txt", &listing[..cut]);
    let (json, page) = both(&["compare", "listing.txt", "shorter.txt"], &bench.path(""));
    assert!(
        json["changes"].as_array().unwrap().iter().any(|change| change["slot"] == "s2.c3.p3"),
        "{json:#}"
    );
    assert!(text_of(all(&page, "main")[0]).contains("In the first alone: s2.c3.p3"));
}

/// What the plan waives is said in every format, so that a good verdict does not hide it.
#[test]
fn waived_demands_are_shown() {
    let bench = Bench::new();
    let plan = format!("waive: [width, speed]\n{}", bench.read("plan.yaml"));
    bench.write("waiving.yaml", plan);
    for command in ["audit", "diagnose"] {
        let arguments = [command, "listing.txt", "--plan", "waiving.yaml"];
        let run = asfitted().current_dir(bench.path("")).args(arguments).assert();
        let wanted = "width, speed: by the plan";
        assert!(
            stdout(&run).lines().any(|line| line.starts_with("waived") && line.contains(wanted)),
            "{command}"
        );
        let (json, page) = both(&arguments, &bench.path(""));
        assert!(text_of(all(&page, ".facts")[0]).contains(wanted), "{command}");
        if command == "audit" {
            assert_eq!(json["plan"]["waived"], json!(["width", "speed"]));
        }
    }
}

#[test]
fn a_page_of_a_comparison_has_every_change() {
    let pallet = pallet::folder();
    for (before, after) in [
        ("listings/bay01.txt", "listings/bay04.txt"),
        ("listings/bay01.txt", "listings/bay05.txt"),
        ("listings/bay01.txt", "listings/bay01.txt"),
        ("plans/kestrel.yaml", "listings/bay12.txt"),
    ] {
        let (json, page) = both(&["compare", before, after], &pallet);
        let changes = json["changes"].as_array().unwrap();
        let bodies = all(&page, "tbody[data-change]");
        assert_eq!(bodies.len(), changes.len());
        for (change, body) in changes.iter().zip(bodies) {
            assert_eq!(body.value().attr("data-change"), change["change"].as_str());
            let rows: Vec<String> = body.select(&select("tr")).map(|row| cells(row).join(" ")).collect();
            let fields = change["fields"].as_array().unwrap();
            assert_eq!(rows.len(), fields.len());
            assert!(rows[0].starts_with(change["slot"].as_str().unwrap()));
            for (field, row) in fields.iter().zip(rows) {
                let empty =
                    |key: &str| fields.iter().any(|field| field["field"] == "state" && field[key] == "empty");
                let none = |key: &str| if empty(key) { "none" } else { "not stated" };
                let side = |key: &str| field[key].as_str().unwrap_or(none(key)).to_owned();
                let end =
                    format!("{} {} {}", field["field"].as_str().unwrap(), side("before"), side("after"));
                assert!(row.ends_with(&end), "{row}: {end}");
            }
        }
        let marked = all(&page, "a.slot").len();
        let unlisted = changes.iter().filter(|change| change["change"] == "unlisted").count();
        assert!(marked + unlisted >= changes.len());
    }
}

#[test]
fn commands_without_a_page_say_so() {
    let bench = Bench::new();
    for arguments in [
        vec!["plan", "from", "listing.txt"],
        vec!["boards", "list"],
        vec!["capture", "--root", "/nonexistent"],
        vec!["demo", "--files", "elsewhere"],
    ] {
        let run = asfitted().current_dir(bench.path("")).args(&arguments).args(["--format", "html"]).assert();
        let run = run.code(2).stdout("");
        assert!(stderr(&run).contains("a command that has no page"), "{arguments:?}");
    }
    assert!(!bench.path("elsewhere").exists());
}
