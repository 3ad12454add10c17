//! Finding where memory is lost, without a plan and with one.

use crate::util::command::{Bench, asfitted, json, stderr, stdout};

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

/// Ten of 32 GB are detected in eighteen slots.
fn ten(bench: &Bench) -> std::path::PathBuf {
    let slot = |number: u16| {
        let (socket, channel, position) = (number / 9 + 1, number % 9 / 3 + 1, number % 3 + 1);
        let size = if position < 3 && number < 15 { "32 GB" } else { "No Module Installed" };
        format!(
            "Handle 0x00{number:02X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: s{socket}.c{channel}.p{position}\n\tType: DDR3\n\n"
        )
    };
    bench.write("ten.txt", (0..18).map(slot).collect::<String>())
}

/// Nothing is lost by the sums, and yet nothing that was stated is there.
#[test]
fn a_statement_about_other_modules_is_no_loss_and_no_good_result() {
    let bench = Bench::new();
    let listing = ten(&bench);
    let diagnose = |fitted: &str, format: &str| {
        asfitted().arg("diagnose").arg(&listing).args(["--fitted", fitted, "--format", format]).assert()
    };
    for fitted in ["12 x 16GB", "20 x 16GB", "10 x 32GB DDR4"] {
        let text = stdout(&diagnose(fitted, "text").code(1));
        assert!(text.starts_with("WHAT WAS STATED AND WHAT IS DETECTED DO NOT AGREE"), "{text}");
        assert!(text.contains("detected  10 x 32 GiB, DDR3") && !text.contains("NO LOSS"), "{text}");
        assert!(
            text.contains(&format!("stated    {fitted}")) && !text.contains("empty slot for them"),
            "{text}"
        );
        let page = stdout(&diagnose(fitted, "html").code(1));
        assert!(page.contains("They do not agree"), "{page}");
        let result = json(&diagnose(fitted, "json").code(1));
        assert_eq!(result["stated"]["agreement"], "contradicted");
        assert_eq!(result["suspects"], serde_json::json!([]));
    }
    // What is stated without a size has no total that could be lost.
    let text = stdout(&diagnose("12 x DDR3", "text").code(1));
    assert!(text.starts_with("2 MODULES ARE NOT DETECTED"), "{text}");
    let text = stdout(&diagnose("8 x 32GB", "text").code(0));
    assert!(text.contains("MORE IS DETECTED THAN WAS STATED") && text.contains("2 modules more"), "{text}");
    let text = stdout(&diagnose("10 x 32GB", "text").code(0));
    assert!(text.starts_with("NO LOSS IS SHOWN BY THIS EVIDENCE\n"), "{text}");
}

/// One module was left in and one is of another size; neither hides the slots of the two that are lost, and neither makes
/// another slot suspect.
#[test]
fn other_modules_beside_lost_ones_make_no_slot_suspect() {
    let bench = Bench::new();
    let mut command = asfitted();
    command.arg("diagnose").arg(bench.path("listing.txt"));
    let result = json(&command.args(["--fitted", "12 x 16GB 2Rx4", "--format", "json"]).assert().code(1));
    assert_eq!(result["suspects"], serde_json::json!(["s1.c3.p2", "s1.c2.p2"]));
    assert_eq!(result["stated"]["other_slots"], serde_json::json!(["s2.c2.p3", "s2.c3.p1"]));
}

/// What came before: an earlier listing stands in for a plan, its firmware is compared, and what was done is said in words.
#[test]
fn diagnose_asks_the_time_before() {
    let bench = Bench::new();
    let listing = |name: &str, firmware: &str, serial: &str, fitted: usize| {
        let mut text = format!(
            "Handle 0x0000, DMI type 0, 26 bytes\nBIOS Information\n\tVersion: {firmware}\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tSerial Number: {serial}\n\n"
        );
        for position in 0..6 {
            let size = if position < fitted { "16 GB" } else { "No Module Installed" };
            text.push_str(&format!(
                "Handle 0x001{position}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: s1.c{}.p1\n\tType: DDR3\n\n",
                position + 1
            ));
        }
        bench.write(name, text + "Handle 0xFFFF, DMI type 127, 4 bytes\nEnd Of Table\n")
    };
    let (before, after) = (listing("before", "1.0", "WK1", 6), listing("after", "2.0", "WK1", 4));
    let other = listing("other", "2.0", "WK2", 6);
    asfitted().arg("diagnose").arg(&after).assert().code(0);
    let kinds = |more: &[&std::ffi::OsStr]| {
        let mut command = asfitted();
        command.arg("diagnose").arg(&after).args(more).args(["--format", "json"]);
        let result = json(&command.assert().code(1));
        result["findings"][0]["causes"][0]["kind"].as_str().unwrap().to_owned()
    };
    assert_eq!(kinds(&["--earlier".as_ref(), before.as_os_str()]), "firmware");
    assert_eq!(kinds(&["--fitted".as_ref(), "6 x 16GB".as_ref()]), "not-seated");
    let said = |what: &str| kinds(&["--fitted", "6 x 16GB", "--after", what].map(AsRef::as_ref));
    assert_eq!([said("firmware"), said("module")], ["firmware", "disabled"]);
    let warned = asfitted().arg("diagnose").arg(&after).arg("--earlier").arg(&other).assert().code(1);
    assert!(stderr(&warned).contains("of different machines"), "{}", stderr(&warned));
    let refused = asfitted().arg("diagnose").arg(&after).args(["--after", "lunch"]).assert().code(2);
    assert!(stderr(&refused).contains("`firmware` (the firmware was updated"), "{}", stderr(&refused));
}

/// What is done with a step is what its sentence asks for.
#[test]
fn steps_are_what_their_sentences_ask_for() {
    let bench = Bench::new();
    let (listing, plan) = (bench.path("listing.txt"), bench.path("plan.yaml"));
    let work = |command: &mut assert_cmd::Command| {
        json(&command.args(["--format", "json"]).assert().code(1))["work"].as_array().unwrap().clone()
    };
    // A module that is to be replaced is brought.
    let log = bench.write(
        "log.sel",
        "1 | 11/20/2026 | 10:00:00 | Memory s1.c1.p1 | Uncorrectable ECC | Asserted\n\
         2 | 11/20/2026 | 10:00:01 | Memory | Blah odd event | Asserted\n",
    );
    let mut command = asfitted();
    command.arg("audit").arg(&listing).arg("--plan").arg(&plan).arg("--with").arg(log);
    let steps = work(&mut command);
    let replaced = steps.iter().find(|step| step["slot"] == "s1.c1.p1").unwrap();
    assert_eq!(
        (replaced["kind"].as_str(), replaced["movements"].as_u64()),
        (Some("replace"), Some(2)),
        "{steps:#?}"
    );
    assert!(replaced["brings"].as_str().unwrap().contains("16GB 2Rx4"), "{replaced}");
    // Of what is not understood nothing is known, and nothing is reseated for it.
    let unread = steps.iter().find(|step| step["text"].as_str().unwrap().contains("list of events")).unwrap();
    assert_eq!(unread["hands"], false, "{unread}");
    // A slot that is switched off is a setting.
    let mut command = asfitted();
    command.arg("diagnose").arg(&listing).args(["--fitted", "192 GiB", "--after", "module"]);
    let steps = work(&mut command);
    assert_eq!(
        (steps[0]["kind"].as_str(), steps[0]["hands"].as_bool()),
        (Some("setting"), Some(false)),
        "{steps:#?}"
    );
    assert_eq!(steps[0]["text"].as_str().unwrap().matches("s1.c3.p2").count(), 1, "{steps:#?}");
}

#[test]
fn totals_that_are_none_are_refused() {
    let bench = Bench::new();
    for (fitted, found) in [("0 GiB", "a total of nothing"), ("562.2 GiB", "no whole number of MiB")] {
        let refused =
            asfitted().arg("diagnose").arg(bench.path("listing.txt")).args(["--fitted", fitted]).assert();
        let message = stderr(&refused.code(2));
        assert!(message.contains(found), "{message}");
    }
}
