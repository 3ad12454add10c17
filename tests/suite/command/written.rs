//! What people write stays as they wrote it, and is understood in the ways in which they write it.

use crate::util::command::{Bench, asfitted, audit, audit_json, stderr, stdout};

/// One module, with its serial and part number.
fn listing(serial: &str, part: &str) -> String {
    format!(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0020, DMI type 17, 40 bytes\nMemory Device\n\tTotal Width: 72 bits\n\t\
         Data Width: 64 bits\n\tSize: 16 GB\n\tForm Factor: DIMM\n\tLocator: A1\n\tType: DDR4\n\tSerial Number: {serial}\n\t\
         Part Number: {part}\n\nHandle 0x007F, DMI type 127, 4 bytes\nEnd Of Table\n"
    )
}

/// A serial number that reads as a number of YAML is that text and no other: neither a wrong pass nor a wrong fail.
#[test]
fn serial_numbers_stay_as_written() {
    let bench = Bench::new();
    for (written, value) in [
        ("0x1F", "31"),
        ("0o17", "15"),
        ("0b1010", "10"),
        ("1e3", "1000"),
        ("1_000", "1000"),
        ("000051E6", "51000000"),
        ("00123", "123"),
        ("+12", "12"),
    ] {
        for quoted in
            [written.to_owned(), format!("'{written}'"), format!("[{written}]"), format!("\"{written}\"")]
        {
            let plan = format!("fit:\n  - {{module: 16GB, slots: A1, serials: {quoted}}}\n");
            let plan = bench.write("p.yaml", plan);
            audit(&bench.write("l.txt", listing(written, "P1")), &plan).code(0);
            let result = audit_json(&bench.write("l.txt", listing(value, "P1")), &plan, 1);
            assert!(
                result["findings"][0]["fields"].as_array().unwrap().contains(&"serial".into()),
                "{quoted}"
            );
        }
    }
}

/// The plan has it in lower case, or with blanks, or the firmware pads it.
#[test]
fn part_numbers_are_the_same_in_any_case_and_with_any_blanks() {
    let bench = Bench::new();
    let listing = bench.write("l.txt", listing("S1", "P03052-091  "));
    for (part, code) in [("p03052-091", 0), ("P03052 -091", 0), ("\" P03052-091 \"", 0), ("P03052-092", 1)] {
        let plan = format!("fit:\n  - module: {{size: 16 GiB, part: {part}}}\n    slots: A1\n");
        audit(&listing, &bench.write("p.yaml", plan)).code(code);
    }
}

#[test]
fn an_order_is_placed_from_the_command_line() {
    let bench = Bench::new();
    let place = |orders: &[&str], more: &[&str]| {
        let mut command = bench.asfitted();
        command.args(["plan", "place"]).args(orders).args(["--board", "ddr3-2x3x3"]).args(more);
        command.assert()
    };
    let typed = stdout(&place(&["12 x 16GB 2Rx4 PC3-10600R"], &[]).code(0));
    bench.write("order.yaml", "order: [12 x 16GB 2Rx4 PC3-10600R]\n");
    assert_eq!(stdout(&place(&["order.yaml"], &[]).code(0)), typed);
    let two = stdout(&place(&["6 pcs 16 GB 2Rx4 PC3 10600R", "8GB 1Rx4 PC3-10600R x 6"], &[]).code(0));
    assert!(two.contains("16 GB 2Rx4") && two.contains("8GB 1Rx4"), "{two}");
    let message = stderr(&place(&["12 banana"], &[]).code(2));
    assert!(message.contains("no count") && message.contains("12 x 32GB"), "{message}");
    let message = stderr(&place(&["nowhere.yaml"], &[]).code(2));
    assert!(message.contains("nowhere.yaml") && message.contains("cannot be read"), "{message}");
    let message = stderr(&place(&["order.yaml", "2 x 8GB"], &[]).code(2));
    assert!(message.contains("a file beside other orders"), "{message}");
}

/// Quad-rank modules: two in a channel are eight ranks, so that six of eighteen are left over.
#[test]
fn a_part_of_an_order_is_written_on_request_only() {
    let bench = Bench::new();
    let mut command = bench.asfitted();
    command.args(["plan", "place", "18 x 32GB 4Rx4 PC3L-10600R", "--board", "ddr3-2x3x3"]);
    let refused = command.assert().code(1);
    assert_eq!(stdout(&refused), "");
    let message = stderr(&refused);
    assert!(message.contains("8 ranks") && message.contains("--partial"), "{message}");
    assert!(message.contains("12 of 18 modules, left over 6 x 32GB 4Rx4 PC3L-10600R"), "{message}");
    assert!(message.contains("so 2 modules of 4 ranks; 18 are ordered for 6 channels"), "{message}");
    let part = stdout(&command.arg("--partial").assert().code(1));
    assert!(part.contains("# This plan holds only a part of the order: 12 of 18 modules"), "{part}");
    let json = stdout(&command.args(["--format", "json"]).assert().code(1));
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let name = json["name"].as_str().unwrap();
    assert!(name.starts_with("only a part of the order: 12 of 18 modules, left over 6 x"), "{name}");
}

#[test]
fn what_is_no_plan_or_no_listing_is_named() {
    let bench = Bench::new();
    let (listing, plan) = (bench.path("listing.txt"), bench.path("plan.yaml"));
    let message = stderr(&audit(&plan, &listing).code(2));
    assert!(message.contains("This is a listing: swap the two"), "{message}");
    let message = stderr(&asfitted().arg("show").arg(&plan).assert().code(2));
    assert!(message.contains("This is a plan: swap the two"), "{message}");
    let message = stderr(&audit(&listing, &bench.write("plan.pdf", "%PDF-1.7\n")).code(2));
    assert!(message.contains("This is a PDF"), "{message}");
    for (name, bytes, found) in [
        ("x.pdf", &b"%PDF-1.7\n"[..], "a PDF"),
        ("x.zip", b"PK\x03\x04aa", "a zip archive"),
        ("x.png", b"\x89PNG\r\n\x1a\n", "a picture"),
        ("x.html", b"<html><body></body></html>", "a web page"),
        ("x.json", b"{\"format\": \"asfitted.audit\"}", "a result of asfitted"),
        ("x.csv", b"slot,module\nA1,16GB\n", "a table"),
    ] {
        let path = bench.path(name);
        std::fs::write(&path, bytes).unwrap();
        let message = stderr(&audit(&listing, &path).code(2));
        assert!(
            message.contains(&format!("found {found}, expected a plan in YAML. This is {found}: ")),
            "{message}"
        );
    }
    let message = stderr(&audit(&bench.path("x.png"), &plan).code(2));
    assert!(message.contains("found a picture, expected the text listing"), "{message}");
    let other = "fit:\n  - module: 16GB\n    slots: [A1, A2, A3, B1, B2, B3]\n";
    let message = stderr(&audit(&listing, &bench.write("other.yaml", other)).code(2));
    assert!(message.contains("hardly any slot of this plan is on this machine: 0 of 6"), "{message}");
}

/// A class has labels of its own only where nobody brings others.
#[test]
fn a_plan_with_the_labels_of_its_machine_is_checked_on_a_class() {
    let bench = Bench::new();
    let plan = bench.path("plan.yaml");
    let checked = asfitted().args(["plan", "check"]).arg(plan).args(["--board", "ddr3-2x3x3"]).assert();
    let text = stdout(&checked.code(0));
    assert!(text.contains("192 GiB"), "{text}");
    // A plan need not name every slot, nor every channel.
    let check = |slots: &str| {
        let plan =
            bench.write("some.yaml", format!("fit: [{{module: 16GB 2Rx4 PC3-10600R, slots: [{slots}]}}]\n"));
        asfitted().args(["plan", "check"]).arg(plan).args(["--board", "ddr3-2x3x3"]).assert()
    };
    let text = stdout(&check("s1.c1.p1, s1.c3.p1, s2.c1.p1").code(0));
    assert!(text.contains("48 GiB"), "{text}");
    let text = stdout(&check("s1.c1.p1, s1.c1.p2, s1.c1.p3, s2.c2.p1").code(0));
    assert!(text.contains("at most 800 MT/s"), "{text}");
    // The class has three channels.
    let message = stderr(&check("s1.c1.p1, s1.c5.p1").code(2));
    assert!(message.contains("s1.c1.p1"), "{message}");
}

/// Every example of the first page that needs no server, no root and no compiler runs as it stands there.
#[test]
fn the_examples_of_the_readme_run() {
    let bench = Bench::new();
    let page = std::fs::read_to_string(crate::util::path("README.md")).unwrap();
    let yaml = page.split("```yaml\n").nth(1).unwrap().split("```").next().unwrap();
    bench.write("plan.yaml", yaml);
    for name in ["bay07.txt", "good.txt"] {
        bench.write(name, bench.read("listing.txt"));
    }
    let blocks = page.split("```sh\n").skip(1).map(|block| block.split("```").next().unwrap());
    let lines = blocks.flat_map(str::lines).filter_map(|line| line.strip_prefix("asfitted "));
    let mut run = 0;
    for line in lines.filter(|line| !line.starts_with("capture") && !line.starts_with("fleet")) {
        let (line, _) = line.split_once(" > ").unwrap_or((line, ""));
        let mut quoted = false;
        let words = line.split(|c: char| {
            quoted ^= c == '"';
            c == '"' || c == ' ' && !quoted
        });
        let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
        let assert = bench.asfitted().args(&words).assert();
        assert_ne!(assert.get_output().status.code(), Some(2), "{line}: {}", stderr(&assert));
        run += 1;
    }
    assert!(run >= 5, "{run}");
}
