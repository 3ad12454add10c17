//! Whatever the input, reading and auditing end without a panic, and evidence is what it claims to be.

use asfitted::audit::{self, Finding};
use asfitted::case::Case;
use asfitted::diagnose::diagnose;
use asfitted::evidence::Text;
use asfitted::plan;
use asfitted::population::{self, Population};
use asfitted::records;
use asfitted::report::{self, Extent, Layout};
use proptest::prelude::*;

use crate::util::corpus;

/// Runs the whole main job on any bytes: reading, population, plan, audit, every report.
fn do_everything(bytes: Vec<u8>) {
    let Ok(text) = Text::from_bytes("any", bytes) else { return };
    for listing in records::read(&text) {
        let population = population::rebuild(&listing);
        names_are_unique(&population);
        let derived = plan::from_population(&listing, &population, false);
        let yaml = plan::to_yaml(&derived.plan, &derived.cautions);
        let machine = Case::of(&text, &listing);
        let shown = machine.build().unwrap();
        for layout in LAYOUTS {
            let mut out = Vec::new();
            report::write_population(&shown, layout, &mut out).unwrap();
            no_line_is_too_wide(&out, layout.width);
        }
        serde_json::to_string(&report::population_json(&shown)).unwrap();
        if derived.plan.slots.is_empty() {
            continue;
        }
        let again = plan::read("derived", &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
        let machine = Case::of(&text, &listing).plan(&again);
        let case = machine.build().unwrap_or_else(|error| panic!("{error}\n{yaml}"));
        let audit = audit::audit(&case);
        assert_ne!(audit.verdict, audit::Verdict::Deviates, "{:#?}\n{yaml}", audit.findings);
        evidence_is_in_the_text(&text, &audit.findings);
        let diagnosis = diagnose(&case, &audit);
        for layout in LAYOUTS {
            let mut out = Vec::new();
            report::write_audit(&diagnosis, layout, &mut out).unwrap();
            no_line_is_too_wide(&out, layout.width);
        }
        let mut out = Vec::new();
        report::write_work(&diagnosis, &mut out).unwrap();
        no_line_is_too_wide(&out, 80);
        serde_json::to_string(&report::audit_json(&diagnosis)).unwrap();
    }
}

fn names_are_unique(population: &Population<'_>) {
    let mut names: Vec<&str> = population.slots.iter().map(|slot| slot.name.as_ref()).collect();
    names.sort_unstable();
    let all = names.len();
    names.dedup();
    assert_eq!(names.len(), all);
}

fn evidence_is_in_the_text(text: &Text, findings: &[Finding]) {
    let lines: Vec<&str> = text.as_str().split('\n').collect();
    for evidence in findings.iter().flat_map(|finding| &finding.evidence) {
        let line = lines[evidence.line as usize - 1];
        assert!(line.contains(&evidence.text), "line {}: {line:?} lacks {:?}", evidence.line, evidence.text);
    }
}

/// Widths of terminals with all that text can say.
const LAYOUTS: [Layout; 3] = [
    Layout { width: 80, extent: Extent::Full },
    Layout { width: 50, extent: Extent::Usual },
    Layout { width: 150, extent: Extent::Brief },
];

/// Reports keep to the width, and no control character of the input reaches the output.
fn no_line_is_too_wide(out: &[u8], width: usize) {
    let plain = anstream::adapter::strip_bytes(out).into_vec();
    for line in String::from_utf8(plain).unwrap().lines() {
        assert!(unicode_width::UnicodeWidthStr::width(line) <= width, "{line}");
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
}

/// Real text cut, doubled, and with bytes replaced.
fn mutated() -> impl Strategy<Value = Vec<u8>> {
    let edits = proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0u8..5), 0..24);
    (any::<prop::sample::Index>(), edits).prop_map(|(which, edits)| {
        let listings = corpus::listings();
        let mut bytes = listings[which.index(listings.len())].as_str().as_bytes().to_vec();
        for (at, byte, how) in edits {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 => {
                    bytes.remove(at);
                }
                3 => bytes.truncate(at.max(bytes.len() / 2)),
                _ => {
                    let end = (at + usize::from(byte) * 8).min(bytes.len());
                    let piece = bytes[at..end].to_vec();
                    bytes.splice(at..at, piece);
                }
            }
        }
        bytes
    })
}

/// Lines that look like a listing's, in any order.
fn listing_like() -> impl Strategy<Value = Vec<u8>> {
    let line = prop_oneof![
        Just("Handle 0x0011, DMI type 17, 40 bytes\nMemory Device".to_owned()),
        Just("Handle 0x0012\n\tDMI type 17, 27 bytes.\n\tMemory Device".to_owned()),
        Just("Handle 0x0001, DMI type 16, 15 bytes\nPhysical Memory Array".to_owned()),
        Just("Handle 0x0002, DMI type 19, 15 bytes\nMemory Array Mapped Address".to_owned()),
        Just("Handle 0x0003, DMI type 4, 15 bytes\nProcessor Information".to_owned()),
        Just("# dmidecode 3.3\nSMBIOS 2.7 present.".to_owned()),
        Just("Invalid entry length (0). DMI table is broken! Stop.".to_owned()),
        Just("Memory Device".to_owned()),
        Just(String::new()),
        "\t(Size|Locator|Bank Locator|Type|Speed|Part Number|Rank|Set|Manufacturer|Configured Memory Speed|Array Handle|Use|Status|Starting Address|Ending Address|Type Detail|Total Width|Data Width|Serial Number): (8 GB|0x0001|No Module Installed|32767 MB|A1|A2|DIMM 0|NO DIMM|P1-DIMMA1|P0_Node0_Channel0_Dimm0|DDR3|Flash|1333 MHz|2|72 bits|64 bits|System Memory|Flash Memory|Unpopulated|Unknown|Synchronous LRDIMM|M393B1G70|0xFFFFFFFFFFFFFFFF|0x00000000000|\\PC{0,12})",
    ];
    proptest::collection::vec(line, 0..60).prop_map(|lines| lines.join("\n").into_bytes())
}

proptest! {
    #![proptest_config(ProptestConfig { max_shrink_iters: 2_000, ..ProptestConfig::default() })]

    #[test]
    fn arbitrary_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..4096)) {
        do_everything(bytes);
    }

    #[test]
    fn mutated_listings(bytes in mutated()) {
        do_everything(bytes);
    }

    #[test]
    fn listing_like_lines(bytes in listing_like()) {
        do_everything(bytes);
    }

    /// A plan reader that is given anything answers with a plan or an error.
    #[test]
    fn arbitrary_plans(text in "\\PC{0,400}", yaml in "(fit|module|slots|empty|expect|total|size|[-:\\[\\]{}, \n]|8 GiB|A1){0,40}") {
        let _ = plan::read("any", &text);
        let _ = plan::read("any", &yaml);
    }

    /// A sticker reader too.
    #[test]
    fn arbitrary_stickers(text in "([0-9]{1,3}(GB|MB)|[0-9]Rx[0-9]|PC[0-9]L?-[0-9]{3,5}[A-Z]{0,2}|-|R|[ A-Z0-9]){0,8}") {
        let _ = plan::parse_sticker(&text);
    }
}

/// Evidence of real faults is in the text, over the whole corpus: an empty plan entry for each module
/// makes every line of evidence appear.
#[test]
fn evidence_of_faults_is_in_the_text() {
    let mut lines = 0;
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        let mut plan = plan::from_population(&listings[0], &population, false).plan;
        for planned in &mut plan.slots {
            planned.demand = match &planned.demand {
                plan::Demand::Module(_) => plan::Demand::Empty,
                _ => plan::Demand::Module(plan::ModuleSpec {
                    serial: Some("X1".to_owned()),
                    ..plan::ModuleSpec::default()
                }),
            };
        }
        plan.expect.speed = Some(asfitted::units::TransferRate(19_000));
        let findings = corpus::audited(text, &listings[0], &plan).unwrap().findings;
        evidence_is_in_the_text(text, &findings);
        lines += findings.iter().map(|finding| finding.evidence.len()).sum::<usize>();
    }
    assert!(lines > 20_000, "{lines}");
}
