//! Pages of large machines stay small.

use std::fmt::Write as _;

use super::{both, same_findings};
use crate::util::command::{Bench, asfitted};

/// A listing of two sockets, eight channels each, three slots each.
pub fn large(size: impl Fn(usize) -> &'static str) -> String {
    let mut out = String::from(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: Wetherlam Works\n\tProduct Name: Heron Two\n\tSerial Number: WT-9001\n\n",
    );
    for at in 0..48 {
        let slot = format!("s{}.c{}.p{}", at / 24 + 1, at % 24 / 3 + 1, at % 3 + 1);
        let _ = write!(
            out,
            "Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tSize: {}\n\tLocator: {slot}\n\tType: DDR4\n\tType Detail: Synchronous Registered (Buffered)\n\tSpeed: 2933 MT/s\n\tManufacturer: Wetherlam\n\tSerial Number: WM90{at:04}\n\tPart Number: WH64-2R4-2933{at:02}\n\tRank: 2\n\tConfigured Memory Speed: 2666 MT/s\n\n",
            0x30 + at,
            size(at)
        );
    }
    out + "Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n"
}

/// 200 KB for 48 slots, as the worst machine has: each slot with a fault of its own, and all of them slow.
#[test]
fn pages_stay_small() {
    let bench = Bench::new();
    bench.write("good.txt", large(|_| "64 GB"));
    bench.write("bad.txt", large(|at| ["No Module Installed", "32 GB", "16 GB"][at % 3]));
    asfitted()
        .current_dir(bench.path(""))
        .args(["plan", "from", "good.txt", "--output", "good.yaml"])
        .assert()
        .code(0);
    let plan = bench.read("good.yaml").replace("2666", "2933");
    bench.write("good.yaml", plan);
    let (json, page) = both(&["audit", "bad.txt", "--plan", "good.yaml"], &bench.path(""));
    // Modules that are missing or wrong alike are one finding with all their slots.
    let findings = json["findings"].as_array().unwrap();
    let slots: usize = findings.iter().map(|finding| finding["slots"].as_array().unwrap().len()).sum();
    assert!(slots >= 48, "{slots}");
    same_findings(&json, &page, "48 faults");
    for arguments in [
        vec!["audit", "bad.txt", "--plan", "good.yaml"],
        vec!["diagnose", "bad.txt", "--plan", "good.yaml"],
        vec!["show", "bad.txt"],
        vec!["compare", "good.txt", "bad.txt"],
    ] {
        let output = asfitted()
            .current_dir(bench.path(""))
            .args(&arguments)
            .args(["--format", "html"])
            .output()
            .unwrap();
        println!("{}: {} bytes", arguments[0], output.stdout.len());
        assert!((10_000..200_000).contains(&output.stdout.len()), "{arguments:?}: {}", output.stdout.len());
    }
}
