//! The report and the work order, as they are read and printed.

use assert_cmd::Command;

use crate::util::command::{Bench, asfitted, json, plan_from, stdout};

#[test]
fn the_report_says_what_where_and_what_next_in_that_order() {
    let text = stdout(&asfitted().arg("demo").assert());
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}"));
    assert!(text.starts_with("DEVIATES"));
    let order = ["DEVIATES", "Work, in this order", "Where it is", "What was found", "!not-running"];
    assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])));
    // Before the first step.
    let first = at("1. reseat");
    for caution in ["service manual", "qualified", "mains plug", "standby light", "ESD", "cool", "no force"] {
        let words: Vec<&str> = text[..first].split_whitespace().collect();
        assert!(words.join(" ").contains(caution), "{caution}");
    }
    for line in text.lines() {
        assert!(unicode_width::UnicodeWidthStr::width(line) <= 80, "{line}");
    }
}

/// A terminal of 80 columns and 40 rows shows the last 40 lines of what was printed.
#[test]
fn what_to_do_is_seen_without_scrolling() {
    const ROWS: usize = 40;
    let brief = stdout(&asfitted().args(["demo", "--brief"]).assert().code(1));
    assert!(brief.lines().count() < ROWS, "{brief}");
    assert!(brief.starts_with("DEVIATES") && brief.trim_end().ends_with("s2.c3.p3 -"), "{brief}");
    let usual = stdout(&asfitted().arg("demo").assert().code(1));
    assert!(usual.starts_with(&brief), "the rest follows what is brief");
    let lines: Vec<&str> = usual.lines().collect();
    let seen = lines[lines.len() - (ROWS - 1)..].join("\n");
    for step in 1..=7 {
        assert!(seen.contains(&format!("\n  {step}. ")), "step {step} is not in\n{seen}");
    }
}

#[test]
fn in_full_it_has_all_evidence_causes_and_cautions() {
    let full = stdout(&asfitted().args(["demo", "--verbose"]).assert().code(1));
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let full = words(&full);
    let json = json(&asfitted().args(["demo", "--format", "json"]).assert().code(1));
    for finding in json["findings"].as_array().unwrap() {
        assert!(full.contains(&words(finding["summary"].as_str().unwrap())), "{finding}");
        for evidence in finding["evidence"].as_array().unwrap() {
            let line = format!("line {} {}", evidence["line"], words(evidence["text"].as_str().unwrap()));
            assert!(full.contains(&line), "{line}");
        }
        for cause in finding["causes"].as_array().unwrap() {
            for key in ["cause", "why", "check"] {
                assert!(full.contains(&words(cause[key].as_str().unwrap())), "{cause}");
            }
        }
    }
    for caution in ["service manual", "mains plug", "ESD", "cool", "key notch", "latches"] {
        assert!(full.contains(caution), "{caution}");
    }
    asfitted().args(["demo", "--brief", "--verbose"]).assert().code(2);
}

#[test]
fn the_work_order_is_written_to_be_printed() {
    let bench = Bench::new();
    let hostile = bench.read("listing.txt").replace("WW8-2R8-1066L", "WW8\u{1b}[2J\u{202e}");
    let listing = bench.write("hostile.txt", hostile.replace("Kestrel Twin", "Kestrel \u{9b}31m Twin"));
    let plan = bench.read("plan.yaml").replace("product: Kestrel Twin", "serial: WW-KT-0042");
    let plan = bench.write("hostile.yaml", plan);
    let file = bench.path("work.txt");
    let with = |command: &mut Command| stdout(&command.env("CLICOLOR_FORCE", "1").assert().code(1));
    let report = with(asfitted().arg("audit").arg(&listing).arg("--plan").arg(&plan));
    let again = with(asfitted().arg("audit").arg(&listing).arg("--plan").arg(&plan).arg("--work").arg(&file));
    assert_eq!(report, again);
    let text = bench.read("work.txt");
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}\n{text}"));
    let order = [
        "WORK ORDER",
        "plan      Kestrel Twin, 192 GiB",
        "WW-KT-0042",
        "6 hand movements in 6 steps",
        "\nbring     2 x 16GB 2Rx4 PC3L-10600R, part WW16-2R4-1333L",
        "Before you open",
        "  [ ]  1. reseat the module in s1.c3.p2",
        "  [ ]  3. move the module (16 GiB, WW16-2R4-1333L, serial 000051F4) from",
        "          s2.c1.p3 to s2.c1.p2",
        "socket 1",
        "Afterwards",
        "audit it",
        "  name    ___",
        "  date    ___",
        "  result  ___",
    ];
    assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])), "{text}");
    assert_eq!(text.matches("mains plug").count(), 1);
    assert!(
        !text.contains('`') && text.contains("take a new listing as root: \"dmidecode > FILE\""),
        "{text}"
    );
    assert!(!text.contains(['\u{1b}', '\u{202e}', '\u{9b}']), "{text}");
    assert!(text.lines().all(|line| unicode_width::UnicodeWidthStr::width(line) <= 80));
    let claim = ["--fitted", "12 x 16GB 2Rx4 PC3L-10600R", "--work"];
    asfitted().arg("diagnose").arg(&listing).args(claim).arg(&file).assert().code(1);
    assert!(bench.read("work.txt").starts_with("WORK ORDER\n"));
    let derived = plan_from(&listing);
    let derived = bench.write("derived.yaml", derived);
    asfitted()
        .arg("audit")
        .arg(&listing)
        .arg("--plan")
        .arg(derived)
        .arg("--work")
        .arg(&file)
        .assert()
        .code(0);
    assert!(bench.read("work.txt").contains("no physical repair needed"));
    let nowhere = bench.path("no/where.txt");
    asfitted()
        .arg("audit")
        .arg(&listing)
        .arg("--plan")
        .arg(&plan)
        .arg("--work")
        .arg(nowhere)
        .assert()
        .code(2);
}
