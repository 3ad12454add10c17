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

/// Two 2-rank modules in each of the first two slots of every channel, at 1066 MT/s; the kind is not stated, as by more
/// than half of the real listings.
fn without_kinds() -> String {
    let mut text = "# dmidecode 3.3\nSMBIOS 2.8 present.\n\n".to_owned();
    for at in 0..18_u8 {
        let (socket, channel, position) = (at / 9 + 1, at / 3 % 3 + 1, at % 3 + 1);
        let size = if position == 3 { "No Module Installed" } else { "16 GB" };
        text.push_str(&format!(
            "Handle 0x{at:04X}, DMI type 17, 40 bytes\nMemory Device\n\tTotal Width: 72 bits\n\tData Width: 64 bits\n\
             \tSize: {size}\n\tForm Factor: DIMM\n\tLocator: s{socket}.c{channel}.p{position}\n\
             \tBank Locator: Not Specified\n\tType: DDR3\n\tType Detail: Synchronous\n\tSpeed: 1333 MT/s\n\
             \tRank: 2\n\tConfigured Memory Speed: 1066 MT/s\n\n"
        ));
    }
    text + "Handle 0x0100, DMI type 127, 4 bytes\nEnd Of Table\n"
}

/// What the listing leaves open hides no limit of the rules; what the plan says of it is taken for them.
#[test]
fn rules_explain_a_speed_where_the_listing_leaves_fields_open() {
    let bench = Bench::new();
    let listing = bench.write("open.txt", without_kinds());
    let plan = |sticker: &str, slots: [&str; 2]| {
        let names = slots.map(|slot| {
            let all = ["1 a", "1 b", "1 c", "2 a", "2 b", "2 c"].map(|place| {
                let (socket, channel) = place.split_once(' ').unwrap();
                slot.replace("SOCKET", socket).replace("CHANNEL", channel)
            });
            all.join(", ")
        });
        let [first, second] = names;
        format!("fit:\n  - module: {sticker}\n    slots: [{first}, {second}]\nexpect: {{speed: 1333}}\n")
    };
    let as_listed = |sticker: &str| {
        let text = plan(sticker, ["sSOCKET.cCHANNEL.p1", "sSOCKET.cCHANNEL.p2"]);
        text.replace(".ca.", ".c1.").replace(".cb.", ".c2.").replace(".cc.", ".c3.")
    };
    let on_board =
        bench.write("board.yaml", plan("16GB 2Rx4 PC3-10600R", ["SOCKETCHANNEL1", "SOCKETCHANNEL2"]));
    let check = asfitted().args(["plan", "check", "--board", "ddr3-2x3x3"]).arg(on_board).assert();
    let range = "2 2-rank RDIMM in a channel run at 1066 to 1333 MT/s";
    assert!(stdout(&check).split_whitespace().collect::<Vec<_>>().join(" ").contains(range));
    for (sticker, likelihood, says) in [
        ("16GB 2Rx4 PC3-10600R", "likely", range),
        ("16GB 2Rx4", "possible", "run at 1066 to 1333 MT/s, by what is not known of them"),
    ] {
        let plan = bench.write("plan.yaml", as_listed(sticker));
        let mut audit = asfitted();
        audit.arg("audit").arg(&listing).arg("--plan").arg(plan).args(["--board", "ddr3-2x3x3"]);
        let result = json(&audit.args(["--format", "json"]).assert().code(1));
        let slow =
            result["findings"].as_array().unwrap().iter().find(|f| f["kind"] == "clocked-down").unwrap();
        let cause = &slow["causes"][0];
        assert_eq!(cause["likelihood"], likelihood, "{slow}");
        assert!(cause["why"].as_str().unwrap().contains(says), "{slow}");
        assert!(cause["check"].as_str().unwrap().contains("1066 to 1333 MT/s"), "{slow}");
        let notes = result["notes"].to_string();
        let taken = "kind, voltage of 12 modules taken from the plan";
        assert_eq!(notes.contains(taken), likelihood == "likely", "{notes}");
    }
}

/// What the plan cannot demand is said.
#[test]
fn a_size_that_is_not_exact_is_no_silent_gap_in_the_plan() {
    let bench = Bench::new();
    let slot = "Handle 0x0001, DMI type 17, 27 bytes\nMemory Device\n\tSize: 32767 MB\n\tLocator: A1\n\tType: DDR3\n\n";
    let listing = bench.write("marker.txt", slot);
    let derived = asfitted().args(["plan", "from"]).arg(&listing).assert().code(0);
    assert!(
        stderr(&derived).contains("A1: the listing does not state the exact size"),
        "{}",
        stderr(&derived)
    );
    assert!(
        stdout(&derived).contains("# A1: the listing does not state the exact size"),
        "{}",
        stdout(&derived)
    );
}
