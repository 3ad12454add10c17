//! Capturing a system and reading the capture as a listing.

use std::path::Path;

use asfitted::evidence::{SectionKind, Text};
use asfitted::records;
use serde_json::Value;

use crate::stages::raw_table;
use crate::util::command::{asfitted, audit_json, json, plan_from, stderr, stdout};

fn write(root: &Path, path: &str, content: impl AsRef<[u8]>) {
    let path = root.join(path);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, content).unwrap();
}

/// A system as the kernel shows it, with the table of all special values.
fn system(root: &Path) {
    let dump = raw_table::table();
    let mut entry = dump[..0x18].to_vec();
    // The kernel's entry point names an address in memory.
    entry[0x10..0x18].copy_from_slice(&0x7FFE_0000u64.to_le_bytes());
    write(root, "sys/firmware/dmi/tables/smbios_entry_point", entry);
    write(root, "sys/firmware/dmi/tables/DMI", &dump[0x20..]);
    write(root, "proc/meminfo", "MemTotal:       98000000 kB\nMemFree: 1 kB\n");
    write(root, "proc/cmdline", "BOOT_IMAGE=/vmlinuz root=UUID=S3CR3T ro crashkernel=512M\n");
    write(root, "proc/sys/kernel/hostname", "bay07\n");
    let edac = "sys/devices/system/edac/mc/mc0";
    for (file, value) in [
        ("mc_name", "Demo controller"),
        ("size_mb", "98304"),
        ("ce_count", "3"),
        ("ue_count", "0"),
        ("dimm0/dimm_label", "A5"),
        ("dimm0/size", "16384"),
        ("dimm0/dimm_ce_count", "3"),
        ("dimm0/dimm_ue_count", "0"),
        ("dimm10/dimm_label", "A6"),
        ("dimm2/dimm_label", "A7"),
        // The older layout of the same counters.
        ("csrow0/ce_count", "3"),
        ("csrow0/ch10_ce_count", "0"),
        ("csrow0/ch0_ce_count", "3"),
        ("csrow0/ch0_dimm_label", "A5"),
    ] {
        write(root, &format!("{edac}/{file}"), format!("{value}\n"));
    }
}

/// A capture of a system gives the same records as its dump, and all evidence lines are in the file.
#[test]
fn a_capture_reads_as_the_table_does() {
    let folder = tempfile::tempdir().unwrap();
    let (root, file) = (folder.path().join("root"), folder.path().join("bay07.capture"));
    system(&root);
    asfitted().args(["capture", "--root"]).arg(&root).arg("--output").arg(&file).assert().code(0);
    let dump = folder.path().join("dump.bin");
    std::fs::write(&dump, raw_table::table()).unwrap();
    let slots = |path: &Path| -> Value {
        json(&asfitted().arg("show").arg(path).args(["--format", "json"]).assert().code(0))["slots"].clone()
    };
    assert_eq!(slots(&file), slots(&dump));
    let body = std::fs::read_to_string(&file).unwrap();
    let text = Text::from_bytes("capture", body.clone().into_bytes()).unwrap();
    let capture = text.capture.as_ref().unwrap();
    assert_eq!((capture.host.as_deref(), capture.redacted), (Some("bay07"), false));
    let taken: Vec<&str> = capture.taken.as_deref().unwrap().split(['T', ':', '-', 'Z']).collect();
    assert_eq!(taken.iter().map(|part| part.len()).collect::<Vec<_>>(), [4, 2, 2, 2, 2, 2, 0]);
    let kinds: Vec<SectionKind> = capture.sections.iter().map(|section| section.kind).collect();
    for kind in [SectionKind::Listing, SectionKind::Meminfo, SectionKind::Edac, SectionKind::Table] {
        assert!(kinds.contains(&kind), "{kind:?}");
    }
    // The counters are in the order of their numbers, and the table is the one that was there.
    let place = |what: &str| body.find(what).unwrap();
    assert!(place("dimm0/dimm_label") < place("dimm2/") && place("dimm2/") < place("dimm10/"));
    assert!(place("csrow0/ch0_dimm_label:A5") < place("csrow0/ch10_ce_count:0"));
    let bytes = capture.sections.iter().find(|s| s.kind == SectionKind::Table).unwrap();
    let bytes: Vec<u8> =
        bytes.body.split_whitespace().map(|hex| u8::from_str_radix(hex, 16).unwrap()).collect();
    assert_eq!(bytes[0x18..], raw_table::table()[0x20..]);
    let lines: Vec<&str> = body.lines().collect();
    for listing in records::read(&text) {
        assert!(listing.notes.iter().all(|note| note.kind != records::NoteKind::StrayLines));
        for device in &listing.devices {
            let place = device.head.place;
            assert_eq!(lines[place.line as usize - 1], listing.line(place));
        }
    }
}

/// What a capture has beside the listing is used by every command.
#[test]
fn the_rest_of_a_capture_is_evidence_too() {
    let folder = tempfile::tempdir().unwrap();
    let (root, file) = (folder.path().join("root"), folder.path().join("c"));
    system(&root);
    asfitted().args(["capture", "--root"]).arg(&root).arg("--output").arg(&file).assert().code(0);
    let plan = folder.path().join("plan.yaml");
    std::fs::write(&plan, plan_from(&file)).unwrap();
    let audit = audit_json(&file, &plan, 1);
    assert_eq!(audit["totals"]["visible_bytes"], 98_000_000u64 * 1024);
    let errors = audit["findings"].as_array().unwrap().iter().find(|f| f["kind"] == "memory-errors").unwrap();
    assert_eq!((&errors["slot"], &errors["severity"]), (&"A5".into(), &"warning".into()));
    // Both layouts show them, and they are three.
    assert_eq!(errors["found"], "3 corrected errors counted");
    let evidence = &errors["evidence"][0];
    assert_eq!(evidence["source"], "edac");
    let line = usize::try_from(evidence["line"].as_u64().unwrap()).unwrap();
    let body = std::fs::read_to_string(&file).unwrap();
    assert_eq!(body.lines().nth(line - 1).unwrap(), evidence["text"].as_str().unwrap());
}

#[test]
fn a_redacted_capture_names_no_serial_number() {
    let folder = tempfile::tempdir().unwrap();
    let (root, file) = (folder.path().join("root"), folder.path().join("c"));
    system(&root);
    asfitted().args(["capture", "--redact", "--root"]).arg(&root).arg("--output").arg(&file).assert().code(0);
    let body = std::fs::read_to_string(&file).unwrap();
    assert!(body.contains("redacted: yes") && body.contains("crashkernel=512M") && !body.contains("S3CR3T"));
    let text = Text::from_bytes("capture", body.clone().into_bytes()).unwrap();
    let listings = records::read(&text);
    assert!(listings[0].systems[0].serial.get().is_none() && listings[0].systems[0].product.get().is_some());
    assert!(listings[0].devices.iter().all(|device| device.serial.get().is_none()));
    assert!(listings[0].devices.iter().any(|device| device.part_number.get().is_some()));
    // The serial number of the system is `S-1`; it must not be in the bytes either.
    let hex = "53 2d 31";
    let bytes: String = body.lines().filter(|line| line.len() > 60).collect::<Vec<_>>().join(" ");
    assert!(!bytes.contains(hex));
}

/// A system without tables, such as a virtual machine: the rest is taken, the words are clear, the code is 3.
#[test]
fn a_system_without_tables_gives_what_it_has() {
    let folder = tempfile::tempdir().unwrap();
    let (root, file) = (folder.path().join("root"), folder.path().join("c"));
    write(&root, "proc/meminfo", "MemTotal:       24684084 kB\n");
    write(&root, "proc/cmdline", "console=ttyS0 quiet\n");
    let words = stderr(
        &asfitted().args(["capture", "--root"]).arg(&root).arg("--output").arg(&file).assert().code(3),
    );
    assert!(words.contains("/sys/firmware/dmi/tables/DMI") && words.contains("does not have it"), "{words}");
    assert!(words.contains("cannot be audited"), "{words}");
    let words = stderr(&asfitted().arg("show").arg(&file).assert().code(2));
    assert!(words.contains("capture without the SMBIOS table") && words.contains("as root"), "{words}");
    // Its other half can still be used beside a listing.
    let listing = folder.path().join("l.txt");
    std::fs::write(
        &listing,
        "Handle 0x0001, DMI type 17, 40 bytes\nMemory Device\n\tSize: 64 GB\n\tLocator: A1\n\n",
    )
    .unwrap();
    let words = stdout(&asfitted().arg("diagnose").arg(&listing).arg("--with").arg(&file).assert().code(1));
    assert!(words.contains("ARE NOT VISIBLE"), "{words}");
}

#[test]
fn a_newer_capture_format_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("c");
    std::fs::write(&file, "asfitted capture 2\n[listing]\n").unwrap();
    let words = stderr(&asfitted().arg("show").arg(&file).assert().code(2));
    assert!(words.contains("form 2") && words.contains("newer asfitted"), "{words}");
}

/// Without a listing, the commands read the machine that they run on, here one that is mounted.
#[test]
fn without_a_listing_this_machine_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("root");
    system(&root);
    let file = folder.path().join("bay07.capture");
    asfitted().args(["capture", "--root"]).arg(&root).arg("--output").arg(&file).assert().code(0);
    let shown = |command: &mut assert_cmd::Command| -> Value {
        json(&command.args(["--format", "json"]).assert().code(0))["slots"].clone()
    };
    let here = shown(asfitted().args(["show", "--root"]).arg(&root));
    assert_eq!(here, shown(asfitted().arg("show").arg(&file)));
    let plan = folder.path().join("plan.yaml");
    std::fs::write(&plan, plan_from(&file)).unwrap();
    for command in ["audit", "diagnose"] {
        let run =
            |more: &mut assert_cmd::Command| more.arg("--plan").arg(&plan).output().unwrap().status.code();
        let own = run(asfitted().arg(command).arg("--root").arg(&root));
        assert_eq!(own, run(asfitted().arg(command).arg(&file)), "{command}");
        assert_ne!(own, Some(2), "{command}");
    }
    let message = stderr(&asfitted().args(["show", "--root"]).arg(folder.path()).assert().code(2));
    assert!(message.contains("this machine") && message.contains("as root"), "{message}");
}
