//! What must hold for every real listing.

use std::collections::BTreeMap;

use asfitted::records::{self, NoteKind};
use asfitted::{audit, plan, population};

use crate::util::corpus::{audited, listings};
use crate::util::others;

#[test]
fn all_listings_are_there() {
    assert_eq!((listings().len(), others::listings().len()), (937, 1895));
}

/// Every listing gives one machine, and every note has an explanation and a place.
#[test]
fn every_note_is_explained() {
    let mut counts: BTreeMap<&str, u32> = BTreeMap::new();
    for text in listings() {
        let read = records::read(text);
        assert_eq!(read.len(), 1, "{}", text.name());
        for note in &read[0].notes {
            assert!(!note.kind.explanation().is_empty() && !note.kind.word().is_empty());
            let place = note.place.unwrap_or_else(|| panic!("{}: {:?} has no place", text.name(), note.kind));
            assert!(!read[0].line(place).is_empty(), "{}: {:?}", text.name(), note.kind);
            *counts.entry(note.kind.word()).or_default() += 1;
        }
        // A value that cannot be read would be a format that nobody has looked at.
        assert!(!read[0].notes.iter().any(|note| note.kind == NoteKind::UnreadableValue), "{}", text.name());
    }
    // Counted once by hand with other means: 25 tables end broken, 74 listings have scrubbed lines, one has a
    // stray line, one has no end record, 80 are newer than their dmidecode.
    let want = BTreeMap::from([
        ("broken", 25),
        ("newer-than-utility", 80),
        ("no-end", 1),
        ("scrubbed-lines", 74),
        ("stray-lines", 1),
    ]);
    assert_eq!(counts, want);
}

/// The plan derived from a listing is fulfilled by it, reads back from its YAML, and says the same then.
#[test]
fn every_listing_fulfils_its_own_plan() {
    for text in listings().iter().chain(others::listings()) {
        let read = records::read(text);
        let population = population::rebuild(&read[0]);
        let derived = plan::from_population(&read[0], &population, false);
        // Without a module and an empty slot that has a name no plan is made, see `asfitted plan from`.
        if derived.plan.slots.is_empty() {
            continue;
        }
        let yaml = plan::to_yaml(&derived.plan, &[]);
        let again =
            plan::read("derived", &yaml).unwrap_or_else(|error| panic!("{}: {error}\n{yaml}", text.name()));
        let result =
            audited(text, &read[0], &again).unwrap_or_else(|error| panic!("{}: {error}", text.name()));
        assert_eq!(result.verdict, audit::Verdict::AsPlanned, "{}: {:#?}", text.name(), result.findings);
        // Damage to the listing is the listing's own; the comparison itself says nothing.
        for finding in &result.findings {
            assert_eq!(finding.kind, audit::FindingKind::ListingDamaged, "{}", text.name());
        }
    }
}
