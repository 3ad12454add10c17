//! Every real listing in the other formats that dmidecode and its users give it.

use asfitted::audit::Verdict;
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::population;
use asfitted::records;

use crate::util::corpus;

pub type Convert = fn(&str) -> String;

/// The blocks of the types that `keep` accepts, without the rest of the listing.
fn subset(text: &str, keep: fn(&str) -> bool) -> String {
    let blocks: Vec<&str> = text
        .split("\n\n")
        .filter(|block| {
            block.split_once("DMI type ").is_some_and(|(_, rest)| keep(rest.split(',').next().unwrap_or("")))
        })
        .collect();
    format!("# dmidecode 3.3\nGetting SMBIOS data from sysfs.\n\n{}\n\n", blocks.join("\n\n"))
}

/// `-q`: no handles, no comments, no records of makers.
fn quiet(text: &str) -> String {
    let handles = [
        "Array Handle",
        "Error Information Handle",
        "Physical Array Handle",
        "Physical Device Handle",
        "Memory Array Mapped Address Handle",
    ];
    text.split("\n\n")
        .filter_map(|block| {
            let (head, body) = block.split_once('\n')?;
            let kind: u8 = head.split_once("DMI type ")?.1.split(',').next()?.parse().ok()?;
            let lines =
                body.lines().filter(|line| !handles.iter().any(|key| line.trim_start().starts_with(key)));
            (kind < 126).then(|| lines.map(|line| format!("{line}\n")).collect::<String>())
        })
        .map(|block| format!("{block}\n"))
        .collect()
}

/// Releases 2.0 to 2.6: the handle on a line of its own, everything a tab deeper.
fn two_lines(text: &str) -> String {
    text.lines()
        .map(|line| match line.split_once(", DMI type ") {
            Some((handle, rest)) if line.starts_with("Handle ") => format!("{handle}\n\tDMI type {rest}.\n"),
            _ if line.is_empty() => "\n".to_owned(),
            _ => format!("\t{line}\n"),
        })
        .collect()
}

pub const FORMATS: &[(&str, Convert)] = &[
    ("memory subset", |text| subset(text, |kind| matches!(kind, "5" | "6" | "16" | "17"))),
    ("devices only", |text| subset(text, |kind| kind == "17")),
    ("quiet", quiet),
    ("two-line handles", two_lines),
    ("CRLF", |text| text.replace('\n', "\r\n")),
    ("MHz", |text| {
        text.replace(" MT/s", " MHz").replace("Configured Memory Speed", "Configured Clock Speed")
    }),
    ("spaces for tabs", |text| text.replace('\t', "        ")),
    ("twice in one file", |text| format!("{text}{text}")),
];

fn verdict(text: &Text, plan: &Plan) -> Verdict {
    let listings = records::read(text);
    corpus::audited(text, &listings[0], plan)
        .unwrap_or_else(|error| panic!("{}: {error}", text.name()))
        .verdict
}

fn plan_of(text: &Text) -> Plan {
    let listings = records::read(text);
    plan::from_population(&listings[0], &population::rebuild(&listings[0]), false).plan
}

/// In every format a listing fulfils its own plan, and never contradicts the plan of the full format.
#[test]
fn every_format_agrees_with_itself_and_with_the_full_one() {
    let mut proven = 0;
    for text in corpus::listings() {
        let full = plan_of(text);
        if full.slots.is_empty() {
            continue;
        }
        for (format, convert) in FORMATS {
            let name = format!("{} as {format}", text.name());
            let other = Text::from_bytes(name.as_str(), convert(text.as_str()).into_bytes()).unwrap();
            assert_eq!(verdict(&other, &plan_of(&other)), Verdict::AsPlanned, "{name}");
            let against_full = verdict(&other, &full);
            assert_ne!(against_full, Verdict::Deviates, "{name}");
            proven += u32::from(against_full == Verdict::AsPlanned);
        }
    }
    // The devices alone do not state the error correction that most plans demand, and without the records of the system
    // nothing states which machine it is; all other formats do.
    assert!(proven > 5_500, "{proven}");
}
