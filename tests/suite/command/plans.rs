//! Plans that the command derives, places and checks, and what audits against them demand.

use crate::util::command::{Bench, asfitted, audit, audit_json, json, plan_from, stderr, stdout};

#[test]
fn what_is_not_stated_is_unproven_and_can_be_waived() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let plan = plan_from(&listing);
    let old: String = bench
        .read("listing.txt")
        .lines()
        .filter(|l| !l.contains("Configured Memory Speed"))
        .map(|l| format!("{l}\n"))
        .collect();
    let old = bench.write("old.txt", old);
    let result = audit_json(&old, &bench.write("p.yaml", &plan), 3);
    assert_eq!(result["verdict"], "unproven");
    assert_eq!(result["findings"][0]["kind"], "unproven");
    assert_eq!(result["findings"][0]["fields"], serde_json::json!(["speed"]));
    let waived = bench.write("w.yaml", format!("{plan}waive: [speed]\n"));
    audit(&old, &waived).code(0);
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

#[test]
fn a_derived_plan_without_serials_serves_a_sister_machine() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let sister = bench
        .read("listing.txt")
        .replace("WW-KT-0042", "WW-KT-0043")
        .replace("Serial Number: 000051", "Serial Number: 000077");
    let sister = bench.write("sister.txt", sister);
    let own = plan_from(&listing);
    audit(&sister, &bench.write("own.yaml", own)).code(2);
    let any = stdout(&asfitted().args(["plan", "from", "--any-serial"]).arg(&listing).assert());
    audit(&sister, &bench.write("any.yaml", any)).code(0);
    let made = stdout(&asfitted().args(["plan", "from", "--format", "json"]).arg(&listing).assert());
    audit(&listing, &bench.write("made.json", made)).code(0);
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
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(line.contains("serial 000051F4) from s2.c1.p3 to s2.c1.p2"), "{text}");
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
