//! The documentation says what the code does.

use asfitted::audit::FindingKind;
use asfitted::diagnose::CauseKind;
use asfitted::evidence::{Source, Text};
use asfitted::plan::{self, DemandField};
use asfitted::sources::EventKind;
use asfitted::{demo, records};

use crate::util::corpus::audited;
use crate::util::path;

fn page(name: &str) -> String {
    std::fs::read_to_string(path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The page on findings as the tables have it: what a table states of a kind is written by the table, all else by
/// people.
fn findings_page(page: &str) -> String {
    let mut page = page.to_owned();
    for info in FindingKind::ALL.iter().map(|kind| kind.info()) {
        let heading = format!("## `{}`\n\n", info.word);
        if !page.contains(&heading) {
            let section = format!("{heading}Severity: {}.\nMeaning: .\n\n", info.severity.word());
            let verdicts = page.find("## Verdict and exit code").unwrap();
            page.insert_str(verdicts, &section);
        }
        let start = page.find(&heading).unwrap() + heading.len();
        let stated = ["Meaning: ", "Fault: ", "Warning: "].into_iter().find_map(|word| {
            let at = start + page[start..].find(word)?;
            (at < start + page[start..].find("\n\n")?).then_some(at + word.len())
        });
        let from = stated.unwrap_or_else(|| panic!("docs/findings.md: no meaning of `{}`", info.word));
        let to = from + page[from..].find('\n').unwrap();
        page.replace_range(from..to, &format!("{}.", info.meaning));
    }
    let rows = CauseKind::ALL.iter().map(|kind| kind.info());
    let rows: String = rows.map(|info| format!("| `{}` | {} |\n", info.word, info.meaning)).collect();
    let kinds = page.find("## Kinds of causes").unwrap();
    let from = kinds + page[kinds..].find("|---|---|\n").unwrap() + "|---|---|\n".len();
    let to = from + page[from..].find("\n\n").map_or(page.len() - from, |end| end + 1);
    page.replace_range(from..to, &rows);
    page
}

/// Every kind of finding has its section with its meaning, every kind of cause its row.
#[test]
fn findings_and_causes_are_described() {
    let there = page("docs/findings.md");
    let wanted = findings_page(&there);
    if there != wanted && std::env::var_os("ASFITTED_WRITE_DOCS").is_some() {
        std::fs::write(path("docs/findings.md"), wanted).unwrap();
        println!("written: docs/findings.md");
        return;
    }
    for (there, wanted) in there.lines().zip(wanted.lines()) {
        assert_eq!(
            there, wanted,
            "docs/findings.md is stale: write it with .ci/quick, or ASFITTED_WRITE_DOCS=1"
        );
    }
    assert_eq!(there, wanted, "docs/findings.md is stale: write it with .ci/quick, or ASFITTED_WRITE_DOCS=1");
}

#[test]
fn every_source_of_evidence_has_its_row() {
    let page = page("docs/diagnosis.md");
    // A listing is what the others stand beside.
    for source in Source::ALL.iter().filter(|source| **source != Source::Listing) {
        let cell = format!("| `{}` |", source.word());
        let rows = page.lines().filter(|line| line.starts_with("| ") && line.contains(&cell)).count();
        assert_eq!(rows, 1, "docs/diagnosis.md, \"Other evidence\" has no row, or two, of {cell}");
    }
}

#[test]
fn every_event_of_a_log_has_its_row() {
    let page = page("docs/diagnosis.md");
    for info in EventKind::ALL.iter().map(|kind| kind.info()) {
        let row = format!("| {} |", info.name);
        assert!(page.contains(&row), "docs/diagnosis.md, \"Memory events\" has no row: {row}");
    }
}

#[test]
fn every_key_of_a_plan_is_described() {
    let page = page("docs/plan.md");
    for key in [
        "order",
        "processors",
        "mode",
        "name",
        "machine",
        "serial",
        "asset_tag",
        "host",
        "product",
        "board",
        "fit",
        "module",
        "slots",
        "serials",
        "empty",
        "idle",
        "expect",
        "speed",
        "total",
        "ecc",
        "waive",
        "sticker",
        "size",
        "ranks",
        "width",
        "type",
        "kind",
        "rated",
        "voltage",
        "maker",
        "part",
    ] {
        assert!(page.contains(&format!("`{key}`")), "{key}");
    }
    for (_, word) in DemandField::WORDS {
        assert!(page.contains(&format!("`{word}`")), "{word}");
    }
}

/// Every plan in the documentation reads, and those for the demo can be audited against it.
#[test]
fn plans_in_the_documentation_work() {
    let text = Text::from_bytes("demo", demo::LISTING.as_bytes().to_vec()).unwrap();
    let listings = records::read(&text);
    let mut plans = 0;
    for name in ["README.md", "docs/plan.md", "docs/boards.md"] {
        for block in page(name).split("```yaml\n").skip(1) {
            let yaml = block.split("```").next().unwrap();
            // Fragments show one key; whole plans demand something.
            if !yaml.contains("fit:") || !yaml.contains("slots:") {
                continue;
            }
            let plan = plan::read(name, yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
            if yaml.contains("s1.c1.p1") {
                audited(&text, &listings[0], &plan).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
            }
            plans += 1;
        }
    }
    assert!(plans >= 3, "{plans}");
}

/// A page that is named exists.
#[test]
fn links_between_pages_lead_somewhere() {
    for name in [
        "README.md",
        "DEVELOPERS.md",
        "docs/plan.md",
        "docs/findings.md",
        "docs/json.md",
        "docs/limits.md",
        "docs/fleet.md",
        "docs/performance.md",
        "docs/diagnosis.md",
        "docs/boards.md",
        "docs/pages.md",
    ] {
        let folder = path(name).parent().unwrap().to_path_buf();
        for link in page(name).split("](").skip(1) {
            let target = link.split([')', '#']).next().unwrap();
            if !target.is_empty() && !target.contains("://") {
                assert!(folder.join(target).exists(), "{name}: {target}");
            }
        }
    }
}
