//! Derived boards on all real machines.

use asfitted::audit::{Verdict, audit};
use asfitted::board::{self, ExpectedSpeed};
use asfitted::case::Case;
use asfitted::{plan, population, records};

use crate::util::{corpus, path};

/// On every real listing whose labels prove its topology, the derived board with the derived plan audits as
/// planned, and the board reads back from its YAML.
#[test]
fn derived_boards_hold_on_real_machines() {
    let (mut complete, mut classed) = (0, 0);
    for text in corpus::listings() {
        let listings = records::read(text);
        let mut population = population::rebuild(&listings[0]);
        let derived = board::from_population(text.name(), &population);
        if !derived.complete {
            continue;
        }
        complete += 1;
        let yaml = board::to_yaml(&derived.board, &[]);
        let board = board::read(text.name(), &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
        classed += u32::from(board.class.is_some());
        let plan = plan::from_population(&listings[0], &population, false).plan;
        let board = board::adapt(&board, &population).unwrap_or_else(|error| panic!("{error}"));
        board::place_on(&mut population, &board);
        let audit = audit(&Case::of(text, &listings[0]).plan(&plan).board(&board).build().unwrap());
        assert_eq!(audit.verdict, Verdict::AsPlanned, "{}: {:#?}\n{yaml}", text.name(), audit.findings);
    }
    println!("{complete} derived boards, {classed} of a known class");
    assert!(complete > 600 && classed > 200, "{complete} {classed}");
}

/// The counts in docs/boards.md: what the rules say about real machines where the plan states no speed.
#[test]
fn rule_findings_on_real_machines() {
    let (mut known, mut bounded) = (0, 0);
    let mut findings = std::collections::BTreeMap::new();
    for text in corpus::listings() {
        let listings = records::read(text);
        let mut population = population::rebuild(&listings[0]);
        let derived = board::from_population(text.name(), &population);
        if !derived.complete {
            continue;
        }
        let board = board::read(text.name(), &board::to_yaml(&derived.board, &[])).unwrap();
        board::place_on(&mut population, &board);
        let mut plan = plan::from_population(&listings[0], &population, false).plan;
        plan.expect.speed = None;
        let audit = audit(&Case::of(text, &listings[0]).plan(&plan).board(&board).build().unwrap());
        for finding in audit.findings {
            *findings.entry(finding.kind.word()).or_insert(0) += 1;
        }
        if board.class.is_some() {
            match audit.prediction.unwrap().speed {
                ExpectedSpeed::Known { .. } => known += 1,
                ExpectedSpeed::AtMost(_) => bounded += 1,
                ExpectedSpeed::Unknown => {}
            }
        }
    }
    assert_eq!((known, bounded), (37, 283));
    assert_eq!(findings.into_iter().collect::<Vec<_>>(), [("listing-damaged", 25), ("uneven", 38)]);
    let page = std::fs::read_to_string(path("docs/boards.md")).unwrap();
    for part in ["667 of the 937", "320 of these", "37 of the 320", "for 283", "38 times `uneven`"] {
        assert!(page.contains(part), "{part}");
    }
}
