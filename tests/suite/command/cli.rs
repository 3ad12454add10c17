//! The command as its users meet it: exit codes, inputs, errors.

use std::io::Write;
use std::process::{Command as Process, Stdio};

use crate::util::command::{Bench, asfitted, audit, json, plan_from, stderr, stdout};

#[test]
fn the_demo_names_its_six_faults() {
    let json = json(&asfitted().args(["demo", "--format", "json"]).assert().code(1));
    let found: Vec<(&str, &str)> = json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["kind"].as_str().unwrap(), f["slot"].as_str().unwrap()))
        .collect();
    let want = [
        ("not-running", "s1.c3.p2"),
        ("missing", "s1.c2.p2"),
        ("wrong-slot", "s2.c1.p3"),
        ("wrong-module", "s2.c3.p1"),
        ("clocked-down", "s1.c1.p1"),
        ("unplanned", "s2.c2.p3"),
    ];
    assert_eq!(found, want);
    assert_eq!(json["findings"][2]["other_slot"], "s2.c1.p2");
    assert_eq!(json["verdict"], "deviates");
}

#[test]
fn exit_codes() {
    let bench = Bench::new();
    let (listing, plan) = (bench.path("listing.txt"), bench.path("plan.yaml"));
    audit(&listing, &plan).code(1);
    let derived = plan_from(&listing);
    let derived = bench.write("derived.yaml", derived);
    audit(&listing, &derived).code(0);
    let old = bench
        .read("listing.txt")
        .replace("Configured Memory Speed: 1066 MT/s", "Configured Memory Speed: Unknown");
    let old = bench.write("old.txt", old);
    audit(&old, &derived).code(3);
    // No listing proves a chip width.
    let width = "fit:\n  - module: {size: 16 GiB, width: 4}\n    slots: [s1.c1.p1]\nidle: [s1.c3.p2]\n";
    audit(&listing, &bench.write("width.yaml", width)).code(3);
    audit(&bench.path("nowhere.txt"), &derived).code(2);
    audit(&listing, &bench.write("bad.yaml", "fit: 5")).code(2);
    asfitted().arg("audit").arg(&listing).assert().code(2);
    asfitted().arg("fly").assert().code(2);
    asfitted().arg("--help").assert().code(0);
    asfitted().arg("show").arg(&listing).assert().code(0);
    asfitted().arg("compare").arg(&listing).arg(&listing).assert().code(0);
    asfitted().arg("compare").arg(&listing).arg(&old).assert().code(1);
    asfitted().arg("compare").arg(&plan).arg(&listing).assert().code(1);
    asfitted().arg("compare").arg(&derived).arg(&listing).assert().code(0);
}

#[test]
fn standard_input_gzip_and_output_files() {
    let bench = Bench::new();
    let text = bench.read("listing.txt");
    let plain = stdout(&asfitted().args(["show", "-"]).write_stdin(text.clone()).assert().code(0));
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    gzip.write_all(text.as_bytes()).unwrap();
    let packed = gzip.finish().unwrap();
    assert_eq!(stdout(&asfitted().args(["show", "-"]).write_stdin(packed).assert().code(0)), plain);
    let file = bench.path("out.txt");
    let assert = asfitted().args(["show", "-", "--output"]).arg(&file).write_stdin(text).assert().code(0);
    assert_eq!(stdout(&assert), "");
    assert_eq!(bench.read("out.txt"), plain);
    asfitted().args(["audit", "-", "--plan", "-"]).write_stdin("x").assert().code(2);
}

#[test]
fn colour_reaches_terminals_only() {
    let plain = stdout(&asfitted().arg("demo").assert());
    assert!(!plain.contains('\x1b'));
    let forced = stdout(&asfitted().arg("demo").env("CLICOLOR_FORCE", "1").assert());
    assert!(forced.contains('\x1b'));
    let refused = stdout(&asfitted().arg("demo").env("CLICOLOR_FORCE", "1").env("NO_COLOR", "1").assert());
    assert_eq!(refused, plain);
    let bench = Bench::new();
    let file = bench.path("out.txt");
    asfitted().args(["demo", "--output"]).arg(&file).env("CLICOLOR_FORCE", "1").assert().code(1);
    assert_eq!(bench.read("out.txt"), plain);
}

#[test]
fn hostile_text_is_shown_not_obeyed() {
    let bench = Bench::new();
    let listing = bench.read("listing.txt").replace("WW8-2R8-1066L", "WW8\u{1b}[2J\u{202e}\u{9b}31m");
    let listing = bench.write("hostile.txt", listing);
    let assert = audit(&listing, &bench.path("plan.yaml"));
    let text = stdout(&assert);
    assert!(text.contains("WW8<1B>[2J<202E><9B>31m"), "{text}");
    assert!(!text.contains(['\u{1b}', '\u{202e}', '\u{9b}']));
    let bad = bench.write("p\u{1b}.yaml", "fit: [");
    assert!(!stderr(&audit(&listing, &bad)).contains('\u{1b}'));
}

#[test]
fn a_closed_pipe_ends_quietly() {
    let mut child = Process::new(env!("CARGO_BIN_EXE_asfitted"))
        .arg("demo")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn errors_name_file_line_found_expected_and_advice() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let plan = bench.read("plan.yaml").replace("- s1.c1.p2", "- s1-c1-p2");
    let plan = bench.write("typo.yaml", plan);
    let message = stderr(&audit(&listing, &plan).code(2));
    for part in ["typo.yaml:11:", "slot `s1-c1-p2`", "one of s1.c1.p1", "Did you mean `s1.c1.p2`?"] {
        assert!(message.contains(part), "{message}");
    }
    let other = bench.write("other.yaml", "machine: {serial: OTHER}\nempty: [s1.c1.p3]\n");
    let message = stderr(&audit(&listing, &other).code(2));
    for part in ["other.yaml", "machine: serial: OTHER", "WW-KT-0042", "line"] {
        assert!(message.contains(part), "{message}");
    }
    let nothing = bench.write("nothing.txt", "hello\nworld\n");
    let message = stderr(&asfitted().arg("show").arg(nothing).assert().code(2));
    for part in ["nothing.txt", "line 1", "no SMBIOS record", "expected", "dmidecode"] {
        assert!(message.contains(part), "{message}");
    }
    let dump = bench.write("dump.bin", b"_SM3_\x18\x00");
    let message = stderr(&asfitted().arg("show").arg(dump).assert().code(2));
    assert!(message.contains("raw SMBIOS table") && message.contains("--dump-bin"), "{message}");
}

#[test]
fn a_file_with_two_machines_asks_which() {
    let bench = Bench::new();
    let one = bench.read("listing.txt");
    let two = bench.write("two.txt", format!("{one}{}", one.replace("Size: 8 GB", "Size: 4 GB")));
    let message = stderr(&asfitted().arg("show").arg(&two).assert().code(2));
    assert!(message.contains("2 listings") && message.contains("--nth"), "{message}");
    let text = stdout(&asfitted().arg("show").arg(&two).args(["--nth", "2"]).assert().code(0));
    assert!(text.starts_with("152 GiB in 11 of 18 slots"), "{text}");
    asfitted().arg("show").arg(&two).args(["--nth", "3"]).assert().code(2);
    let same = bench.write("same.txt", format!("{one}{one}"));
    let text = stdout(&asfitted().arg("show").arg(same).assert().code(0));
    assert!(text.starts_with("156 GiB in 11 of 18 slots"), "{text}");
}

#[test]
fn comparison_marks_changed_characters() {
    let bench = Bench::new();
    let after = bench.read("listing.txt").replacen("WW16-2R4-1333L", "WW16-2R4-1600L", 1);
    let after = bench.write("after.txt", after);
    let text = stdout(&asfitted().arg("compare").arg(bench.path("listing.txt")).arg(&after).assert().code(1));
    let lines: Vec<&str> = text.lines().collect();
    let at = lines.iter().position(|line| line.ends_with("after   WW16-2R4-1600L")).unwrap();
    let marks: Vec<char> = lines[at + 1].chars().collect();
    let marked: String = lines[at].chars().zip(marks).filter(|(_, m)| *m == '^').map(|(c, _)| c).collect();
    assert_eq!(marked, "600");
    let result = json(
        &asfitted()
            .arg("compare")
            .arg(bench.path("listing.txt"))
            .arg(&after)
            .args(["--format", "json"])
            .assert(),
    );
    assert_eq!(result["format"], "asfitted.comparison");
    assert_eq!(result["changes"][0]["fields"][0]["field"], "part");
}

#[test]
fn completions_and_man_page_come_from_the_definition() {
    for shell in ["bash", "zsh", "fish"] {
        let text = stdout(&asfitted().args(["generate", "completions", shell]).assert().code(0));
        assert!(text.contains("audit") && text.contains("compare"), "{shell}");
    }
    let page = stdout(&asfitted().args(["generate", "man"]).assert().code(0));
    assert!(page.contains(".TH asfitted") && page.contains("audit"));
    assert!(stdout(&asfitted().arg("--help").assert()).contains("generate"));
}
