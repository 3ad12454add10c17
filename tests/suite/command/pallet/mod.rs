//! The invented pallet under `fixtures/pallet`: forty servers of two invented models with a fault of every kind
//! planted among them. The files are made by this module and compared with it; what a fleet audit says of them is
//! checked against the list of what was planted, and line by line against `summary.txt`.
//!
//! To make the files anew: `ASFITTED_WRITE_FIXTURES=1 cargo test --test suite pallet`.

mod decisions;
mod files;
mod planted;
mod server;

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde_json::Value;

use self::files::files;
use self::planted::planted;
use crate::util::archive::{gzip, ustar_of};
use crate::util::command::{asfitted, json_lines};
use crate::util::pallet::{fleet, folder};

#[test]
fn the_files_are_those_that_are_made_here() {
    let write = std::env::var_os("ASFITTED_WRITE_FIXTURES").is_some();
    let mut there = BTreeSet::new();
    for (name, content) in files() {
        let path = folder().join(&name);
        if write {
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &content).unwrap();
        }
        let now = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(now == content, "{name} is not what is made here");
        there.insert(name);
    }
    for part in ["listings", "plans"] {
        for entry in std::fs::read_dir(folder().join(part)).unwrap() {
            let name = format!("{part}/{}", entry.unwrap().file_name().to_str().unwrap());
            assert!(there.contains(&name), "{name} is not made here");
        }
    }
}

/// Each server comes out as planted: verdict, findings, slots, and nothing else.
#[test]
fn every_planted_fault_is_found_and_nothing_else() {
    let output = fleet().args(["--format", "json"]).assert().code(2);
    let lines = json_lines(&output.get_output().stdout);
    let planted = planted();
    assert_eq!(lines.len(), planted.len() + 1);
    for (line, planted) in lines.iter().zip(&planted) {
        assert_eq!(line["listing"]["name"], format!("listings/{}", planted.file));
        let (verdict, findings) = &planted.truth;
        if *verdict == "not-audited" {
            assert_eq!(line["format"], "asfitted.not-audited", "{}", planted.file);
            assert!(line["reason"].as_str().unwrap().contains("found "), "{line}");
            continue;
        }
        assert_eq!(
            (line["format"].as_str(), line["verdict"].as_str()),
            (Some("asfitted.audit"), Some(*verdict)),
            "{}: {:#}",
            planted.file,
            line["findings"]
        );
        let got = line["findings"].as_array().unwrap();
        assert_eq!(got.len(), findings.len(), "{}: {got:#?}", planted.file);
        for (kind, slots) in findings {
            let fits = |f: &&Value| {
                let own = f["slots"].as_array().unwrap();
                f["kind"] == *kind
                    && (slots.is_empty() || *own == slots.iter().map(|s| Value::from(*s)).collect::<Vec<_>>())
            };
            assert!(got.iter().any(|f| fits(&f)), "{}: no {kind} {slots:?} in {got:#?}", planted.file);
        }
    }
}

/// What became of every stick that was moved, lost, doubled or not in the stock.
#[test]
fn every_stick_is_accounted_for() {
    let output = fleet().args(["--format", "json"]).assert().code(2);
    let lines = json_lines(&output.get_output().stdout);
    let stock = &lines.last().unwrap()["stock"];
    assert_eq!((stock["given"].as_bool(), stock["placeholders"].as_u64()), (Some(true), Some(1)));
    assert_eq!(stock["without_serial"], 4);
    let of = |kind: &str| -> BTreeSet<String> {
        let all = stock["findings"].as_array().unwrap().iter().filter(|f| f["kind"] == kind);
        all.map(|f| f["serial"].as_str().unwrap().to_owned()).collect()
    };
    let set = |serials: &[&str]| serials.iter().map(|s| (*s).to_owned()).collect::<BTreeSet<String>>();
    assert_eq!(of("duplicate-serial"), set(&["WM300001", "SHELF001"]));
    assert_eq!(of("elsewhere"), set(&["WM320000", "WM330000"]));
    // One module added to bay06, one stranger in bay34.
    assert_eq!(of("not-in-stock"), set(&["WM069999", "STRANGER1"]));
    // In bay05 and bay17 others with the same serial number and another part number.
    assert_eq!(of("other-part"), set(&["WM050004", "WM170000"]));
    // Gone: bay02, bay12 (two), bay19 (two), bay22/24/25 (one each), bay31 and bay34 (replaced).
    let mut gone = set(&["WM020009", "WM120002", "WM120003", "WM190010", "WM190011"]);
    gone.extend(["WM220002", "WM240002", "WM250002", "WM310001", "WM340003"].map(str::to_owned));
    assert_eq!(of("unaccounted"), gone);
    // What may be behind the absent processor of bay10, in a server that states no serial numbers or could not be read, or whose record was lost.
    let mut unproven: BTreeSet<String> = (0..4).map(|n| format!("WM35{n:04}")).collect();
    unproven.extend((0..12).map(|n| format!("WM43{n:04}")));
    unproven.extend((6..12).map(|n| format!("WM10{n:04}")));
    unproven.extend(["WM420010", "WM420011", "SHELF001"].map(str::to_owned));
    assert_eq!(of("unproven"), unproven);
}

/// The summary for a person, line by line.
#[test]
fn the_summary_says_it_line_by_line() {
    let output = fleet().assert().code(2);
    let got = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    let path = folder().join("summary.txt");
    if std::env::var_os("ASFITTED_WRITE_FIXTURES").is_some() {
        std::fs::write(&path, &got).unwrap();
    }
    let want = std::fs::read_to_string(&path).unwrap();
    for (number, (got, want)) in got.lines().zip(want.lines()).enumerate() {
        assert_eq!(got, want, "line {}", number + 1);
    }
    assert_eq!(got.lines().count(), want.lines().count());
    // What one host explains is one line; the headline counts what is not explained.
    assert!(got.contains("6 modules allotted to bay10: each is not seen; a processor is absent"), "{got}");
    assert!(got.contains("12 modules allotted to bay43"), "{got}");
    assert!(got.contains("MAY SHIP; 16 MODULES ARE NOT"), "{got}");
    // The figures are those of what was planted.
    let count = |verdict: &str| planted().iter().filter(|planted| planted.truth.0 == verdict).count();
    for verdict in ["as-planned", "deviates", "unproven", "not-audited"] {
        assert!(got.contains(&format!("  {verdict:<12}{} ", count(verdict))), "{verdict}: {got}");
    }
    assert!(got.contains("missing in s1.c3.p1 on 3 of"), "{got}");
    assert!(got.contains("part PL32-2R4-2666B runs slow on all 3 machines"), "{got}");
}

/// One thread and many give the same bytes in every output.
#[test]
fn the_number_of_threads_changes_nothing() {
    let run = |jobs: &str| -> Vec<Vec<u8>> {
        let out = tempfile::tempdir().unwrap();
        let file = |name: &str| out.path().join(name).to_str().unwrap().to_owned();
        let names = ["lines", "findings.csv", "hosts.csv", "tests.xml", "metrics"];
        let files = names.map(file);
        let output = fleet()
            .args(["--jobs", jobs, "--json-lines", &files[0], "--findings-table", &files[1]])
            .args(["--hosts-table", &files[2], "--test-report", &files[3], "--metrics", &files[4]])
            .assert()
            .code(2);
        let mut all = vec![output.get_output().stdout.clone()];
        all.extend(names.map(|name| std::fs::read(out.path().join(name)).unwrap()));
        // Nothing half written stays beside.
        assert_eq!(std::fs::read_dir(out.path()).unwrap().count(), names.len());
        all
    };
    let one = run("1");
    assert!(one.iter().all(|output| !output.is_empty()));
    for jobs in ["2", "7"] {
        assert!(run(jobs) == one, "{jobs} jobs");
    }
}

/// The same pallet as archive and as JSON Lines gives the same outcomes.
#[test]
fn archives_and_lines_give_the_same() {
    let work = tempfile::tempdir().unwrap();
    let planted = planted();
    let names: Vec<String> = planted.iter().map(|one| format!("listings/{}", one.file)).collect();
    let contents = planted.iter().map(|one| one.content.as_bytes());
    let archive = ustar_of(&names.iter().map(String::as_str).zip(contents).collect::<Vec<_>>());
    let mut json = String::new();
    for one in &planted {
        let host = one.file.split('.').next().unwrap();
        let _ = writeln!(json, "{}", serde_json::json!({"host": host, "listing": one.content}));
    }
    std::fs::write(work.path().join("pallet.tar.gz"), gzip(&archive)).unwrap();
    std::fs::write(work.path().join("pallet.tar"), &archive).unwrap();
    let run = |input: &Path, stdin: Option<&str>| -> Vec<Value> {
        let mut command = asfitted();
        command.current_dir(folder()).arg("fleet").arg(input).args([
            "--plans",
            "plans",
            "--stock",
            "stock.csv",
        ]);
        command.args(["--format", "json"]);
        let output = match stdin {
            Some(text) => command.write_stdin(text).assert().code(2),
            None => command.assert().code(2),
        };
        json_lines(&output.get_output().stdout)
    };
    let plain = json_lines(&fleet().args(["--format", "json"]).assert().code(2).get_output().stdout);
    let facts = |line: &Value| (line["format"].clone(), line["verdict"].clone(), line["findings"].clone());
    for (input, stdin) in [
        (work.path().join("pallet.tar"), None),
        (work.path().join("pallet.tar.gz"), None),
        (PathBuf::from("-"), Some(json.as_str())),
    ] {
        let other = run(&input, stdin);
        assert_eq!(other.len(), plain.len());
        for (a, b) in plain.iter().zip(&other) {
            assert_eq!(facts(a), facts(b), "{}", a["listing"]["name"]);
        }
        let counts = |lines: &[Value]| lines.last().unwrap()["stock"]["findings"].as_array().unwrap().len();
        assert_eq!(counts(&plain), counts(&other));
    }
}

/// Only what changed since an earlier run.
#[test]
fn a_baseline_leaves_what_changed() {
    let work = tempfile::tempdir().unwrap();
    let listings = work.path().join("listings");
    std::fs::create_dir(&listings).unwrap();
    for name in ["bay01.txt", "bay02.txt", "bay03.txt"] {
        std::fs::copy(folder().join("listings").join(name), listings.join(name)).unwrap();
    }
    let run = |extra: &[&str], code| {
        let mut command = asfitted();
        command
            .current_dir(work.path())
            .args(["fleet", "listings", "--subset", "--plans"])
            .arg(folder().join("plans"));
        command.args(extra).assert().code(code).get_output().stdout.clone()
    };
    run(&["--json-lines", "before.jsonl"], 1);
    let same = String::from_utf8(run(&["--baseline", "before.jsonl"], 1)).unwrap();
    assert!(same.contains("Changed since before.jsonl\n  nothing"), "{same}");
    // Another way to write the path, and another folder.
    let elsewhere = work.path().join("elsewhere");
    std::fs::create_dir(&elsewhere).unwrap();
    for name in ["bay01.txt", "bay02.txt", "bay03.txt"] {
        // By its machine, whatever it is called; those without a serial number by their names.
        let text = std::fs::read_to_string(listings.join(name)).unwrap();
        std::fs::write(elsewhere.join(name), text).unwrap();
    }
    std::fs::rename(elsewhere.join("bay01.txt"), elsewhere.join("renamed.txt")).unwrap();
    for path in ["./listings", "elsewhere"] {
        let mut command = asfitted();
        command.current_dir(work.path()).args(["fleet", path, "--subset", "--plans"]);
        command.arg(folder().join("plans")).args(["--baseline", "before.jsonl"]);
        let same = String::from_utf8(command.assert().code(1).get_output().stdout.clone()).unwrap();
        assert!(same.contains("Changed since before.jsonl\n  nothing"), "{same}");
    }
    std::fs::copy(folder().join("listings/bay01.txt"), listings.join("bay02.txt")).unwrap();
    std::fs::remove_file(listings.join("bay03.txt")).unwrap();
    std::fs::copy(folder().join("listings/bay04.txt"), listings.join("bay04.txt")).unwrap();
    let lines = json_lines(&run(&["--baseline", "before.jsonl", "--format", "json"], 1));
    let names: Vec<&str> = lines.iter().filter_map(|line| line["listing"]["name"].as_str()).collect();
    assert_eq!(names, ["listings/bay02.txt", "listings/bay04.txt"]);
    let changes = &lines.last().unwrap()["changes"];
    assert_eq!(changes["changed"], serde_json::json!(["listings/bay02.txt"]));
    assert_eq!(changes["new"], serde_json::json!(["listings/bay04.txt"]));
    assert_eq!(changes["gone"], serde_json::json!(["listings/bay03.txt"]));
    std::fs::write(work.path().join("odd"), "no JSON\n").unwrap();
    run(&["--baseline", "odd"], 2);
}
