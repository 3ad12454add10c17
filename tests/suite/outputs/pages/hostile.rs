//! Pages of listings that hold markup and what else a browser would obey.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use super::size::large;
use crate::util::command::Bench;

/// What someone may put into a field: markup, script, handlers, entities, and characters that are obeyed.
const HOSTILE: &[&str] = &[
    "<script>hostile()</script>",
    "\"><img src=x onerror=hostile()>",
    "' onmouseover='hostile()",
    "</script><script>hostile()</script>",
    "</style></svg></title><script>hostile()</script>",
    "&lt;b&gt;&amp;&#60;&quot;",
    "javascript:hostile()",
    "<!--<![CDATA[ ]]>-->",
    "${hostile()}{{hostile()}}",
    "\u{202e}gnp\u{200b}\u{1b}[31m\u{9b}end",
];

/// As it must be seen.
fn seen(text: &str) -> String {
    asfitted::report::sanitize(text).into_owned()
}

fn hostile_listing() -> String {
    let first = HOSTILE[0];
    let mut out = format!(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: {first}\n\tProduct Name: {}\n\tSerial Number: {}\n\n",
        HOSTILE[3], HOSTILE[1]
    );
    for (at, text) in HOSTILE.iter().enumerate() {
        let _ = write!(
            out,
            "Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n\tSize: 16 GB\n\tLocator: {text}\n\tBank Locator: {text}\n\tType: DDR4\n\tSpeed: 2933 MT/s\n\tManufacturer: {text}\n\tSerial Number: S{at} {text}\n\tAsset Tag: {text}\n\tPart Number: P{at} {text}\n\tRank: 2\n\tConfigured Memory Speed: 2666 MT/s\n\n",
            0x30 + at
        );
    }
    out + "Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n"
}

/// A listing in which every field of every record that is read holds hostile text, but for the names of slots and machine,
/// by which the plan finds them.
fn hostile_fields() -> String {
    let mut text = 0;
    let mut hostile = || {
        text += 1;
        HOSTILE[text % HOSTILE.len()]
    };
    let lines = large(|_| "64 GB");
    let more = "Handle 0x0100, DMI type 2, 15 bytes\nBase Board Information\n\tManufacturer: x\n\tProduct Name: x\n\tSerial Number: x\n\tAsset Tag: x\n\nHandle 0x0101, DMI type 4, 42 bytes\nProcessor Information\n\tSocket Designation: x\n\tVersion: x\n\tStatus: x\n\nHandle 0x0102, DMI type 16, 23 bytes\nPhysical Memory Array\n\tLocation: x\n\tUse: System Memory\n\tError Correction Type: x\n\tMaximum Capacity: x\n\tNumber Of Devices: x\n\nHandle 0x0103, DMI type 19, 31 bytes\nMemory Array Mapped Address\n\tStarting Address: x\n\tEnding Address: x\n\n";
    let all = lines.replace("Handle 0x00FF", &format!("{more}Handle 0x00FF"));
    let hostile_line = |line: &str| match line.split_once(": ") {
        Some((key, _)) if line.starts_with('\t') && !["\tUse", "\tLocator"].contains(&key) => {
            format!("{key}: {}", hostile())
        }
        _ => line.to_owned(),
    };
    let (machine, rest) = all.split_at(all.find("Handle 0x0030").unwrap());
    machine.lines().map(str::to_owned).chain(rest.lines().map(hostile_line)).collect::<Vec<_>>().join("\n")
        + "\n"
}

/// Writes hostile pages; gives what must be seen on each.
pub fn write_hostile(folder: &Path, bench: &Bench) -> Value {
    bench.write("hostile.txt", hostile_listing());
    bench.asfitted().args(["plan", "from", "hostile.txt", "--output", "hostile.yaml"]).assert().code(0);
    // Half of the modules are gone, so that planned texts are in findings and steps.
    let mut count = 0;
    let lines: Vec<String> = hostile_listing()
        .lines()
        .map(|line| {
            count += usize::from(line.starts_with("\tSize"));
            if line.starts_with("\tSize") && count % 2 == 0 {
                "\tSize: No Module Installed".to_owned()
            } else {
                line.to_owned()
            }
        })
        .collect();
    bench.write("changed.txt", lines.join("\n") + "\n");
    let page = |arguments: &[&str], name: &str| {
        let run = bench
            .asfitted()
            .args(arguments)
            .args(["--format", "html", "--output"])
            .arg(folder.join(name))
            .output()
            .unwrap();
        assert_ne!(run.status.code(), Some(2), "{}", String::from_utf8_lossy(&run.stderr));
    };
    page(&["audit", "changed.txt", "--plan", "hostile.yaml"], "hostile-audit.html");
    page(&["diagnose", "changed.txt", "--plan", "hostile.yaml"], "hostile-diagnose.html");
    page(&["show", "hostile.txt"], "hostile-show.html");
    page(&["compare", "hostile.txt", "changed.txt"], "hostile-compare.html");
    bench.write("fields.txt", hostile_fields());
    bench.write("large.txt", large(|_| "64 GB"));
    bench.asfitted().args(["plan", "from", "large.txt", "--output", "large.yaml"]).assert().code(0);
    page(&["audit", "fields.txt", "--plan", "large.yaml"], "hostile-fields.html");
    page(&["show", "fields.txt"], "hostile-fields-show.html");
    write_hostile_fleet(folder, bench);
    let texts: Vec<String> = HOSTILE.iter().map(|text| seen(text)).collect();
    json!({
        "hostile-audit.html": texts, "hostile-diagnose.html": texts, "hostile-show.html": texts,
        "hostile-compare.html": texts, "hostile/index.html": texts, "hostile/hosts/000001.html": texts,
    })
}

/// A fleet whose hosts, stock and manifest are hostile too.
fn write_hostile_fleet(folder: &Path, bench: &Bench) {
    let mut lines = String::new();
    for text in HOSTILE {
        let listing = if text.len() % 2 == 0 { hostile_listing() } else { bench.read("changed.txt") };
        let _ = writeln!(lines, "{}", json!({"host": text, "listing": listing}));
    }
    let _ = writeln!(lines, "{}", json!({"host": "unreadable <b>", "listing": "nothing"}));
    let mut stock = String::from("serial,part,label,host\n");
    for text in HOSTILE {
        let quoted = format!("\"{}\"", text.replace('"', "\"\""));
        let _ = writeln!(stock, "{quoted},{quoted},{quoted},{quoted}");
    }
    bench.write("hostile.csv", stock);
    let manifest: String =
        HOSTILE.iter().map(|text| format!("\"{}\",hostile\n", text.replace('"', "\"\""))).collect();
    bench.write("manifest.csv", format!("host,plan\n{manifest}"));
    let run = bench
        .asfitted()
        .args([
            "fleet",
            "-",
            "--plans",
            "hostile.yaml",
            "--stock",
            "hostile.csv",
            "--manifest",
            "manifest.csv",
        ])
        .args(["--format", "html", "--output"])
        .arg(folder.join("hostile"))
        .write_stdin(lines)
        .assert();
    run.code(2);
}
