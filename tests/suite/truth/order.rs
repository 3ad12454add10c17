//! The work on an invented server: the first check of each finding is its step, once for each cause.

use asfitted::audit::{FindingKind, audit};
use asfitted::case::Case;
use asfitted::diagnose::{CauseKind, StepKind, diagnose, needs_hands};
use asfitted::evidence::Text;
use asfitted::plan::{self, Plan};
use asfitted::sources::Sources;
use asfitted::units::TransferRate;
use asfitted::{population, records};

/// Two sockets of three channels of two slots, filled but for `empty`; those of `slow` run at 1066.
fn listing(empty: &[&str], slow: &[&str]) -> String {
    let mut text = "# dmidecode 3.6\nGetting SMBIOS data from sysfs.\nSMBIOS 3.0 present.\n\n".to_owned();
    let mut handle = 16;
    for socket in 1..=2 {
        for channel in 1..=3 {
            for position in 1..=2 {
                let name = format!("s{socket}.c{channel}.p{position}");
                handle += 1;
                text.push_str(&format!("Handle 0x{handle:04X}, DMI type 17, 84 bytes\nMemory Device\n"));
                let is = |names: &[&str]| names.contains(&name.as_str());
                let size = if is(empty) { "No Module Installed" } else { "16 GB" };
                text.push_str(&format!("\tSize: {size}\n\tLocator: {name}\n\tType: DDR3\n"));
                if !is(empty) {
                    let (rate, part) =
                        if is(slow) { (1066, "WW16-2R4-1066L") } else { (1333, "WW16-2R4-1333L") };
                    let runs = if slow.is_empty() { 1333 } else { 1066 };
                    text.push_str(&format!(
                        "\tSpeed: {rate} MT/s\n\tManufacturer: Wetherlam\n\tSerial Number: 0000{handle:04}\n\tPart Number: {part}\n\tConfigured Memory Speed: {runs} MT/s\n"
                    ));
                }
                text.push('\n');
            }
        }
    }
    text + "Handle 0xFEFF, DMI type 127, 4 bytes\nEnd Of Table\n"
}

fn plan() -> Plan {
    let text = Text::from_bytes("plan", listing(&[], &[]).into_bytes()).unwrap();
    let listings = records::read(&text);
    let population = population::rebuild(&listings[0]);
    plan::from_population(&listings[0], &population, true).plan
}

/// What is said of one listing.
struct Told {
    findings: Vec<(FindingKind, Vec<String>)>,
    first: Vec<Option<CauseKind>>,
    whys: Vec<String>,
    steps: Vec<asfitted::diagnose::Step>,
}

fn told(listing: String, plan: &Plan, sources: Sources) -> Told {
    let text = Text::from_bytes("order", listing.into_bytes()).unwrap();
    let listings = records::read(&text);
    let machine = Case::of(&text, &listings[0]).plan(plan).sources(sources);
    let case = machine.build().unwrap();
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    Told {
        findings: audit.findings.iter().map(|f| (f.kind, f.slots.clone())).collect(),
        first: diagnosis.findings.iter().map(|f| f.causes.first().map(|cause| cause.kind)).collect(),
        whys: diagnosis.findings.iter().flat_map(|f| f.causes.iter().map(|c| c.why.clone())).collect(),
        steps: diagnosis.steps.clone(),
    }
}

fn without(empty: &[&str]) -> Told {
    told(listing(empty, &[]), &plan(), Sources::default())
}

/// One finding, one cause, one step, and nothing that is done slot by slot.
fn is_one(told: &Told, slots: &[&str], cause: CauseKind) {
    let missing: Vec<_> = told.findings.iter().filter(|(kind, _)| *kind == FindingKind::Missing).collect();
    assert_eq!(missing.len(), 1, "{:?}", told.findings);
    assert_eq!(missing[0].1, slots);
    assert_eq!(told.first[0], Some(cause));
    let about = told.steps.iter().filter(|step| step.findings.contains(&0));
    assert_eq!(about.count(), 1, "{:#?}", told.steps);
    assert!(!told.steps.iter().any(|step| step.kind == StepKind::Fit), "{:#?}", told.steps);
    assert!(!told.whys.iter().any(|why| why.contains("alone")), "{:?}", told.whys);
}

#[test]
fn a_channel_of_one_socket_is_one_finding_and_one_step() {
    let slots = ["s1.c2.p1", "s1.c2.p2"];
    is_one(&without(&slots), &slots, CauseKind::ChannelDown);
}

#[test]
fn a_socket_is_one_finding_and_one_step() {
    let slots = ["s2.c1.p1", "s2.c1.p2", "s2.c2.p1", "s2.c2.p2", "s2.c3.p1", "s2.c3.p2"];
    let told = without(&slots);
    is_one(&told, &slots, CauseKind::ProcessorDown);
    assert_eq!(told.steps[0].kind, StepKind::Inspect);
    assert!(told.steps[0].hands());
}

#[test]
fn all_second_slots_are_one_finding_on_one_socket_as_on_two() {
    let one = ["s1.c1.p2", "s1.c2.p2", "s1.c3.p2"];
    let both = ["s1.c1.p2", "s1.c2.p2", "s1.c3.p2", "s2.c1.p2", "s2.c2.p2", "s2.c3.p2"];
    for slots in [one.as_slice(), both.as_slice()] {
        let told = without(slots);
        is_one(&told, slots, CauseKind::RuleLockOut);
        assert!(!needs_hands(&told.steps), "{:#?}", told.steps);
    }
}

/// All second slots and one first slot are two causes: the channel that is empty by that is none by itself.
#[test]
fn a_row_and_one_more_module_are_two_findings() {
    let row = ["s1.c1.p2", "s1.c2.p2", "s1.c3.p2"];
    let told = without(&[&row[..], &["s1.c2.p1"]].concat());
    let found: Vec<_> = told.findings.iter().map(|(kind, slots)| (*kind, slots.len())).collect();
    assert_eq!(found, [(FindingKind::Missing, 3), (FindingKind::Missing, 1)], "{:?}", told.findings);
    assert_eq!(told.first, [Some(CauseKind::RuleLockOut), Some(CauseKind::NotSeated)]);
    let kinds: Vec<StepKind> = told.steps.iter().map(|step| step.kind).collect();
    assert_eq!(kinds, [StepKind::Check, StepKind::Fit], "{:#?}", told.steps);
    assert!(told.whys.iter().any(|why| why.contains("most of those before it are there")), "{:?}", told.whys);
}

/// A socket explains its own slots of a row; the others are their own row.
#[test]
fn a_socket_and_the_row_of_another_are_two_findings() {
    let socket = ["s2.c1.p1", "s2.c1.p2", "s2.c2.p1", "s2.c2.p2", "s2.c3.p1", "s2.c3.p2"];
    let told = without(&[&["s1.c1.p2", "s1.c2.p2", "s1.c3.p2"][..], &socket].concat());
    let found: Vec<_> = told.findings.iter().map(|(kind, slots)| (*kind, slots.len())).collect();
    assert_eq!(found, [(FindingKind::Missing, 3), (FindingKind::Missing, 6)], "{:?}", told.findings);
    assert_eq!(told.first, [Some(CauseKind::RuleLockOut), Some(CauseKind::ProcessorDown)]);
    assert!(
        told.whys.iter().any(|why| why.contains("missing, those before it are there")),
        "{:?}",
        told.whys
    );
}

/// "Alone" only where it is true.
#[test]
fn two_modules_that_are_missing_are_not_each_alone() {
    let one = without(&["s1.c2.p2"]);
    assert!(one.whys.iter().any(|why| why.contains("s1.c2.p2 alone")), "{:?}", one.whys);
    let two = without(&["s1.c2.p2", "s2.c3.p2"]);
    assert_eq!(two.findings.len(), 2, "{:?}", two.findings);
    assert!(!two.whys.iter().any(|why| why.contains("alone")), "{:?}", two.whys);
    let steps: Vec<_> = two.steps.iter().map(|step| (step.kind, step.findings.as_slice())).collect();
    assert_eq!(steps, [(StepKind::Fit, [0].as_slice()), (StepKind::Fit, [1].as_slice())]);
    assert!(two.steps.iter().all(|step| step.brings.is_some()));
}

#[test]
fn what_takes_no_open_lid_comes_first_and_the_machine_is_audited_again() {
    let mut sources = Sources::default();
    for text in ["MemTotal: 16000000 kB\n", "BOOT_IMAGE=/vmlinuz root=/dev/sda1 mem=16G\n"] {
        sources.add(&Text::from_bytes("other", text.into()).unwrap()).unwrap();
    }
    let told = told(listing(&["s1.c2.p2"], &[]), &plan(), sources);
    let kinds: Vec<StepKind> = told.steps.iter().map(|step| step.kind).collect();
    assert_eq!(kinds, [StepKind::Command, StepKind::Command, StepKind::Fit], "{:#?}", told.steps);
    assert!(!told.steps[0].hands() && told.steps[0].text.contains("boot loader"));
    assert!(told.steps[1].text.contains("audit again"));
}

#[test]
fn a_limit_of_the_kernel_alone_needs_no_hands() {
    let mut sources = Sources::default();
    for text in ["MemTotal: 16000000 kB\n", "BOOT_IMAGE=/vmlinuz root=/dev/sda1 mem=16G\n"] {
        sources.add(&Text::from_bytes("other", text.into()).unwrap()).unwrap();
    }
    let told = told(listing(&[], &[]), &plan(), sources);
    let kinds: Vec<StepKind> = told.steps.iter().map(|step| step.kind).collect();
    assert_eq!(kinds, [StepKind::Command], "{:#?}", told.steps);
}

#[test]
fn the_speed_is_looked_into_once_the_slow_module_is_gone() {
    let mut plan = plan();
    plan.expect.speed = Some(TransferRate(1333));
    let told = told(listing(&[], &["s1.c1.p1"]), &plan, Sources::default());
    let kinds: Vec<StepKind> = told.steps.iter().map(|step| step.kind).collect();
    assert_eq!(kinds[0], StepKind::Replace, "{:#?}", told.steps);
    let last = told.steps.last().unwrap();
    assert!(last.text.starts_with("only if memory still runs at 1066"), "{:#?}", told.steps);
    // What is in the hand can be compared, and what is to be brought is named.
    assert!(told.steps[0].text.contains("(16 GiB, WW16-2R4-1066L, serial 00000017)"), "{:#?}", told.steps);
    assert!(told.steps[0].brings.as_deref().unwrap().contains("WW16-2R4-1333L"));
}

#[test]
fn modules_that_differ_alike_are_one_finding() {
    let told = told(listing(&[], &["s1.c1.p1", "s1.c2.p1"]), &plan(), Sources::default());
    let wrong: Vec<_> = told.findings.iter().filter(|(kind, _)| *kind == FindingKind::WrongModule).collect();
    assert_eq!(wrong.len(), 1, "{wrong:?}");
    assert_eq!(wrong[0].1, ["s1.c1.p1", "s1.c2.p1"]);
    let replaced = told.steps.iter().filter(|step| step.kind == StepKind::Replace).count();
    assert_eq!(replaced, 2, "{:#?}", told.steps);
}

/// The list lacks a module, and the operating system has it all the same.
#[test]
fn a_wrong_list_opens_no_lid() {
    let mut sources = Sources::default();
    let visible = (12 * 16_u64) << 20;
    let text = format!("MemTotal: {} kB\n", visible - visible / 50);
    sources.add(&Text::from_bytes("meminfo", text.into_bytes()).unwrap()).unwrap();
    let told = told(listing(&["s1.c2.p2"], &[]), &plan(), sources);
    let at = told.findings.iter().position(|(kind, _)| *kind == FindingKind::Missing).unwrap();
    assert_eq!(told.first[at], Some(CauseKind::ListingWrong));
    assert!(!told.steps.is_empty() && !needs_hands(&told.steps), "{:#?}", told.steps);
}

/// Few corrected errors are watched, many call for another module; a slot is reseated while the lid is open anyway.
#[test]
fn errors_are_met_by_their_number() {
    let counted = |count: u32| {
        let mut sources = Sources::default();
        let text = format!(
            "mc/mc0/ce_count:{count}\nmc/mc0/ue_count:0\nmc/mc0/dimm0/dimm_label:s1.c1.p1\nmc/mc0/dimm0/dimm_ce_count:{count}\nmc/mc0/dimm0/dimm_ue_count:0\n"
        );
        sources.add(&Text::from_bytes("edac", text.into_bytes()).unwrap()).unwrap();
        sources
    };
    let few = told(listing(&[], &[]), &plan(), counted(24));
    assert_eq!(few.steps.len(), 1, "{:#?}", few.steps);
    assert!(few.steps[0].kind == StepKind::Measure && few.steps[0].text.starts_with("save the log, clear"));
    let many = told(listing(&[], &[]), &plan(), counted(25));
    assert_eq!(many.first, [Some(CauseKind::BadModule)]);
    assert!(many.steps[0].hands() && many.steps[0].text.contains("replace the module in s1.c1.p1"));
    let open = told(listing(&["s1.c2.p2"], &[]), &plan(), counted(24));
    let kinds: Vec<StepKind> = open.steps.iter().map(|step| step.kind).collect();
    assert_eq!(kinds, [StepKind::Fit, StepKind::Reseat], "{:#?}", open.steps);
    assert!(open.steps[1].text.starts_with("if you like, while the lid is open"), "{:#?}", open.steps);
}
