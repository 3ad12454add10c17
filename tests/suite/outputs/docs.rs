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

#[test]
fn every_finding_has_its_section() {
    let page = page("docs/findings.md");
    for info in FindingKind::ALL.iter().map(|kind| kind.info()) {
        assert!(page.contains(&format!("## `{}`", info.word)), "{}", info.word);
        assert!(page.contains(info.meaning), "{}: {}", info.word, info.meaning);
    }
}

#[test]
fn every_kind_of_cause_has_its_row() {
    let page = page("docs/findings.md");
    for info in CauseKind::ALL.iter().map(|kind| kind.info()) {
        let row = format!("| `{}` | {} |", info.word, info.meaning);
        assert!(page.contains(&row), "docs/findings.md, \"Kinds of causes\" has no row: {row}");
    }
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
