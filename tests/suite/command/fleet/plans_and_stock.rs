//! Plans, manifests, orders and stocks of a fleet.

use super::reason;
use crate::util::command::{asfitted, json_lines};
use crate::util::pallet::{self, good};

/// A bad plan, a bad manifest and a bad stock are named; a bad plan does not end the run.
#[test]
fn bad_plans_and_tables_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("plans")).unwrap();
    std::fs::copy(pallet::folder().join("plans/kestrel.yaml"), at("plans/kestrel.yaml")).unwrap();
    std::fs::write(at("plans/broken.yaml"), "fit: [\n").unwrap();
    std::fs::write(at("good.txt"), good()).unwrap();
    let fleet = |extra: &[&str]| {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "good.txt", "--plans", "plans"]).args(extra);
        command.output().unwrap()
    };
    let output = fleet(&[]);
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text.starts_with("1 OF 1 MAY SHIP") && text.contains("plans/broken.yaml:2: found"), "{text}");
    std::fs::remove_file(at("plans/broken.yaml")).unwrap();
    assert_eq!(fleet(&[]).status.code(), Some(0));
    for (name, content, words) in [
        ("m1.csv", "machine,file\na,b\n", "expected `host` and `plan`"),
        ("m2.csv", "host,plan\nbay01,a\nbay01,b\n", "line 3: found host `bay01` a second time"),
    ] {
        std::fs::write(at(name), content).unwrap();
        let output = fleet(&["--manifest", name]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code() == Some(2) && said.contains(words), "{said}");
    }
    std::fs::write(at("m3.csv"), "plan;host\nkestrel;good\n").unwrap();
    assert_eq!(fleet(&["--manifest", "m3.csv"]).status.code(), Some(0));
    std::fs::write(at("m4.csv"), "plan;host\nno-such;good\n").unwrap();
    let output = fleet(&["--manifest", "m4.csv"]);
    assert!(String::from_utf8(output.stdout).unwrap().contains("found no plan `no-such`"));
    std::fs::write(at("stock.csv"), "part,shelf\nx,1\n").unwrap();
    let output = fleet(&["--stock", "stock.csv"]);
    assert!(String::from_utf8(output.stderr).unwrap().contains("expected one called `serial`"));
}

/// A plan that orders modules without slots: each machine is held against the best placement nearest to it.
#[test]
fn order_lines_are_plans_too() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("plans")).unwrap();
    let board = pallet::folder().join("boards/kestrel.yaml");
    let plan = |count: u32| {
        format!(
            "machine: {{product: Kestrel Twin}}\nboard: {}\norder:\n  - count: {count}\n    module: {{size: 16 GB, ranks: 2, type: DDR3, kind: RDIMM, rated: 1333}}\n",
            board.display()
        )
    };
    for name in ["bay01.txt", "bay02.txt"] {
        std::fs::copy(pallet::folder().join("listings").join(name), at(name)).unwrap();
    }
    for (count, verdicts, code) in [
        (12, ["as-planned", "deviates"], 1),
        // One too many for the board.
        (19, ["null", "null"], 2),
    ] {
        std::fs::write(at("plans/order.yaml"), plan(count)).unwrap();
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "bay01.txt", "bay02.txt", "--plans", "plans"]);
        let output = command.args(["--format", "json"]).assert().code(code).get_output().stdout.clone();
        let lines = json_lines(&output);
        for (line, verdict) in lines.iter().zip(verdicts) {
            assert_eq!(line["verdict"].as_str().unwrap_or("null"), verdict, "{line:#}");
        }
        if count == 12 {
            assert_eq!(lines[1]["findings"][0]["kind"], "missing");
            assert_eq!(lines[1]["findings"][0]["slot"], "s2.c2.p2");
        } else {
            assert!(reason(&lines, "bay01.txt").contains("19 modules for 18 slots"));
        }
    }
}

/// Modules with one serial number and different part numbers are different modules; a quote that is not closed
/// swallows no rows.
#[test]
fn the_stock_minds_part_numbers_and_quotes() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bay01.txt"), good()).unwrap();
    let rows: String = (1..12).map(|n| format!("WM01{n:04},WW16-2R4-1333L,bay01\n")).collect();
    let fleet = |first: &str| {
        std::fs::write(folder.path().join("s.csv"), format!("serial,part,host\n{first}\n{rows}")).unwrap();
        let mut command = asfitted();
        command.current_dir(folder.path()).args([
            "fleet",
            "bay01.txt",
            "--subset",
            "--stock",
            "s.csv",
            "--plans",
        ]);
        command.arg(pallet::folder().join("plans")).output().unwrap()
    };
    assert_eq!(fleet("WM010000,WW16-2R4-1333L,bay01").status.code(), Some(0));
    assert_eq!(fleet("WM010000,,bay01").status.code(), Some(0));
    let output = fleet("WM010000,OTHER-PART,bay01");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.code() == Some(1) && text.contains("other-part (fault): 1"), "{text}");
    assert!(text.contains("with part WW16-2R4-1333L, the stock says OTHER-PART"), "{text}");
    assert!(!text.contains("unaccounted") && !text.contains("not-in-stock"), "{text}");
    // Two rows for two modules.
    let output = fleet("WM010000,WW16-2R4-1333L,bay01\nWM010000,OTHER-PART,");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(!text.contains("duplicate-serial") && text.contains("unaccounted (fault): 1"), "{text}");
    let output = fleet("WM010000,\"19 rack,bay01");
    assert!(String::from_utf8(output.stderr).unwrap().contains("s.csv: line 2: found a cell that runs over"));
}
