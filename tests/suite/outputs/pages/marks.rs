//! What marks and paper say.

use scraper::Html;

use super::both;
use crate::util::command::{Bench, asfitted, stdout};
use crate::util::html::{all, text_of};
use crate::util::pallet;

/// What is only assumed is not shown as planned.
#[test]
fn without_a_plan_nothing_is_planned() {
    let bench = Bench::new();
    let run = |extra: &[&str]| {
        let arguments = [&["diagnose", "listing.txt"], extra].concat();
        let (_, page) = both(&arguments, &bench.path(""));
        let heads: Vec<String> = all(&page, "#slot-0 ~ tr, thead th").into_iter().map(text_of).collect();
        let drawn = text_of(all(&page, ".boards")[0]);
        let keys = all(&page, "article dt").into_iter().map(text_of).any(|key| key == "planned");
        let order = text_of(all(&page, ".order")[0]);
        [
            heads.iter().any(|head| head == "planned"),
            drawn.contains("plan "),
            keys,
            order.contains("against the same plan"),
        ]
    };
    assert_eq!(run(&["--plan", "plan.yaml"]), [true; 4]);
    assert_eq!(run(&["--fitted", "192 GiB"]), [false; 4]);
    assert_eq!(run(&[]), [false; 4]);
}

/// Where findings call for no hand movement, the paper lists them, and does not say that no repair is needed.
#[test]
fn findings_without_steps_are_on_paper() {
    let pallet = pallet::folder();
    let audit = |bay: &str| {
        let listing = format!("listings/{bay}.txt");
        both(&["audit", &listing, "--plan", "plans/kestrel.yaml"], &pallet)
    };
    let (json, page) = audit("bay42");
    let order = text_of(all(&page, ".order")[0]);
    assert!(!order.contains("No physical repair needed"), "{order}");
    let findings = json["findings"].as_array().unwrap();
    assert!(findings.len() > 3);
    for finding in findings {
        let summary = finding["summary"].as_str().unwrap();
        assert!(order.contains(summary), "{order}: {summary}");
    }
    // Without a listing of them these are drawn and marked all the same.
    let drawn = |look: &str| all(&page, &format!("a.slot.{look}.unproven")).len();
    assert_eq!((drawn("lost"), drawn("empty")), (2, 1));
    let (_, page) = audit("bay01");
    assert!(text_of(all(&page, ".order")[0]).contains("No physical repair needed"));
}

/// The mark of a page is that of the exit code: nothing unproven or empty looks good.
#[test]
fn marks_of_pages_follow_the_exit_code() {
    let pallet = pallet::folder();
    let empty = tempfile::tempdir().unwrap();
    let empty = empty.path().to_str().unwrap();
    for (arguments, code, mark) in [
        (vec!["diagnose", "listings/bay14.txt", "--plan", "plans/kestrel.yaml"], 3, "unproven"),
        (vec!["diagnose", "listings/bay01.txt", "--plan", "plans/kestrel.yaml"], 0, "good"),
        (vec!["audit", "listings/bay14.txt", "--plan", "plans/kestrel.yaml"], 3, "unproven"),
        (vec!["fleet", "listings/bay14.txt", "--subset", "--plans", "plans"], 3, "unproven"),
        (vec!["fleet", "listings/bay01.txt", "--subset", "--plans", "plans"], 0, "good"),
        (vec!["fleet", "listings/bay02.txt", "--subset", "--plans", "plans"], 1, "fault"),
        (vec!["fleet", empty, "--plans", "plans"], 2, "fault"),
    ] {
        let run =
            asfitted().current_dir(&pallet).args(&arguments).args(["--format", "html"]).assert().code(code);
        let page = Html::parse_document(&stdout(&run));
        let verdict = all(&page, ".verdict")[0];
        assert!(verdict.value().classes().any(|class| class == mark), "{arguments:?}: {:?}", verdict.value());
    }
}
