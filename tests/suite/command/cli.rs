//! The command as its users meet it: exit codes, forms, inputs, errors.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};

use assert_cmd::Command;
use serde_json::Value;

pub fn asfitted() -> Command {
    let mut command = Command::cargo_bin("asfitted").unwrap();
    command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    command
}

/// A folder with the demo's files.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        asfitted().args(["demo", "--files"]).arg(folder.path()).assert().code(0);
        Self { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, text).unwrap();
        path
    }
}

pub fn audit(listing: &Path, plan: &Path) -> assert_cmd::assert::Assert {
    asfitted().arg("audit").arg(listing).arg("--plan").arg(plan).assert()
}

pub fn stdout(assert: &assert_cmd::assert::Assert) -> String {
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

pub fn stderr(assert: &assert_cmd::assert::Assert) -> String {
    String::from_utf8(assert.get_output().stderr.clone()).unwrap()
}

pub fn json(assert: &assert_cmd::assert::Assert) -> Value {
    serde_json::from_slice(&assert.get_output().stdout).unwrap()
}

/// All keys of an object, in the order of the alphabet.
fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value.as_object().unwrap().keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

fn sorted<'k>(keys: &[&'k str]) -> Vec<&'k str> {
    let mut keys = keys.to_vec();
    keys.sort_unstable();
    keys
}

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
    let derived = stdout(&asfitted().args(["plan", "from"]).arg(&listing).assert().code(0));
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
fn what_is_not_stated_is_unproven_and_can_be_waived() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let plan = stdout(&asfitted().args(["plan", "from"]).arg(&listing).assert());
    let old: String = bench
        .read("listing.txt")
        .lines()
        .filter(|l| !l.contains("Configured Memory Speed"))
        .map(|l| format!("{l}\n"))
        .collect();
    let old = bench.write("old.txt", old);
    let result = json(
        &asfitted()
            .arg("audit")
            .arg(&old)
            .arg("--plan")
            .arg(bench.write("p.yaml", &plan))
            .args(["--format", "json"])
            .assert()
            .code(3),
    );
    assert_eq!(result["verdict"], "unproven");
    assert_eq!(result["findings"][0]["kind"], "unproven");
    assert_eq!(result["findings"][0]["fields"], serde_json::json!(["speed"]));
    let waived = bench.write("w.yaml", format!("{plan}waive: [speed]\n"));
    audit(&old, &waived).code(0);
}

#[test]
fn audit_json_has_the_contract_keys() {
    let result = json(&asfitted().args(["demo", "--format", "json"]).assert());
    assert_eq!((result["format"].as_str(), result["version"].as_u64()), (Some("asfitted.audit"), Some(1)));
    let top = [
        "format",
        "version",
        "listing",
        "machine",
        "plan",
        "board",
        "verdict",
        "totals",
        "speed",
        "slots",
        "findings",
        "work",
        "notes",
        "expectation",
    ];
    assert_eq!(keys(&result), sorted(&top));
    assert_eq!(keys(&result["listing"]), sorted(&["name", "smbios_version", "utility_version"]));
    assert_eq!(keys(&result["machine"]), sorted(&["maker", "product", "serial"]));
    assert_eq!(
        keys(&result["totals"]),
        sorted(&["planned_bytes", "detected_bytes", "persistent_bytes", "mapped_bytes", "visible_bytes"])
    );
    assert_eq!(keys(&result["speed"]), sorted(&["expected_mts", "configured_mts", "rated_mts"]));
    let module = [
        "size_bytes",
        "type",
        "kind",
        "ranks",
        "width",
        "rated_mts",
        "configured_mts",
        "voltage_mv",
        "maker",
        "part",
        "serial",
    ];
    for slot in result["slots"].as_array().unwrap() {
        for key in ["slot", "socket", "channel", "position", "state", "planned", "found"] {
            assert!(slot.get(key).is_some(), "{key}");
        }
        for side in ["planned", "found"] {
            if !slot[side].is_null() {
                assert_eq!(keys(&slot[side]), sorted(&module));
            }
        }
    }
    let finding = [
        "kind",
        "severity",
        "slot",
        "slots",
        "other_slot",
        "fields",
        "summary",
        "expected",
        "found",
        "evidence",
        "causes",
    ];
    for f in result["findings"].as_array().unwrap() {
        assert_eq!(keys(f), sorted(&finding));
        for evidence in f["evidence"].as_array().unwrap() {
            assert_eq!(keys(evidence), sorted(&["source", "line", "text"]));
        }
        assert!(!f["causes"].as_array().unwrap().is_empty());
        for cause in f["causes"].as_array().unwrap() {
            assert_eq!(keys(cause), sorted(&["kind", "cause", "likelihood", "why", "check"]));
        }
    }
    for step in result["work"].as_array().unwrap() {
        assert!(step.get("step").is_some());
    }
}

#[test]
fn show_json_has_the_contract_keys() {
    let bench = Bench::new();
    let result = json(
        &asfitted().arg("show").arg(bench.path("listing.txt")).args(["--format", "json"]).assert().code(0),
    );
    assert_eq!(result["format"], "asfitted.population");
    for key in ["version", "listing", "machine", "totals", "slots", "notes"] {
        assert!(result.get(key).is_some(), "{key}");
    }
    assert_eq!(
        keys(&result["totals"]),
        sorted(&["detected_bytes", "persistent_bytes", "mapped_bytes", "slots", "fitted"])
    );
    let slots = result["slots"].as_array().unwrap();
    assert_eq!(slots.len(), 18);
    assert!(slots.iter().all(|slot| slot.get("planned").is_none()));
    assert_eq!(slots[5]["socket"], 1);
    assert_eq!(slots[5]["channel"], "2");
    assert_eq!(slots[5]["position"], 3);
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
fn the_report_says_what_where_and_what_next_in_that_order() {
    let text = stdout(&asfitted().arg("demo").assert());
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}"));
    assert!(text.starts_with("DEVIATES"));
    let order = ["DEVIATES", "not-running (fault)", "Work, in this order", "Before you open", "Where it is"];
    assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])));
    for caution in ["service manual", "mains plug", "ESD", "cool", "key notch", "latches"] {
        assert!(text.contains(caution), "{caution}");
    }
    for line in text.lines() {
        assert!(unicode_width::UnicodeWidthStr::width(line) <= 80, "{line}");
    }
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
        "Before you open",
        "  [ ]  1. reseat the module in s1.c3.p2",
        "  [ ]  3. move the module from s2.c1.p3 to s2.c1.p2",
        "socket 1",
        "Afterwards",
        "audit it",
    ];
    assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])), "{text}");
    assert_eq!(text.matches("mains plug").count(), 1);
    assert!(!text.contains(['\u{1b}', '\u{202e}', '\u{9b}']), "{text}");
    assert!(text.lines().all(|line| unicode_width::UnicodeWidthStr::width(line) <= 80));
    let told = ["--fitted", "12 x 16GB 2Rx4 PC3L-10600R", "--work"];
    asfitted().arg("diagnose").arg(&listing).args(told).arg(&file).assert().code(1);
    assert!(bench.read("work.txt").starts_with("WORK ORDER\n"));
    let derived = stdout(&asfitted().args(["plan", "from"]).arg(&listing).assert().code(0));
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
    assert!(bench.read("work.txt").contains("nothing that hands can mend"));
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

/// An order is audited where its board is known, in the best placement nearest to what is fitted.
#[test]
fn an_order_is_audited_on_its_board() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let derived = stdout(&asfitted().args(["boards", "derive"]).arg(&listing).assert().code(0));
    bench.write("board.yaml", derived.replace("order_known: false\n", ""));
    let order = "order: [12 x 16GB 2Rx4 PC3L-10600R]\nwaive: [width]\n";
    let plan = bench.write("order.yaml", order);
    let message = stderr(&audit(&listing, &plan).code(2));
    assert!(message.contains("--board"), "{message}");
    let with = bench.write("with.yaml", format!("board: board.yaml\n{order}"));
    let text = stdout(&audit(&listing, &with).code(1));
    assert!(text.contains("nearest to what is fitted"), "{text}");
    assert!(text.contains("move the module from s2.c1.p3 to s2.c1.p2"), "{text}");
    let json = json(
        &asfitted().args(["diagnose", "--format", "json"]).arg(&listing).arg("--plan").arg(&with).assert(),
    );
    let notes = json["notes"].as_array().unwrap();
    assert!(notes.iter().any(|note| note["text"].as_str().unwrap().contains("nearest")), "{notes:?}");
    let many = bench.write("many.yaml", format!("board: board.yaml\n{}", order.replace("12 x", "20 x")));
    let message = stderr(&audit(&listing, &many).code(2));
    assert!(message.contains("20 modules for 18 slots"), "{message}");
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
fn a_derived_plan_without_serials_serves_a_sister_machine() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let sister = bench
        .read("listing.txt")
        .replace("WW-KT-0042", "WW-KT-0043")
        .replace("Serial Number: 000051", "Serial Number: 000077");
    let sister = bench.write("sister.txt", sister);
    let own = stdout(&asfitted().args(["plan", "from"]).arg(&listing).assert());
    audit(&sister, &bench.write("own.yaml", own)).code(2);
    let any = stdout(&asfitted().args(["plan", "from", "--any-serial"]).arg(&listing).assert());
    audit(&sister, &bench.write("any.yaml", any)).code(0);
    let made = stdout(&asfitted().args(["plan", "from", "--format", "json"]).arg(&listing).assert());
    audit(&listing, &bench.write("made.json", made)).code(0);
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
    assert!(!stdout(&asfitted().arg("--help").assert()).contains("generate"));
}

#[test]
fn boards_check_plans_and_explain_speeds() {
    let bench = Bench::new();
    let (listing, plan) = (bench.path("listing.txt"), bench.path("plan.yaml"));
    let board = stdout(&asfitted().args(["boards", "derive"]).arg(&listing).assert().code(0));
    assert!(board.contains("class: ddr3-2x3x3") && board.contains("s1.c1.p1"), "{board}");
    // The demo's own faults hide the order of its slots; a person has looked it up.
    let board = bench.write("board.yaml", board.replace("order_known: false\n", ""));
    let checked = asfitted().args(["plan", "check"]).arg(&plan).arg("--board").arg(&board).assert().code(0);
    assert!(stdout(&checked).contains("KEEPS THE RULES"));
    let result = json(
        &asfitted()
            .args(["plan", "check"])
            .arg(&plan)
            .arg("--board")
            .arg(&board)
            .args(["--format", "json"])
            .assert(),
    );
    assert_eq!(
        (result["format"].as_str(), result["board"]["name"].as_str()),
        (Some("asfitted.plan-check"), Some("KT-18"))
    );
    assert_eq!(result["expectation"]["total_bytes"], (12u64 * 16) << 30);
    let third = std::fs::read_to_string(&plan)
        .unwrap()
        .replace("empty:", "board: board.yaml\nempty:")
        .replace("- s1.c1.p2", "- s1.c1.p3")
        .replace("[s1.c1.p3, ", "[s1.c1.p2, ");
    let third = bench.write("third.yaml", third);
    let assert = asfitted().args(["plan", "check"]).arg(&third).assert().code(1);
    assert!(stdout(&assert).contains("slot-order (fault)"), "{}", stdout(&assert));
    asfitted().args(["plan", "check"]).arg(&plan).assert().code(2);
    let message = stderr(
        &asfitted().args(["plan", "check"]).arg(&plan).args(["--board", "ddr3-2x3x"]).assert().code(2),
    );
    assert!(message.contains("Did you mean `ddr3-2x3x"), "{message}");
    let audited = json(
        &asfitted()
            .arg("audit")
            .arg(&listing)
            .arg("--plan")
            .arg(&plan)
            .arg("--board")
            .arg(&board)
            .args(["--format", "json"])
            .assert()
            .code(1),
    );
    assert_eq!(audited["board"]["name"], "KT-18");
    assert!(audited["expectation"]["limits"][0]["text"].is_string());
    for (command, part) in
        [(vec!["boards", "list"], "ddr5-2x12x2"), (vec!["boards", "print", "ddr4-2x4x3"], "E5-26")]
    {
        assert!(stdout(&asfitted().args(command).assert().code(0)).contains(part));
    }
}

#[test]
fn diagnose_names_the_loss_and_the_suspect() {
    let bench = Bench::new();
    // Only what is right stays: the plan's twelve modules, one of which is taken out.
    let plan = bench.read("plan.yaml");
    let mut slots = Vec::new();
    for socket in 1..=2 {
        for channel in 1..=3 {
            for position in 1..=3 {
                let filled = position < 3 && (socket, channel, position) != (2, 1, 2);
                let size = if filled { "16 GB" } else { "No Module Installed" };
                slots.push(format!(
                    "Handle 0x00{socket}{channel}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: s{socket}.c{channel}.p{position}\n\tType: DDR3\n\n"
                ));
            }
        }
    }
    let listing = bench.write("short.txt", slots.concat());
    for fitted in ["12 x 16GB", "192 GiB"] {
        let assert = asfitted()
            .arg("diagnose")
            .arg(&listing)
            .args(["--fitted", fitted, "--format", "json"])
            .assert()
            .code(1);
        let result = json(&assert);
        assert_eq!(result["format"], "asfitted.diagnosis");
        assert_eq!(result["suspects"], serde_json::json!(["s2.c1.p2"]), "{fitted}");
        assert_eq!(result["waterfall"][1]["lost_bytes"], 16u64 << 30);
        assert_eq!(result["findings"][0]["kind"], "missing");
    }
    let text =
        stdout(&asfitted().arg("diagnose").arg(&listing).args(["--fitted", "12 x 16GB"]).assert().code(1));
    assert!(text.starts_with("16 GiB ARE NOT DETECTED") && text.contains("s2.c1.p2"), "{text}");
    asfitted().arg("diagnose").arg(&listing).args(["--fitted", "11 x 16GB"]).assert().code(0);
    let meminfo = bench.write("meminfo", "MemTotal:       181000000 kB\n");
    asfitted()
        .arg("diagnose")
        .arg(&listing)
        .args(["--fitted", "11 x 16GB", "--meminfo"])
        .arg(&meminfo)
        .assert()
        .code(0);
    let small = bench.write("small", "MemTotal:       91000000 kB\n");
    let text =
        stdout(&asfitted().arg("diagnose").arg(&listing).arg("--meminfo").arg(&small).assert().code(1));
    assert!(text.contains("ARE NOT VISIBLE") && text.contains("mirroring"), "{text}");
    asfitted().arg("diagnose").arg(&listing).args(["--fitted", "banana"]).assert().code(2);
    let planned = bench.write(
        "p.yaml",
        plan.replace("      part: WW16-2R4-1333L\n", "").replace("machine:\n  product: Kestrel Twin\n", ""),
    );
    asfitted().arg("diagnose").arg(&listing).arg("--plan").arg(&planned).assert().code(1);
}

/// What the plan wants empty must be shown to be empty.
#[test]
fn emptiness_that_is_not_shown_is_unproven() {
    let bench = Bench::new();
    let slot = |n: u8, size: &str| {
        format!(
            "Handle 0x000{n}, DMI type 17, 40 bytes\nMemory Device\n{size}\tLocator: A{n}\n\tType: DDR4\n\n"
        )
    };
    let plan = bench.write("p.yaml", "fit:\n  - {module: 16GB, slots: [A1]}\nempty: [A2]\n");
    let first = slot(1, "\tSize: 16 GB\n");
    for (second, code) in [("\tSize: No Module Installed\n", 0), ("\tSize: Unknown\n", 3), ("", 3)] {
        let listing = bench.write("l.txt", first.clone() + &slot(2, second));
        audit(&listing, &plan).code(code);
    }
    let broken = format!("{first}Invalid entry length (0). DMI table is broken! Stop.\n\n");
    audit(&bench.write("b.txt", broken), &plan).code(3);
    let speed = bench.write("s.yaml", "expect: {speed: 3200}\n");
    audit(&bench.write("e.txt", slot(1, "\tSize: No Module Installed\n")), &speed).code(3);
}
