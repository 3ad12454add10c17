//! Fleets with inputs that cannot be read, runs that are stopped, and results by readers that are not ours.

use std::io::Write;
use std::path::Path;
use std::process::{Command as Process, Stdio};
use std::time::{Duration, Instant};

use assert_cmd::Command;
use serde_json::Value;

use crate::util::corpus as fixture;

fn asfitted() -> Command {
    Command::cargo_bin("asfitted").unwrap()
}

fn pallet() -> std::path::PathBuf {
    fixture::path("fixtures/pallet")
}

/// A fleet over `path`, with the pallet's plans: exit code and lines.
fn run(path: &Path) -> (i32, Vec<Value>) {
    let mut command = asfitted();
    command.arg("fleet").arg(path).arg("--plans").arg(pallet().join("plans")).args(["--format", "json"]);
    let output = command.output().unwrap();
    let lines = output.stdout.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    (output.status.code().unwrap(), lines.map(|line| serde_json::from_slice(line).unwrap()).collect())
}

fn reason<'v>(lines: &'v [Value], name: &str) -> &'v str {
    let line = lines.iter().find(|l| l["listing"]["name"].as_str().is_some_and(|n| n.ends_with(name)));
    line.unwrap_or_else(|| panic!("{name}: {lines:#?}"))["reason"].as_str().unwrap_or("audited")
}

fn good() -> Vec<u8> {
    std::fs::read(pallet().join("listings/bay01.txt")).unwrap()
}

/// Each is a row with a clear reason, and the good listing beside them is audited.
#[test]
fn what_cannot_be_read_is_a_row() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("a-good.txt"), good()).unwrap();
    std::fs::write(at("empty.txt"), "").unwrap();
    std::fs::write(at("letter.txt"), "Dear sir,\nthe servers are ready.\n").unwrap();
    std::fs::write(at("half.gz"), [0x1F, 0x8B, 8, 0, 0]).unwrap();
    std::fs::write(at(".hidden"), "x").unwrap();
    std::fs::write(at("archive.tar"), tar_of(&[("x", &good())])).unwrap();
    let (code, lines) = run(folder.path());
    assert_eq!(code, 2);
    assert_eq!(reason(&lines, "a-good.txt"), "audited");
    for (name, words) in [
        ("empty.txt", "found nothing in it"),
        ("letter.txt", "found no SMBIOS record"),
        ("half.gz", "nothing can be unpacked"),
        ("archive.tar", "Name it on the command line"),
    ] {
        assert!(reason(&lines, name).contains(words), "{name}: {}", reason(&lines, name));
    }
    assert!(!lines.iter().any(|line| line.to_string().contains("hidden")));
    assert_eq!(lines.last().unwrap()["hosts"]["not_audited"], 4);
    let (code, lines) = run(&at("nowhere"));
    assert_eq!(code, 2);
    assert!(reason(&lines, "nowhere").contains("Check the path"));
}

fn tar_of(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut builder = tar::Builder::new(Vec::new());
    for (name, content) in entries {
        let mut header = tar::Header::new_gnu();
        header.set_size(content.len() as u64);
        header.set_mode(0o644);
        builder.append_data(&mut header, name, *content).unwrap();
    }
    builder.into_inner().unwrap()
}

#[cfg(unix)]
#[test]
fn rights_links_and_odd_names() {
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("good.txt"), good()).unwrap();
    std::fs::create_dir(at("inner")).unwrap();
    symlink(folder.path(), at("inner/back")).unwrap();
    symlink(at("nothing"), at("dangling.txt")).unwrap();
    let odd = folder.path().join(std::ffi::OsStr::from_bytes(b"bay\xFF\x1b[31m.txt"));
    std::fs::write(&odd, good()).unwrap();
    std::fs::write(at("locked.txt"), good()).unwrap();
    std::fs::set_permissions(at("locked.txt"), PermissionsExt::from_mode(0o000)).unwrap();
    let may_read = std::fs::read(at("locked.txt")).is_ok();
    let (code, lines) = run(folder.path());
    assert_eq!(code, 2);
    assert!(
        reason(&lines, "back").contains("is a link to") && reason(&lines, "back").contains("Remove the link")
    );
    assert!(reason(&lines, "dangling.txt").contains("cannot be read"), "{lines:#?}");
    // Root may read everything.
    let want = if may_read { "audited" } else { "cannot be read (Permission denied" };
    assert!(reason(&lines, "locked.txt").starts_with(want), "{}", reason(&lines, "locked.txt"));
    let names: Vec<&str> = lines.iter().filter_map(|line| line["listing"]["name"].as_str()).collect();
    assert!(names.iter().any(|name| name.ends_with("bay\\xFF\u{1b}[31m.txt")), "{names:?}");
    // Nothing of it reaches a terminal as it is.
    let text = asfitted()
        .arg("fleet")
        .arg(folder.path())
        .arg("--plans")
        .arg(pallet().join("plans"))
        .output()
        .unwrap();
    assert!(!text.stdout.contains(&0x1b));
}

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
            "--hosts-table",
            "hosts.csv",
            "--findings-table",
            "new.csv",
            "--plans",
        ])
        .arg(pallet().join("plans"))
        .args(["--format", "json", "--output", "private.json"])
        .assert()
        .code(0);
    assert!(std::fs::read(at("private.json")).unwrap().starts_with(b"{"));
    assert_eq!(
        (rights("private.json"), rights("hosts.csv"), rights("new.csv")),
        (0o600, 0o600, rights("any"))
    );
}

/// A file of one endless line, and archives that promise or hold far more than a listing.
#[test]
fn large_inputs_are_refused_and_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    // The file has holes; it takes no room on the disk.
    let file = std::fs::File::create(folder.path().join("line.txt")).unwrap();
    file.set_len(1 << 30).unwrap();
    std::fs::write(folder.path().join("ok.txt"), good()).unwrap();
    let started = Instant::now();
    let (code, lines) = run(folder.path());
    assert_eq!((code, reason(&lines, "ok.txt")), (2, "audited"));
    assert!(reason(&lines, "line.txt").contains("more than 16 MiB"));
    // By its own name it is read as a stream, which has no header either.
    let (_, lines) = run(&folder.path().join("line.txt"));
    assert!(reason(&lines, "line.txt").contains("more than 16 MiB"), "{lines:#?}");
    // A small archive with an entry of 4 GiB of zeros, and a good one behind it.
    let bomb = folder.path().join("bomb.tar.gz");
    let mut packed =
        flate2::write::GzEncoder::new(std::fs::File::create(&bomb).unwrap(), flate2::Compression::fast());
    let mut header = tar::Header::new_gnu();
    header.set_path("zeros").unwrap();
    header.set_size(1 << 30);
    header.set_cksum();
    packed.write_all(header.as_bytes()).unwrap();
    let zeros = vec![0u8; 1 << 20];
    for _ in 0..1024 {
        packed.write_all(&zeros).unwrap();
    }
    packed.write_all(&tar_of(&[("good.txt", &good())])).unwrap();
    packed.finish().unwrap();
    let (code, lines) = run(&bomb);
    assert_eq!((code, reason(&lines, "good.txt")), (2, "audited"));
    assert!(reason(&lines, "zeros").contains("more than 16 MiB"));
    // A listing that unpacks to more than any.
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    for _ in 0..32 {
        packed.write_all(&zeros).unwrap();
    }
    let inner = packed.finish().unwrap();
    std::fs::write(folder.path().join("inner.tar"), tar_of(&[("bomb.gz", &inner), ("b.txt", &good())]))
        .unwrap();
    let (_, lines) = run(&folder.path().join("inner.tar"));
    assert!(reason(&lines, "bomb.gz").contains("more than 16 MiB"), "{lines:#?}");
    assert_eq!(reason(&lines, "b.txt"), "audited");
    assert!(started.elapsed() < Duration::from_mins(2), "something hangs");
}

/// Bad lines of JSON are rows too; those around them are audited.
#[test]
fn bad_lines_are_rows() {
    let listing = String::from_utf8(good()).unwrap();
    let line = |host: &str| serde_json::json!({"host": host, "listing": listing}).to_string();
    let text = format!("{}\n{{\"host\": \"bay02\"}}\nnonsense\n\n{}\n", line("bay01"), line("bay03"));
    let mut command = asfitted();
    command.args(["fleet", "-", "--format", "json", "--plans"]).arg(pallet().join("plans"));
    let output = command.write_stdin(text).assert().code(2);
    let output = output.get_output().stdout.clone();
    let lines: Vec<Value> = output
        .split(|b| *b == b'\n')
        .filter(|l| !l.is_empty())
        .map(|l| serde_json::from_slice(l).unwrap())
        .collect();
    assert_eq!(lines.len(), 5);
    assert_eq!((reason(&lines, "bay01"), reason(&lines, "bay03")), ("audited", "audited"));
    assert!(reason(&lines, "line 2").contains("missing field `listing`"), "{}", reason(&lines, "line 2"));
    assert!(reason(&lines, "line 3").contains("expected `{\"host\""), "{}", reason(&lines, "line 3"));
}

/// A stream of listings on standard input: each header starts a host.
#[test]
fn a_stream_is_taken_apart() {
    let mut stream = good();
    stream.extend(std::fs::read(pallet().join("listings/bay02.txt")).unwrap());
    let mut command = asfitted();
    command.args(["fleet", "-", "--format", "json", "--plans"]).arg(pallet().join("plans"));
    let output = command.write_stdin(stream).assert().code(1).get_output().stdout.clone();
    let text = String::from_utf8(output).unwrap();
    let verdicts: Vec<Value> =
        text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()["verdict"].clone()).collect();
    assert_eq!(verdicts, ["as-planned".into(), "deviates".into(), Value::Null]);
}

/// A bad plan, a bad manifest and a bad stock are told; a bad plan does not end the run.
/// What a shell's `<(…)` gives is a pipe, which can be read once.
#[cfg(unix)]
#[test]
fn a_pipe_is_read_as_a_stream() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    for content in [tar_of(&[("one.txt", &good()), ("two.txt", &good())]), [good(), good()].concat()] {
        assert!(Process::new("mkfifo").arg(&pipe).status().unwrap().success());
        let writer = std::thread::spawn({
            let pipe = pipe.clone();
            move || std::fs::write(pipe, content).unwrap()
        });
        let (code, lines) = run(&pipe);
        writer.join().unwrap();
        // The same machine twice: its modules are in two places.
        assert_eq!((code, &lines.last().unwrap()["hosts"]["as_planned"]), (1, &Value::from(2)), "{lines:#?}");
        std::fs::remove_file(&pipe).unwrap();
    }
}

#[test]
fn bad_plans_and_tables_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("plans")).unwrap();
    std::fs::copy(pallet().join("plans/kestrel.yaml"), at("plans/kestrel.yaml")).unwrap();
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
    let board = pallet().join("boards/kestrel.yaml");
    let plan = |count: u32| {
        format!(
            "machine: {{product: Kestrel Twin}}\nboard: {}\norder:\n  - count: {count}\n    module: {{size: 16 GB, ranks: 2, type: DDR3, kind: RDIMM, rated: 1333}}\n",
            board.display()
        )
    };
    for name in ["bay01.txt", "bay02.txt"] {
        std::fs::copy(pallet().join("listings").join(name), at(name)).unwrap();
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
        let text = String::from_utf8(output).unwrap();
        let lines: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
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
        let output = command.arg(pallet().join("plans")).args(extra).assert().code(2);
        let said = String::from_utf8(output.get_output().stderr.clone()).unwrap();
        assert!(said.contains("Name another file"), "{said}");
    }
    assert_eq!(std::fs::read_to_string(folder.path().join("stock.csv")).unwrap(), stock);
    assert_eq!(std::fs::read(folder.path().join("good.txt")).unwrap(), good());
}

/// What a run writes besides is read by others than ourselves: a JSON Schema validator, an XML reader, a CSV
/// reader, a parser of OpenMetrics.
#[test]
fn outputs_are_what_they_claim_to_be() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut command = asfitted();
    command.current_dir(pallet()).args(["fleet", "listings", "--plans", "plans", "--stock", "stock.csv"]);
    for (option, name) in [
        ("--json-lines", "lines"),
        ("--findings-table", "findings.csv"),
        ("--hosts-table", "hosts.csv"),
        ("--test-report", "tests.xml"),
        ("--metrics", "metrics"),
    ] {
        command.arg(option).arg(at(name));
    }
    command.assert().code(2);
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap();
    let lines: Vec<Value> = read("lines").lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    for line in &lines {
        let name = line["format"].as_str().unwrap().strip_prefix("asfitted.").unwrap();
        valid(line, &fixture::path(&format!("schemas/{name}.schema.json")));
    }
    let hosts = lines.len() - 1;
    let findings: usize = lines.iter().filter_map(|line| line["findings"].as_array()).map(Vec::len).sum();
    let mut table = csv::Reader::from_path(at("hosts.csv")).unwrap();
    assert_eq!(table.headers().unwrap().get(1), Some("verdict"));
    assert_eq!(table.records().filter(|row| row.as_ref().unwrap().len() == 17).count(), hosts);
    let rows = csv::Reader::from_path(at("findings.csv")).unwrap().into_records().count();
    let unread = lines.iter().filter(|line| line["format"] == "asfitted.not-audited").count();
    let stock = lines[hosts]["stock"]["findings"].as_array().unwrap().len();
    assert_eq!(rows, findings + unread + stock);
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
    assert!(metrics.families.contains_key("asfitted_fleet_hosts") && metrics.families.len() == 5);
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
    command.arg(pallet().join("plans")).args([
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
    process.args(["fleet", "-", "--plans"]).arg(pallet().join("plans"));
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

/// What the review of a fleet must not lose: empty folders, broken plans, results among listings, odd archives.
#[test]
fn nothing_is_lost_without_a_word() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("empty")).unwrap();
    let (code, lines) = run(&at("empty"));
    assert_eq!((code, lines.len()), (2, 1));
    // A capture that is named reads as in a folder, whatever header its listing has.
    std::fs::create_dir(at("one")).unwrap();
    std::fs::copy(pallet().join("listings/bay20.capture"), at("one/bay20.capture")).unwrap();
    for path in [at("one"), at("one/bay20.capture")] {
        let (code, lines) = run(&path);
        assert_eq!(
            (code, lines.len(), lines[0]["verdict"].as_str()),
            (1, 2, Some("deviates")),
            "{}",
            path.display()
        );
    }
    // Its own plan is broken, so that the product's is not taken.
    std::fs::create_dir(at("plans")).unwrap();
    std::fs::copy(pallet().join("plans/kestrel.yaml"), at("plans/kestrel.yaml")).unwrap();
    std::fs::write(at("plans/own.yaml"), "machine: {serial: WT-0001}\nfitt: []\n").unwrap();
    std::fs::write(at("bay01.txt"), good()).unwrap();
    let mut command = asfitted();
    command.current_dir(folder.path()).args(["fleet", "bay01.txt", "--plans", "plans"]);
    let text = String::from_utf8(command.assert().code(2).get_output().stdout.clone()).unwrap();
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.starts_with("0 OF 1 MAY SHIP") && words.contains("cannot be read. Correct it"), "{text}");
    // A result must not take the place of a file among the inputs, nor two results one place.
    std::fs::copy(pallet().join("listings/bay02.txt"), at("one/bay02.txt")).unwrap();
    let plans = pallet().join("plans");
    for extra in
        [["--hosts-table", "one/bay02.txt", "--metrics", "m"], ["--hosts-table", "r", "--metrics", "./r"]]
    {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "one", "--plans"]).arg(&plans).args(extra);
        command.assert().code(2);
    }
    assert_eq!(
        std::fs::read(at("one/bay02.txt")).unwrap(),
        std::fs::read(pallet().join("listings/bay02.txt")).unwrap()
    );
    // An archive without its end, and one with a link in it.
    let whole = tar_of(&[("a.txt", &good()), ("b.txt", &good())]);
    std::fs::write(at("cut.tar"), &whole[..whole.len() - 1024]).unwrap();
    let (code, lines) = run(&at("cut.tar"));
    assert_eq!((code, reason(&lines, "a.txt"), reason(&lines, "b.txt")), (2, "audited", "audited"));
    assert!(reason(&lines, "cut.tar").contains("ends without the mark of its end"));
    let mut builder = tar::Builder::new(Vec::new());
    let mut header = tar::Header::new_gnu();
    header.set_entry_type(tar::EntryType::Symlink);
    header.set_size(0);
    builder.append_link(&mut header, "link.txt", "a.txt").unwrap();
    std::fs::write(at("link.tar"), builder.into_inner().unwrap()).unwrap();
    let (_, lines) = run(&at("link.tar"));
    assert!(reason(&lines, "link.txt").contains("is a link"));
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
        command.current_dir(folder.path()).args(["fleet", "bay01.txt", "--stock", "s.csv", "--plans"]);
        command.arg(pallet().join("plans")).output().unwrap()
    };
    assert_eq!(fleet("WM010000,WW16-2R4-1333L,bay01").status.code(), Some(0));
    assert_eq!(fleet("WM010000,,bay01").status.code(), Some(0));
    let output = fleet("WM010000,OTHER-PART,bay01");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.code() == Some(1) && text.contains("unaccounted (fault): 1"), "{text}");
    assert!(text.contains("not-in-stock (warning): 1"), "{text}");
    // Two rows for two modules.
    let output = fleet("WM010000,WW16-2R4-1333L,bay01\nWM010000,OTHER-PART,");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(!text.contains("duplicate-serial") && text.contains("unaccounted (fault): 1"), "{text}");
    let output = fleet("WM010000,\"19 rack,bay01");
    assert!(String::from_utf8(output.stderr).unwrap().contains("s.csv: line 2: found a cell that runs over"));
}
