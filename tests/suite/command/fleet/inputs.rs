//! Inputs of a fleet that cannot be read, or only in part: each is a row with its reason.

use std::process::Command as Process;

use serde_json::Value;

use super::{reason, run};
use crate::util::archive::tar_of;
use crate::util::command::{asfitted, json_lines};
use crate::util::pallet::{self, good};

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
        .arg(pallet::folder().join("plans"))
        .output()
        .unwrap();
    assert!(!text.stdout.contains(&0x1b));
}

/// Bad lines of JSON are rows too; those around them are audited.
#[test]
fn bad_lines_are_rows() {
    let listing = String::from_utf8(good()).unwrap();
    let line = |host: &str| serde_json::json!({"host": host, "listing": listing}).to_string();
    let text = format!("{}\n{{\"host\": \"bay02\"}}\nnonsense\n\n{}\n", line("bay01"), line("bay03"));
    let mut command = asfitted();
    command
        .args(["fleet", "-", "--subset", "--format", "json", "--plans"])
        .arg(pallet::folder().join("plans"));
    let output = command.write_stdin(text).assert().code(2);
    let output = output.get_output().stdout.clone();
    let lines = json_lines(&output);
    assert_eq!(lines.len(), 5);
    assert_eq!((reason(&lines, "bay01"), reason(&lines, "bay03")), ("audited", "audited"));
    assert!(reason(&lines, "line 2").contains("missing field `listing`"), "{}", reason(&lines, "line 2"));
    assert!(reason(&lines, "line 3").contains("expected `{\"host\""), "{}", reason(&lines, "line 3"));
}

/// A stream of listings on standard input: each header starts a host.
#[test]
fn a_stream_is_taken_apart() {
    let mut stream = good();
    stream.extend(std::fs::read(pallet::folder().join("listings/bay02.txt")).unwrap());
    let mut command = asfitted();
    command
        .args(["fleet", "-", "--subset", "--format", "json", "--plans"])
        .arg(pallet::folder().join("plans"));
    let output = command.write_stdin(stream).assert().code(1).get_output().stdout.clone();
    let verdicts: Vec<Value> = json_lines(&output).iter().map(|line| line["verdict"].clone()).collect();
    assert_eq!(verdicts, ["as-planned".into(), "deviates".into(), Value::Null]);
}

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
    std::fs::copy(pallet::folder().join("listings/bay20.capture"), at("one/bay20.capture")).unwrap();
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
    std::fs::copy(pallet::folder().join("plans/kestrel.yaml"), at("plans/kestrel.yaml")).unwrap();
    std::fs::write(at("plans/own.yaml"), "machine: {serial: WT-0001}\nfitt: []\n").unwrap();
    std::fs::write(at("bay01.txt"), good()).unwrap();
    let mut command = asfitted();
    command.current_dir(folder.path()).args(["fleet", "bay01.txt", "--plans", "plans"]);
    let text = String::from_utf8(command.assert().code(2).get_output().stdout.clone()).unwrap();
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.starts_with("0 OF 1 MAY SHIP") && words.contains("cannot be read. Correct it"), "{text}");
    // A result must not take the place of a file among the inputs, nor two results one place.
    std::fs::copy(pallet::folder().join("listings/bay02.txt"), at("one/bay02.txt")).unwrap();
    let plans = pallet::folder().join("plans");
    for extra in
        [["--hosts-table", "one/bay02.txt", "--metrics", "m"], ["--hosts-table", "r", "--metrics", "./r"]]
    {
        let mut command = asfitted();
        command.current_dir(folder.path()).args(["fleet", "one", "--plans"]).arg(&plans).args(extra);
        command.assert().code(2);
    }
    assert_eq!(
        std::fs::read(at("one/bay02.txt")).unwrap(),
        std::fs::read(pallet::folder().join("listings/bay02.txt")).unwrap()
    );
    // An archive without its end, and one with a link in it.
    let whole = tar_of(&[("a.txt", &good()), ("b.txt", &good())]);
    std::fs::write(at("cut.tar"), &whole[..whole.len() - 1024]).unwrap();
    let (code, lines) = run(&at("cut.tar"));
    assert_eq!((code, reason(&lines, "a.txt"), reason(&lines, "b.txt")), (2, "audited", "audited"));
    assert!(reason(&lines, "cut.tar").contains("ends without its end marker"));
    let mut builder = tar::Builder::new(Vec::new());
    let mut header = tar::Header::new_gnu();
    header.set_entry_type(tar::EntryType::Symlink);
    header.set_size(0);
    builder.append_link(&mut header, "link.txt", "a.txt").unwrap();
    std::fs::write(at("link.tar"), builder.into_inner().unwrap()).unwrap();
    let (_, lines) = run(&at("link.tar"));
    assert!(reason(&lines, "link.txt").contains("is a link"));
}
