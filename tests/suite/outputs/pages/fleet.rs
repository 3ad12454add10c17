//! The pages of a fleet.

use assert_cmd::Command;
use scraper::Html;
use serde_json::{Value, json};

use super::{same_findings, same_slots, strings};
use crate::util::command::{asfitted, json_lines, stderr, stdout};
use crate::util::html::{all, cells, text_of};
use crate::util::pallet;

/// The data that the page's script reads.
fn embedded(page: &Html, id: &str) -> Vec<Value> {
    let script = all(page, &format!("script#{id}"))[0];
    serde_json::from_str(&script.text().collect::<String>()).unwrap()
}

/// The pallet with its stock, in this format.
fn whole_pallet(format: &str) -> Command {
    let mut command = pallet::fleet();
    command.args(["--format", format]);
    command
}

#[test]
fn pages_of_a_fleet_say_what_its_json_says() {
    let work = tempfile::tempdir().unwrap();
    let lines = json_lines(&whole_pallet("json").assert().code(2).get_output().stdout);
    let pages = work.path().join("pages");
    whole_pallet("html").arg("--output").arg(&pages).assert().code(2);
    let overview = Html::parse_document(&std::fs::read_to_string(pages.join("index.html")).unwrap());
    let (whole, hosts) = lines.split_last().unwrap();
    let rows = embedded(&overview, "hosts-data");
    assert_eq!(rows.len(), hosts.len());
    for (at, (row, host)) in rows.iter().zip(hosts).enumerate() {
        assert_eq!(row["name"], host["listing"]["name"]);
        let own = std::fs::read_to_string(pages.join(format!("hosts/{:06}.html", at + 1))).unwrap();
        let own = Html::parse_document(&own);
        if host["format"] == "asfitted.not-audited" {
            assert_eq!((&row["outcome"], &row["reason"]), (&json!("not-audited"), &host["reason"]));
            assert!(text_of(all(&own, "main")[0]).contains(host["reason"].as_str().unwrap()));
            continue;
        }
        assert_eq!(row["outcome"], host["verdict"]);
        assert_eq!(row["detected"], host["totals"]["detected_bytes"]);
        let facts = |finding: &Value, slots: String| {
            (finding["kind"].clone(), finding["severity"].clone(), slots, finding["summary"].clone())
        };
        let shown: Vec<_> = row["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| facts(f, f["slots"].as_str().unwrap().to_owned()))
            .collect();
        let wanted: Vec<_> = host["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| facts(f, strings(f, "slots").join(", ")))
            .collect();
        assert_eq!(shown, wanted);
        let name = host["listing"]["name"].as_str().unwrap();
        same_findings(host, &own, name);
        same_slots(host, &own, name);
    }
    assert_eq!(Value::from(embedded(&overview, "modules-data")), whole["stock"]["findings"]);
    for kind in whole["kinds"].as_array().unwrap() {
        let row = [
            kind["kind"].as_str().unwrap().to_owned(),
            kind["findings"].to_string(),
            kind["hosts"].to_string(),
        ];
        assert!(all(&overview, "tbody tr").into_iter().any(|own| cells(own) == row), "{row:?}");
    }
    faults_of_slots_are_counted(&overview, hosts);
}

/// How often each slot is at fault, counted anew from the lines.
fn faults_of_slots_are_counted(overview: &Html, hosts: &[Value]) {
    let main = text_of(all(overview, "main")[0]);
    let faulty = |slot: &str, product: &str| {
        let here = |host: &&Value| {
            host["machine"]["product"] == product
                && host["findings"].as_array().unwrap().iter().any(|f| {
                    f["severity"] == "fault"
                        && !["clocked-down", "ecc-off"].contains(&f["kind"].as_str().unwrap())
                        && strings(f, "slots").contains(&slot)
                })
        };
        hosts.iter().filter(here).count()
    };
    for (product, machines) in [("Kestrel Twin", 23), ("Plover One", 18)] {
        assert!(main.contains(&format!("{product}, {machines} machines")), "{main}");
    }
    let says = |slot: &str, count: usize, machines: usize| {
        let label = format!("{slot}: at fault on {count} of {machines} machines");
        all(overview, "g.slot").iter().any(|g| g.value().attr("aria-label").unwrap().ends_with(&label))
    };
    for (slot, product, machines) in
        [("s1.c3.p1", "Plover One", 18), ("s1.c1.p1", "Plover One", 18), ("s2.c1.p3", "Kestrel Twin", 23)]
    {
        assert!(says(slot, faulty(slot, product), machines), "{slot} {}", faulty(slot, product));
    }
    assert_eq!(faulty("s1.c3.p1", "Plover One"), 3);
}

/// A folder with something in it is left alone; a name that ends as a page does is one page.
#[test]
fn a_full_folder_is_left_alone_and_a_page_is_one_file() {
    let work = tempfile::tempdir().unwrap();
    let pages = work.path().join("pages");
    whole_pallet("html").arg("--output").arg(&pages).assert().code(2);
    let again = whole_pallet("html").arg("--output").arg(&pages).assert().code(2);
    assert!(stderr(&again).contains("already exists and is not empty"));
    let one = work.path().join("one.html");
    whole_pallet("html").arg("--output").arg(&one).assert().code(2);
    let printed = whole_pallet("html").assert().code(2);
    assert_eq!(std::fs::read(&one).unwrap(), printed.get_output().stdout);
    assert!(!stdout(&printed).contains("data-pages"));
}

/// With an earlier run beside it, the table has what changed, says so, and the boards are those of all hosts.
#[test]
fn a_page_of_changes_says_what_it_has() {
    let pallet = pallet::folder();
    let work = tempfile::tempdir().unwrap();
    let before = work.path().join("before.jsonl");
    let fleet = ["fleet", "listings", "--plans", "plans"];
    asfitted().current_dir(&pallet).args(fleet).arg("--json-lines").arg(&before).assert().code(2);
    let mut run = asfitted();
    run.current_dir(&pallet).args(fleet).arg("--baseline").arg(&before);
    let run = run.args(["--format", "html"]).assert().code(2);
    let page = Html::parse_document(&stdout(&run));
    assert!(embedded(&page, "hosts-data").is_empty());
    assert_eq!(text_of(all(&page, "#hosts")[0]), "Hosts that are new or different");
    let drawn: Vec<String> = all(&page, "figcaption").into_iter().map(text_of).collect();
    assert!(!drawn.is_empty() && drawn.iter().all(|title| !title.contains("without")), "{drawn:?}");
}

/// A board is drawn from all machines of its product: the first one's listing may be cut.
#[test]
fn boards_of_a_fleet_are_whole() {
    let pallet = pallet::folder();
    let work = tempfile::tempdir().unwrap();
    let whole = std::fs::read_to_string(pallet.join("listings/bay02.txt")).unwrap();
    let drawn = |first: &str, second: &str| {
        std::fs::write(work.path().join("a.txt"), first).unwrap();
        std::fs::write(work.path().join("b.txt"), second.replace("WM", "XM")).unwrap();
        let run = asfitted()
            .current_dir(&pallet)
            .args(["fleet", "--plans", "plans/kestrel.yaml", "--format", "html"])
            .arg(work.path())
            .assert();
        let page = Html::parse_document(&stdout(&run));
        let titles: Vec<String> = all(&page, "figcaption").into_iter().map(text_of).collect();
        (titles, all(&page, ".board .label").into_iter().map(text_of).collect::<Vec<_>>())
    };
    let cut = whole.find("Locator: s1.c2.p1").unwrap();
    let cut = whole[..cut].rfind("Handle").unwrap();
    let (titles, slots) = drawn(&whole[..cut], &whole);
    assert_eq!(titles, ["socket 1", "socket 2"]);
    assert_eq!(slots.len(), 18);
    assert!(slots.is_sorted(), "{slots:?}");
    assert_eq!(drawn(&whole, &whole[..cut]), (titles, slots));
}

/// A run that fails leaves no folder behind, so that it can be repeated.
#[test]
#[cfg(unix)]
fn a_failed_run_leaves_no_folder() {
    let pallet = pallet::folder();
    let work = tempfile::tempdir().unwrap();
    let run = |table: &str, folder: &str| {
        asfitted()
            .current_dir(&pallet)
            .args([
                "fleet",
                "listings",
                "--plans",
                "plans",
                "--format",
                "html",
                "--hosts-table",
                table,
                "--output",
            ])
            .arg(work.path().join(folder))
            .assert()
            .code(2)
    };
    // Before anything is read, and in the middle.
    assert!(stderr(&run("/nonexistent/table.csv", "new")).contains("cannot be written"));
    assert!(stderr(&run("/dev/full", "new")).contains("cannot be written"));
    assert!(!work.path().join("new").exists());
    std::fs::create_dir(work.path().join("old")).unwrap();
    run("/dev/full", "old");
    assert_eq!(std::fs::read_dir(work.path().join("old")).unwrap().count(), 0);
    run("/dev/null", "new");
    assert!(work.path().join("new/hosts/000044.html").exists());
}

/// Pages that lie among the listings are not listings.
#[test]
fn a_folder_of_pages_is_not_audited() {
    let work = tempfile::tempdir().unwrap();
    let listing = pallet::folder().join("listings/bay01.txt");
    std::fs::copy(listing, work.path().join("bay01.txt")).unwrap();
    let plans = pallet::folder().join("plans");
    let run = asfitted()
        .current_dir(work.path())
        .args(["fleet", ".", "--subset", "--format", "html", "--output", "pages", "--plans"])
        .arg(plans)
        .assert();
    run.code(0);
    let overview = std::fs::read_to_string(work.path().join("pages/index.html")).unwrap();
    assert_eq!(embedded(&Html::parse_document(&overview), "hosts-data").len(), 1);
}
