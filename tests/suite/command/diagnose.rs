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
