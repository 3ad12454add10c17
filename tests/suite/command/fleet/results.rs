//! What a fleet writes: rights, places, formats, and what a run that is stopped leaves.

use std::io::Write;
use std::path::Path;
use std::process::{Command as Process, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::util::command::{asfitted, json_lines};
use crate::util::pallet::{self, good};
use crate::util::path;

/// A result that replaces a file has that file's rights, a new one those of any new file.
#[test]
fn results_have_the_usual_rights() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let rights = |name: &str| at(name).metadata().unwrap().permissions().mode() & 0o777;
    std::fs::write(at("listing.txt"), good()).unwrap();
    std::fs::write(at("any"), "").unwrap();
    for name in ["private.json", "hosts.csv"] {
        std::fs::write(at(name), "").unwrap();
        std::fs::set_permissions(at(name), PermissionsExt::from_mode(0o600)).unwrap();
    }
    asfitted()
        .current_dir(folder.path())
        .args([
            "fleet",
            "listing.txt",
            "--subset",
            "--hosts-table",
            "hosts.csv",
            "--findings-table",
            "new.csv",
            "--plans",
        ])
        .arg(pallet::folder().join("plans"))
        .args(["--format", "json", "--output", "private.json"])
        .assert()
        .code(0);
    assert!(std::fs::read(at("private.json")).unwrap().starts_with(b"{"));
    assert_eq!(
        (rights("private.json"), rights("hosts.csv"), rights("new.csv")),
        (0o600, 0o600, rights("any"))
    );
}

/// No result takes the place of what it was made of, nor of another result.
#[test]
fn results_take_no_inputs_place() {
    let folder = tempfile::tempdir().unwrap();
    let stock = "serial\nX1\n";
    std::fs::write(folder.path().join("stock.csv"), stock).unwrap();
    std::fs::write(folder.path().join("good.txt"), good()).unwrap();
    for extra in [
        ["--metrics", "stock.csv", "--hosts-table", "h"],
        ["--json-lines", "./good.txt", "--hosts-table", "h"],
        ["--findings-table", "same", "--hosts-table", "same"],
    ] {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "good.txt", "--stock", "stock.csv", "--plans"]);
        let output = command.arg(pallet::folder().join("plans")).args(extra).assert().code(2);
        let said = String::from_utf8(output.get_output().stderr.clone()).unwrap();
        assert!(said.contains("Name another file"), "{said}");
    }
    assert_eq!(std::fs::read_to_string(folder.path().join("stock.csv")).unwrap(), stock);
    assert_eq!(std::fs::read(folder.path().join("good.txt")).unwrap(), good());
}

/// What else a run writes is read by other readers than ours: a JSON Schema validator, an XML reader, a CSV
/// reader, a parser of OpenMetrics.
/// Long, since it reads every output of one run.
#[test]
fn outputs_are_what_they_claim_to_be() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut command = pallet::fleet();
    for (option, name) in [
        ("--json-lines", "lines"),
        ("--findings-table", "findings.csv"),
        ("--hosts-table", "hosts.csv"),
        ("--inventory", "inventory.csv"),
        ("--test-report", "tests.xml"),
        ("--metrics", "metrics"),
    ] {
        command.arg(option).arg(at(name));
    }
    command.assert().code(2);
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap();
    let lines: Vec<Value> = json_lines(read("lines").as_bytes());
    for line in &lines {
        let name = line["format"].as_str().unwrap().strip_prefix("asfitted.").unwrap();
        valid(line, &path(&format!("schemas/{name}.schema.json")));
    }
    let hosts = lines.len() - 1;
    let findings: usize = lines.iter().filter_map(|line| line["findings"].as_array()).map(Vec::len).sum();
    let mut table = csv::Reader::from_path(at("hosts.csv")).unwrap();
    assert_eq!(table.headers().unwrap().get(1), Some("verdict"));
    assert_eq!(table.records().filter(|row| row.as_ref().unwrap().len() == 26).count(), hosts);
    let rows = csv::Reader::from_path(at("findings.csv")).unwrap().into_records().count();
    let unread = lines.iter().filter(|line| line["format"] == "asfitted.not-audited").count();
    let stock = lines[hosts]["stock"]["findings"].as_array().unwrap().len();
    assert_eq!(rows, findings + unread + stock);
    // One name and one short name of a host in all tables; sizes that people read beside those that programs read.
    let names = |table: &str| -> std::collections::BTreeSet<(String, String)> {
        let mut table = csv::Reader::from_path(at(table)).unwrap();
        let short = table.headers().unwrap().iter().position(|name| name == "short_name").unwrap();
        let rows = table.records().map(Result::unwrap);
        rows.map(|row| (row[0].to_owned(), row[short].to_owned()))
            .filter(|(host, _)| !host.is_empty())
            .collect()
    };
    let all = names("hosts.csv");
    assert!(all.contains(&("listings/bay05.txt".to_owned(), "bay05".to_owned())));
    assert_eq!(names("inventory.csv"), all);
    assert!(names("findings.csv").is_subset(&all), "{:?}", names("findings.csv").difference(&all));
    let mut inventory = csv::Reader::from_path(at("inventory.csv")).unwrap();
    let first = inventory.records().next().unwrap().unwrap();
    assert_eq!(
        first.iter().collect::<Vec<_>>(),
        [
            "listings/bay01.txt",
            "bay01",
            "s1.c1.p1",
            "fitted",
            "17179869184",
            "16",
            "DDR3",
            "RDIMM",
            "Wetherlam",
            "WW16-2R4-1333L",
            "WM010000",
            "1333"
        ]
    );
    let xml = read("tests.xml");
    let document = roxmltree::Document::parse(&xml).unwrap();
    let suite = document.descendants().find(|node| node.has_tag_name("testsuite")).unwrap();
    let count = |tag: &str| document.descendants().filter(|node| node.has_tag_name(tag)).count().to_string();
    for (attribute, tag) in
        [("tests", "testcase"), ("failures", "failure"), ("errors", "error"), ("skipped", "skipped")]
    {
        assert_eq!(suite.attribute(attribute), Some(count(tag).as_str()), "{attribute}");
    }
    let metrics = openmetrics_parser::openmetrics::parse_openmetrics(&read("metrics")).unwrap();
    assert!(metrics.families.contains_key("asfitted_fleet_hosts") && metrics.families.len() == 6);
}

fn valid(value: &Value, schema: &Path) {
    let mut schemas = boon::Schemas::new();
    let index = boon::Compiler::new().compile(schema.to_str().unwrap(), &mut schemas).unwrap();
    if let Err(error) = schemas.validate(value, index) {
        panic!("{}: {error:#}", value["listing"]["name"]);
    }
}

/// A name that a spreadsheet would calculate, and one that would end a cell or an element.
#[test]
fn hostile_names_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    let listing = String::from_utf8(good()).unwrap().replace("Kestrel Twin", "=1+1");
    std::fs::create_dir(folder.path().join("l")).unwrap();
    std::fs::write(folder.path().join("l/@cmd,\"<x>&.txt"), listing).unwrap();
    let mut command = asfitted();
    command.current_dir(folder.path().join("l")).args(["fleet", "@cmd,\"<x>&.txt", "--plans"]);
    command.arg(pallet::folder().join("plans")).args([
        "--hosts-table",
        "../hosts.csv",
        "--test-report",
        "../tests.xml",
    ]);
    command.assert().code(2);
    let mut table = csv::Reader::from_path(folder.path().join("hosts.csv")).unwrap();
    let row = table.records().next().unwrap().unwrap();
    assert_eq!(row.get(0), Some("'@cmd,\"<x>&.txt"));
    let xml = std::fs::read_to_string(folder.path().join("tests.xml")).unwrap();
    let document = roxmltree::Document::parse(&xml).unwrap();
    let case = document.descendants().find(|node| node.has_tag_name("testcase")).unwrap();
    assert_eq!(case.attribute("name"), Some("@cmd,\"<x>&.txt"));
}

/// A run that is stopped in the middle leaves no half-written result, and the old one stays.
#[cfg(unix)]
#[test]
fn a_stopped_run_leaves_no_half_result() {
    let folder = tempfile::tempdir().unwrap();
    let results = ["lines", "findings.csv", "hosts.csv", "tests.xml", "metrics"];
    let out = folder.path().join("out");
    std::fs::create_dir(&out).unwrap();
    for name in results {
        std::fs::write(out.join(name), "old\n").unwrap();
    }
    let mut process = Process::new(assert_cmd::cargo::cargo_bin("asfitted"));
    process.args(["fleet", "-", "--plans"]).arg(pallet::folder().join("plans"));
    for (option, name) in ["--json-lines", "--findings-table", "--hosts-table", "--test-report", "--metrics"]
        .into_iter()
        .zip(results)
    {
        process.arg(option).arg(out.join(name));
    }
    let mut child =
        process.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let mut input = child.stdin.take().unwrap();
    let listing = String::from_utf8(good()).unwrap();
    let line = serde_json::json!({"host": "bay01", "listing": listing}).to_string() + "\n";
    // Enough that results have been written beside, and the input stays open.
    for _ in 0..400 {
        input.write_all(line.as_bytes()).unwrap();
    }
    let deadline = Instant::now() + Duration::from_mins(1);
    let beside = || std::fs::read_dir(&out).unwrap().flatten().any(|e| e.metadata().unwrap().len() > 100_000);
    while !beside() {
        assert!(Instant::now() < deadline, "nothing is written beside");
        std::thread::sleep(Duration::from_millis(10));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    drop(input);
    for name in results {
        assert_eq!(std::fs::read_to_string(out.join(name)).unwrap(), "old\n", "{name}");
    }
}

/// Two runs into one folder of pages: the one that is done later fails, and takes nothing from the other.
#[cfg(unix)]
#[test]
fn two_runs_into_one_folder_leave_one_whole() {
    for is_new in [true, false] {
        let folder = tempfile::tempdir().unwrap();
        let pages = folder.path().join("pages");
        if !is_new {
            std::fs::create_dir(&pages).unwrap();
        }
        let run = |input: &str| {
            let mut process = Process::new(assert_cmd::cargo::cargo_bin("asfitted"));
            process.args(["fleet", input, "--subset", "--format", "html", "--output"]).arg(&pages);
            process.arg("--plans").arg(pallet::folder().join("plans"));
            process.stdout(Stdio::null()).stderr(Stdio::null());
            process
        };
        let mut slow = run("-").stdin(Stdio::piped()).spawn().unwrap();
        let deadline = Instant::now() + Duration::from_mins(1);
        let within = if is_new { folder.path() } else { &pages };
        let started = || std::fs::read_dir(within).unwrap().count() > 0;
        while !started() {
            assert!(Instant::now() < deadline, "nothing is written beside");
            std::thread::sleep(Duration::from_millis(10));
        }
        let listing = pallet::folder().join("listings/bay01.txt");
        assert_eq!(run(listing.to_str().unwrap()).status().unwrap().code(), Some(0));
        let whole = || (pages.join("index.html").is_file(), pages.join("hosts/000001.html").is_file());
        assert_eq!(whole(), (true, true));
        let before = std::fs::read(pages.join("index.html")).unwrap();
        slow.stdin.take().unwrap().write_all(&good()).unwrap();
        assert_eq!(slow.wait().unwrap().code(), Some(2));
        assert_eq!(whole(), (true, true));
        assert_eq!(std::fs::read(pages.join("index.html")).unwrap(), before);
        // Nothing half written stays beside.
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        assert_eq!(std::fs::read_dir(&pages).unwrap().count(), 2);
    }
}
