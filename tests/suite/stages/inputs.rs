//! What the command does not overwrite, and what it says of inputs it cannot take.

use std::io::Write;

use crate::util::command::{Bench, asfitted, audit, json, stderr, stdout};

/// No result takes the place of what it was made of, by whatever path it is named.
/// Long, since it goes through every option that names a file.
#[test]
fn the_output_is_no_input() {
    let bench = Bench::new();
    let text = bench.read("listing.txt");
    let (listing, plan) = (bench.path("listing.txt"), bench.path("plan.yaml"));
    let order = bench.write("order.yaml", "board: ddr3-2x3x3\norder: [1 x 16GB 2Rx4 PC3-10600R]\n");
    let board =
        bench.write("board.yaml", stdout(&asfitted().args(["boards", "print", "ddr3-2x3x3"]).assert()));
    let (l, p, o, b) =
        (listing.to_str().unwrap(), plan.to_str().unwrap(), order.to_str().unwrap(), board.to_str().unwrap());
    for (command, target) in [
        (vec!["show", l], l),
        (vec!["audit", l, "--plan", p], l),
        (vec!["audit", l, "--plan", p], p),
        (vec!["audit", l, "--plan", p, "--board", b], b),
        (vec!["diagnose", l], l),
        (vec!["plan", "from", l], l),
        (vec!["plan", "check", o], o),
        (vec!["plan", "place", o], o),
        (vec!["compare", l, p], p),
        (vec!["compare", p, l], p),
        (vec!["boards", "derive", l], l),
        (vec!["boards", "print", b], b),
    ] {
        let before = std::fs::read(target).unwrap();
        let message = stderr(&asfitted().args(&command).args(["--output", target]).assert().code(2));
        assert!(message.contains("place of a result") || command[0] == "compare", "{command:?}: {message}");
        assert_eq!(std::fs::read(target).unwrap(), before, "{command:?}");
    }
    let link = bench.path("link.txt");
    std::fs::hard_link(&listing, &link).unwrap();
    asfitted().arg("show").arg(&listing).arg("--output").arg(&link).assert().code(2);
    // The work order is a result too, by whatever name, and so it is beside any input.
    bench.write("memory.txt", "MemTotal: 160000000 kB\n");
    let with = bench.path("memory.txt");
    let mut names = vec![listing.clone(), plan.clone(), with.clone(), link];
    #[cfg(unix)]
    for (number, target) in [&listing, &plan, &with].into_iter().enumerate() {
        let soft = bench.path(&format!("soft{number}"));
        std::os::unix::fs::symlink(target, &soft).unwrap();
        names.push(soft);
    }
    let read = || [&listing, &plan, &with].map(|path| std::fs::read(path).unwrap());
    let before = read();
    for name in &names {
        for option in ["--work", "--output"] {
            let mut command = asfitted();
            command
                .arg("audit")
                .arg(&listing)
                .arg("--plan")
                .arg(&plan)
                .arg("--with")
                .arg(&with)
                .arg(option)
                .arg(name);
            let message = stderr(&command.assert().code(2));
            assert!(message.contains("place of a result"), "{option} {}: {message}", name.display());
            assert_eq!(read(), before, "{option} {}", name.display());
        }
    }
    assert_eq!(bench.read("listing.txt"), text);
}

#[test]
fn the_demo_overwrites_nothing() {
    let bench = Bench::new();
    bench.write("plan.yaml", "mine");
    std::fs::remove_file(bench.path("listing.txt")).unwrap();
    let message = stderr(&asfitted().args(["demo", "--files"]).arg(bench.path("")).assert().code(2));
    assert!(message.contains("plan.yaml") && message.contains("already exists"), "{message}");
    assert_eq!(bench.read("plan.yaml"), "mine");
    assert!(!bench.path("listing.txt").exists());
}

#[test]
fn other_forms_of_text_are_named() {
    let bench = Bench::new();
    let wide = |text: &str| text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>();
    let text = bench.read("listing.txt");
    let marked = bench.write("marked.txt", [vec![0xFF, 0xFE], wide(&text)].concat());
    let bare = bench.write("bare.txt", wide(&text));
    // The second line names the file.
    let without_name =
        |shown: &str| shown.lines().filter(|line| !line.starts_with("listing")).collect::<String>();
    let plain = stdout(&asfitted().arg("show").arg(bench.path("listing.txt")).assert().code(0));
    for wide in [marked, bare] {
        let shown = stdout(&asfitted().arg("show").arg(wide).assert().code(0));
        assert_eq!(without_name(&shown), without_name(&plain));
    }
    let demanded = bench.read("plan.yaml");
    let mark = "\u{FEFF}";
    for written in
        [wide(&demanded), wide(&format!("{mark}{demanded}")), format!("{mark}{demanded}").into_bytes()]
    {
        audit(&bench.path("listing.txt"), &bench.write("wide.yaml", written)).code(1);
    }
    let board =
        stdout(&asfitted().args(["boards", "derive"]).arg(bench.path("listing.txt")).assert().code(0));
    let board = bench.write("board.yaml", wide(&format!("{mark}{board}")));
    asfitted().args(["boards", "print"]).arg(board).assert().code(0);
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    gzip.write_all(text.as_bytes()).unwrap();
    let packed = bench.write("padded.gz", [gzip.finish().unwrap(), vec![0; 100]].concat());
    let shown = stdout(&asfitted().arg("show").arg(packed).assert().code(0));
    assert!(!shown.contains("ends early"), "{shown}");
    let message =
        stderr(&asfitted().arg("show").arg(bench.path("listing.txt")).args(["--nth", "2"]).assert().code(2));
    assert!(message.contains("found 1 listing,") && message.contains("Leave `--nth` out"), "{message}");
    let message = stderr(&asfitted().args(["boards", "print", "banana"]).assert().code(2));
    assert!(!message.contains("  ") && message.contains("boards list"), "{message}");
}

#[test]
fn two_quiet_listings_are_two() {
    let bench = Bench::new();
    let slot = |name: &str, size: &str| {
        format!(
            "Memory Device\n\tTotal Width: 72 bits\n\tSize: {size}\n\tLocator: {name}\n\tBank Locator: B\n\tType: DDR4\n\n"
        )
    };
    let array = "Physical Memory Array\n\tUse: System Memory\n\tNumber Of Devices: 2\n\n";
    let system = "System Information\n\tManufacturer: Willow Works\n\tSerial Number: W1\n\n";
    let slots = |size: &str| array.to_owned() + &slot("A1", "16 GB") + &slot("A2", size);
    let one = system.to_owned() + &slots("16 GB");
    let two = bench.write("two.txt", one.clone() + system + &slots("8 GB"));
    let message = stderr(&asfitted().arg("show").arg(&two).assert().code(2));
    assert!(message.contains("2 listings") && message.contains("line"), "{message}");
    let shown = stdout(&asfitted().arg("show").arg(&two).args(["--nth", "2"]).assert().code(0));
    assert!(shown.starts_with("24 GiB in 2 of 2 slots"), "{shown}");
    let same = bench.write("same.txt", one.clone() + &one);
    let shown = stdout(&asfitted().arg("show").arg(&same).assert().code(0));
    assert!(shown.starts_with("32 GiB in 2 of 2 slots"), "{shown}");
}

/// Listings of two machines can be compared, and that is said.
#[test]
fn another_machine_is_named_in_a_comparison() {
    let bench = Bench::new();
    let listing = bench.path("listing.txt");
    let other = bench.write("other.txt", bench.read("listing.txt").replace("WW-KT-0042", "WW-KT-0043"));
    let assert = asfitted().arg("compare").arg(&listing).arg(&other).assert().code(0);
    for text in [stdout(&assert), stderr(&assert)] {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("different machines: serial number WW-KT-0042 in line"), "{text}");
    }
    let compare = || {
        let mut command = asfitted();
        command.arg("compare").arg(&listing).args(["--format", "json"]);
        command
    };
    assert_eq!(json(&compare().arg(&other).assert())["notes"].as_array().unwrap().len(), 1);
    assert_eq!(json(&compare().arg(&listing).assert())["notes"].as_array().unwrap().len(), 0);
}
