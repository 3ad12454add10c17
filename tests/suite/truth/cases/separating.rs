//! What separates causes: two machines that differ in one piece of evidence, and the first cause of each.

use super::facts::{State, block};
use super::{Said, diagnosed};

fn said(lines: &[&str]) -> Said {
    let facts = block(&format!("case machine\nfound any\n{}", lines.join("\n")));
    let State::Given(given) = &facts.state else { panic!("nothing given") };
    diagnosed(&facts, given)
}

fn first(lines: &[&str]) -> String {
    said(lines).first
}

/// The place of a kind among the causes, counted from 0.
fn rank(said: &Said, kind: &str) -> Option<usize> {
    if said.first == kind {
        return Some(0);
    }
    said.rest.iter().position(|other| other == kind).map(|at| at + 1)
}

const HALF: [&str; 3] =
    ["module 16 GB, DDR4, 2666: s1.c{1,2}.p{1,2}", "empty: s2.c{1,2}.p{1,2}", "fitted 8 x 16GB"];

/// All of a processor's modules are gone: one that the log names takes the others along, else it is the processor.
#[test]
fn a_group_goes_with_its_bad_member() {
    let [there, gone, fitted] = HALF;
    let silent = said(&[there, gone, fitted]);
    assert_eq!(silent.first, "processor-down");
    assert!(rank(&silent, "group-disabled").is_some(), "{:?}", silent.rest);
    let log = "log Memory | Uncorrectable ECC s2.c2.p2";
    let named = said(&[there, gone, fitted, log]);
    assert!(named.first == "group-disabled", "{} {:?}", named.first, named.rest);
    // A complaint about what is left of the group is its second effect.
    let complaint = "log Memory | Configuration Error";
    assert_eq!(first(&[there, gone, fitted, log, complaint]), "group-disabled");
    assert_eq!(first(&[there, gone, fitted, complaint]), "rule-lock-out");
}

/// The names of the slots show a card where no label proves a channel; two of its eight are no card.
#[test]
fn a_card_is_a_group() {
    let card = said(&[
        "module 2 GB, DDR2, 667: Card {2,3} DIMM {1..4}",
        "empty: Card 1 DIMM {1..4}",
        "fitted 12 x 2GB",
    ]);
    assert_eq!(card.first, "group-disabled");
    let part = said(&[
        "module 2 GB, DDR2, 667: Card {2,3} DIMM {1..4}, Card 1 DIMM {1..3}",
        "empty: Card 1 DIMM 4",
        "fitted 12 x 2GB",
    ]);
    assert_eq!((part.first.as_str(), rank(&part, "group-disabled")), ("not-seated", None));
}

const ONE: [&str; 3] = ["module 16 GB, DDR4, 2666: s1.c{1,2,3}.p1", "empty: s1.c4.p1", "fitted 4 x 16GB"];

/// A slot is enabled again before a new module is blamed, and first of all if a module was changed.
#[test]
fn a_slot_that_was_switched_off_comes_before_the_module() {
    let [there, gone, fitted] = ONE;
    let one = said(&[there, gone, fitted]);
    assert_eq!(one.first, "not-seated");
    assert!(rank(&one, "disabled") < rank(&one, "bad-module"), "{:?}", one.rest);
    let changed = said(&[there, gone, fitted, "after module"]);
    assert_eq!((changed.first.as_str(), changed.step.as_str()), ("disabled", "setting"));
}

const TWO: [&str; 3] =
    ["module 16 GB, DDR4, 2666: s1.c{1,2,3,4,5}.p1", "empty: s1.c{6,7,8}.p1", "fitted 8 x 16GB"];
const ALL_BEFORE: &str = "earlier-module 16 GB, DDR4, 2666: s1.c{1,2,3,4,5,6,7,8}.p1";

/// Several modules that went with another version of the firmware; by one listing that is a question.
#[test]
fn firmware_comes_first_where_it_changed_and_several_went() {
    let [there, gone, fitted] = TWO;
    let asked = said(&[there, gone, fitted]);
    assert_eq!(asked.first, "not-seated");
    assert!(rank(&asked, "firmware").is_some(), "{:?}", asked.rest);
    assert_eq!(first(&[there, gone, fitted, "after firmware"]), "firmware");
    let versions = |now| ["earlier-firmware 1.0".to_owned(), format!("firmware {now}")];
    let changed = versions("2.0");
    let [before, now] = [changed[0].as_str(), changed[1].as_str()];
    let newer = said(&[there, gone, ALL_BEFORE, before, now]);
    // One step, however many modules went.
    assert_eq!((newer.first.as_str(), newer.step.as_str(), newer.alike), ("firmware", "setting", 1));
    let same = versions("1.0");
    let unchanged = said(&[there, gone, ALL_BEFORE, &same[0], &same[1]]);
    assert_eq!((unchanged.first.as_str(), rank(&unchanged, "firmware")), ("not-seated", None));
    // What was missing before the change has another reason, and one module is not several.
    let before_too =
        ["earlier-module 16 GB, DDR4, 2666: s1.c{1,2,3,4,5}.p1", "earlier-empty: s1.c{6,7,8}.p1"];
    assert_ne!(first(&[there, gone, fitted, before_too[0], before_too[1], before, now]), "firmware");
    let [there, gone, fitted] = ONE;
    let single = said(&[there, gone, fitted, "after firmware"]);
    assert_eq!((single.first.as_str(), rank(&single, "firmware")), ("not-seated", Some(1)));
}

/// A set that changes is contact or timing; one that stays is not.
#[test]
fn a_set_that_changes_is_unsteady() {
    let [there, gone, fitted] = TWO;
    let other = ["earlier-module 16 GB, DDR4, 2666: s1.c{3,4,5,6,7,8}.p1", "earlier-empty: s1.c{1,2}.p1"];
    let changing = said(&[there, gone, fitted, other[0], other[1]]);
    assert_eq!((changing.first.as_str(), changing.step.as_str()), ("unsteady", "command"));
    assert_ne!(first(&[there, gone, fitted, other[0], other[1], "after module"]), "unsteady");
    let same = ["earlier-module 16 GB, DDR4, 2666: s1.c{1,2,3,4,5}.p1", "earlier-empty: s1.c{6,7,8}.p1"];
    assert_ne!(first(&[there, gone, fitted, same[0], same[1]]), "unsteady");
}

/// An earlier listing stands in for a plan: what was seen then is missed now.
#[test]
fn an_earlier_listing_says_what_was_there() {
    let [there, gone, _] = TWO;
    assert_eq!(first(&[there, gone]), "no-loss");
    assert_eq!(first(&[there, gone, ALL_BEFORE]), "not-seated");
}

/// What the log says of the slot: the rule before the test, a worn module before seating, a failed start by its two events.
#[test]
fn the_log_separates() {
    let [there, gone, fitted] = ONE;
    let slot = "s1.c4.p1";
    let log = |events: &[&str]| -> Said {
        let rows: Vec<String> = events.iter().map(|event| format!("log Memory | {event}, {slot}")).collect();
        let mut lines = vec![there, gone, fitted];
        lines.extend(rows.iter().map(String::as_str));
        said(&lines)
    };
    let disabled = "Memory Device Disabled";
    assert_eq!(log(&[disabled]).first, "disabled");
    assert_eq!(log(&[disabled, "Configuration Error"]).first, "rule-lock-out");
    assert_eq!(log(&[disabled, "Memory Scrub Failed"]).first, "failed-training");
    let worn = log(&["Correctable ECC logging limit reached", disabled]);
    assert_eq!((worn.first.as_str(), worn.step.as_str(), worn.brings.len()), ("bad-module", "replace", 1));
    // Errors of a running module are its own, whatever the firmware complains about.
    assert_eq!(log(&["Uncorrectable ECC", "Configuration Error"]).first, "bad-module");
    // On a module that is listed, the complaint comes first as well.
    let listed = "module 16 GB, DDR4, 2666: s1.c{1,2,3,4}.p1";
    let failed = format!("log Memory | {disabled}, {slot}");
    assert_ne!(first(&[listed, &failed]), "rule-lock-out");
    assert_eq!(first(&[listed, &failed, "log Memory | Configuration Error"]), "rule-lock-out");
}

/// A slot that the log names is where the missing module is, even if the rest of the board is filled evenly without it.
#[test]
fn the_log_names_the_suspect() {
    let lines =
        ["module 16 GB, DDR4, 2666: s1.c{1,2,3}.p1", "empty: s1.c4.p1, s1.c{1,2,3,4}.p2", "fitted 4 x 16GB"];
    let elsewhere = "log Memory | Uncorrectable ECC, s1.c2.p2";
    let named = said(&[lines[0], lines[1], lines[2], elsewhere]);
    assert_eq!((named.first.as_str(), named.step.as_str()), ("bad-module", "replace"));
    // Without known channels, it is the only one that can be named.
    let unknown = ["module 16 GB, DDR4, 2666: Slot {1..5}", "empty: Slot {6,7,8}", "fitted 6 x 16GB"];
    assert_eq!(first(&unknown), "unnamed");
    let log = "log Memory | Memory Device Disabled, Slot 7";
    assert_eq!(first(&[unknown[0], unknown[1], unknown[2], log]), "disabled");
    // As many empty slots as modules leave no choice.
    assert_eq!(first(&[unknown[0], "empty: Slot 6", unknown[2]]), "not-seated");
}

/// The three numbers: what was stated, what is listed, what the system sees.
#[test]
fn the_system_that_sees_what_was_meant_proves_the_listing_wrong() {
    let listed = "module 16 GB, DDR4, 2666: DIMM {0,1}";
    let wrong = said(&[listed, "fitted 64 GiB", "sees 62.6 GiB"]);
    assert_eq!((wrong.first.as_str(), wrong.step.as_str()), ("listing-wrong", "command"));
    assert!(wrong.reasons[0].starts_with("the listing is wrong"), "{:?}", wrong.reasons);
    assert_eq!(first(&[listed, "fitted 64 GiB", "sees 31 GiB"]), "unnamed");
}

/// How much is visible, and of what kind of machine.
#[test]
fn the_size_of_what_is_not_visible_separates() {
    let server = "module 4 GB, DDR3, 1333, x72: DIMM {1..4}";
    // Less than a 32-bit system would see of it.
    assert_eq!(first(&[server, "sees 1.48 GiB"]), "share");
    assert_eq!(first(&[server, "sees 3 GiB"]), "32-bit");
    // A kernel whose addresses go beyond 32 bits is none of those.
    assert_eq!(first(&[server, "sees 3 GiB", "wide"]), "share");
    assert_eq!(first(&["module 2 GB, x64: A0, A1", "sees 3.2 GiB"]), "32-bit");
    assert_eq!(first(&["module 16 GB, x72: A0, A1", "sees 15.6 GiB"]), "mirroring");
    // Nothing is held twice without check bits.
    assert_eq!(first(&["module 16 GB, x64: A0, A1", "array None", "sees 15.6 GiB"]), "module-unused");
    // Chips on the board are not taken out of use one by one.
    let soldered = "module 16 GB, LPDDR5, x64, soldered: A0, A1";
    assert_eq!(first(&[soldered, "array None", "sees 15.6 GiB"]), "setting");
}
