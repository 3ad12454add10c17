//! The raw table against its text format: every special value of a memory device, written by an encoder of our
//! own, read by our decoder and, where it is installed, by dmidecode.

use std::process::Command;

use asfitted::evidence::Text;
use asfitted::records::enums::ErrorType;
use asfitted::records::{self, DeviceSize, Field, Listing, MakerCode, MemoryDevice};
use asfitted::units::{Bytes, Millivolts, TransferRate};
use proptest::prelude::*;

/// A structure: type, handle, formatted area after the header, strings.
fn structure(kind: u8, handle: u16, area: &[u8], strings: &[&str]) -> Vec<u8> {
    let mut bytes = vec![kind, u8::try_from(area.len() + 4).unwrap()];
    bytes.extend(handle.to_le_bytes());
    bytes.extend(area);
    for text in strings {
        bytes.extend(text.as_bytes());
        bytes.push(0);
    }
    bytes.extend(if strings.is_empty() { &[0u8, 0][..] } else { &[0][..] });
    bytes
}

/// A dump with a 64-bit entry point, whose structures start at 20h.
fn dump(structures: &[Vec<u8>]) -> Vec<u8> {
    let table = structures.concat();
    let mut entry = b"_SM3_".to_vec();
    entry.extend([0, 0x18, 3, 7, 0, 1, 0]);
    entry.extend(u32::try_from(table.len()).unwrap().to_le_bytes());
    entry.extend(0x20u64.to_le_bytes());
    let sum = entry.iter().fold(0u8, |sum, byte| sum.wrapping_add(*byte));
    entry[5] = 0u8.wrapping_sub(sum);
    entry.resize(0x20, 0);
    entry.extend(table);
    entry
}

/// The formatted area of a memory device of 5Ch bytes, or of more.
struct Area(Vec<u8>);

impl Area {
    fn new() -> Self {
        let mut area = Self(vec![0; 0x5C - 4]);
        area.word(4, 0x1000).word(6, 0xFFFE).word(8, 72).word(0x0A, 64).byte(0x0E, 9);
        area.byte(0x10, 1).byte(0x11, 2).byte(0x12, 0x1A).word(0x13, 0x2080);
        area
    }

    /// The same of 64h bytes, as since version 3.7.
    fn longer(&mut self) -> &mut Self {
        self.0.resize(0x64 - 4, 0);
        self
    }

    fn byte(&mut self, offset: usize, value: u8) -> &mut Self {
        self.0[offset - 4] = value;
        self
    }

    fn word(&mut self, offset: usize, value: u16) -> &mut Self {
        self.0[offset - 4..offset - 2].copy_from_slice(&value.to_le_bytes());
        self
    }

    fn dword(&mut self, offset: usize, value: u32) -> &mut Self {
        self.0[offset - 4..offset].copy_from_slice(&value.to_le_bytes());
        self
    }

    fn qword(&mut self, offset: usize, value: u64) -> &mut Self {
        self.0[offset - 4..offset + 4].copy_from_slice(&value.to_le_bytes());
        self
    }
}

/// A table that holds every special value.
pub fn table() -> Vec<u8> {
    let mut structures = machine();
    for (area, handle) in devices().iter().zip(0x1100..) {
        let label = format!("A{}", handle - 0x10FF);
        let strings = [&label, "Bank 0", "Maker\u{1}", "SER1", "PART-1  "];
        structures.push(structure(17, handle, &area.0, &strings));
    }
    structures.extend(ranges());
    structures.push(structure(127, 0x7F, &[], &[]));
    dump(&structures)
}

/// The system, two processors of which one is absent, and an array whose capacity is the extended one.
fn machine() -> Vec<Vec<u8>> {
    let mut structures = Vec::new();
    let mut firmware = vec![1, 2, 0, 0, 3, 0xFF];
    firmware.resize(0x14 - 4, 0);
    firmware.extend([5, 32, 0xFF, 0xFF, 0, 0]);
    structures.push(structure(0, 0, &firmware, &["Vendor", "F7.2", "03/18/2021"]));
    let mut system = vec![1, 2, 3, 4];
    system.extend(0x10u8..0x20);
    system.extend([6, 5, 0]);
    structures.push(structure(1, 1, &system, &["Maker", "Product", "1", "S-1", "SKU"]));
    let mut error = vec![4, 3, 3];
    error.extend([0; 4]);
    error.extend([0, 0, 0, 0x80].repeat(3));
    structures.push(structure(18, 0x1200, &error, &[]));
    let mut error = vec![0x0D, 1, 4];
    error.extend([0; 4]);
    error.extend([0, 0, 0, 0, 0, 0, 0, 0x80].repeat(2));
    error.extend([0, 0, 0, 0x80]);
    structures.push(structure(33, 0x1201, &error, &[]));
    let mut cpu = vec![0; 0x30 - 4];
    (cpu[0], cpu[0x14]) = (1, 0x41);
    structures.push(structure(4, 4, &cpu, &["CPU 1"]));
    let mut empty = cpu.clone();
    empty[0x14] = 0;
    structures.push(structure(4, 5, &empty, &["CPU 2"]));
    let mut array = vec![3, 3, 6];
    array.extend(0x8000_0000u32.to_le_bytes());
    array.extend(0xFFFEu16.to_le_bytes());
    array.extend(12u16.to_le_bytes());
    array.extend((3u64 << 40).to_le_bytes());
    structures.push(structure(16, 0x1000, &array, &[]));
    structures
}

/// Memory devices with a special value or several in each.
fn devices() -> Vec<Area> {
    let mut devices: Vec<Area> = Vec::new();
    let mut add = |change: &dyn Fn(&mut Area)| {
        let mut area = Area::new();
        change(&mut area);
        devices.push(area);
    };
    add(&|a| {
        a.word(0x0C, 0);
    });
    add(&|a| {
        a.word(0x0C, 0xFFFF);
    });
    add(&|a| {
        a.word(0x0C, 0x7FFF).dword(0x1C, 65_536);
    });
    add(&|a| {
        a.word(0x0C, 0x8100);
    });
    add(&|a| {
        a.word(0x0C, 16_384)
            .word(0x15, 3200)
            .word(0x20, 2933)
            .byte(0x17, 3)
            .byte(0x18, 4)
            .byte(0x1A, 5)
            .byte(0x1B, 0x02);
    });
    add(&|a| {
        a.word(0x0C, 16_384).word(0x15, 0xFFFF).dword(0x54, 70_000).word(0x20, 0xFFFF).dword(0x58, 69_000);
    });
    add(&|a| {
        a.word(0x0C, 8192).word(0x22, 1200).word(0x24, 1350).word(0x26, 1250).byte(0x0F, 0xFF);
    });
    add(&|a| {
        a.word(0x0C, 8192).word(8, 0xFFFF).word(0x0A, 0).byte(0x12, 0x77).byte(0x0E, 0x77).byte(0x28, 4);
    });
    add(&|a| {
        a.word(0x0C, 8192)
            .word(0x2C, 0xCE80)
            .word(0x2E, 0x1234)
            .qword(0x34, 0)
            .qword(0x3C, 8 << 30)
            .qword(0x44, u64::MAX);
    });
    // A module of version 3.7, with everything.
    add(&|a| {
        a.longer()
            .word(0x0C, 32_000)
            .byte(0x12, 0x22)
            .word(6, 0x1200)
            .word(0x29, 0x18)
            .byte(0x2B, 5)
            .word(0x30, 0xB380)
            .word(0x32, 0x51)
            .qword(0x4C, 4 << 30)
            .word(0x5C, 0x108B)
            .word(0x5E, 0x8211)
            .word(0x60, 0xB386)
            .word(0x62, 0xFF00);
    });
    // Without a register, and without a mode; the codes of another generation.
    add(&|a| {
        a.longer().word(0x0C, 16_000).byte(0x12, 0x22).word(6, 0x1201).word(0x5E, 0x0011).word(0x62, 0);
    });
    add(&|a| {
        a.longer().word(0x0C, 8000).word(0x29, 0x3E).word(0x5E, 0x8211).word(0x62, 0x12);
    });
    add(&|a| {
        a.word(0x0C, 1536).byte(0x10, 99).byte(0x11, 0).word(0x13, 0).byte(0x0F, 7).word(6, 0xFFFF);
    });
    devices
}

/// Mapped addresses in kilobytes and, where those do not reach, in bytes.
fn ranges() -> [Vec<u8>; 2] {
    let mut range = Vec::new();
    range.extend(0u32.to_le_bytes());
    range.extend(0x00FF_FFFFu32.to_le_bytes());
    range.extend(0x1000u16.to_le_bytes());
    range.push(1);
    let mut extended = vec![0xFF; 8];
    extended.extend(0x1000u16.to_le_bytes());
    extended.push(1);
    extended.extend((1u64 << 40).to_le_bytes());
    extended.extend(((1u64 << 41) - 1).to_le_bytes());
    [structure(19, 0x1300, &range, &[]), structure(19, 0x1301, &extended, &[])]
}

#[test]
fn every_special_value_is_decoded() {
    let text = Text::from_bytes("dump", table()).unwrap();
    assert!(text.decoded);
    let listings = records::read(&text);
    let l = &listings[0];
    assert_eq!(
        (l.smbios.get(), l.systems[0].serial.get(), l.processors.len()),
        (Some("3.7.0"), Some("S-1"), 2)
    );
    assert_eq!(l.arrays[0].maximum_capacity.get(), Some(Bytes(3 << 40)));
    let sizes: Vec<_> = l.devices.iter().map(|d| d.size.get()).collect();
    let mib = |n| Some(DeviceSize::Fitted(Bytes::mib(n)));
    assert_eq!(
        sizes[..4],
        [Some(DeviceSize::Empty), None, mib(65_536), Some(DeviceSize::Fitted(Bytes(256 << 10)))]
    );
    assert_eq!(
        (l.devices[4].speed.get(), l.devices[4].configured_speed.get()),
        (Some(TransferRate(3200)), Some(TransferRate(2933)))
    );
    assert_eq!(
        (l.devices[4].manufacturer.get(), l.devices[4].part_number.get(), l.devices[4].rank.get()),
        (Some("Maker."), Some("PART-1"), Some(2))
    );
    assert_eq!(l.devices[5].speed.get(), Some(TransferRate(70_000)));
    assert_eq!(
        (l.devices[6].minimum_voltage.get(), l.devices[6].configured_voltage.get()),
        (Some(Millivolts(1200)), Some(Millivolts(1250)))
    );
    assert_eq!((l.devices[7].total_width.get(), l.devices[7].memory_type.get()), (None, None));
    assert_eq!(l.devices[8].module_maker.get().map(|c| (c.bank, c.code)), Some((1, 0xCE)));
    assert_eq!((l.devices[12].locator.get(), l.devices[12].set.get()), (None, Some(7)));
    assert_eq!(l.array_ranges[1].end.get(), Some((1 << 41) - 1));
}

/// Offsets 29h to 62h of clause 7.18, the firmware and the machine's UUID by clauses 7.1 and 7.2.1, errors by 7.19.
#[test]
fn what_newer_versions_add_is_decoded() {
    let text = Text::from_bytes("dump", table()).unwrap();
    let listings = records::read(&text);
    let l = &listings[0];
    assert!(l.notes.iter().all(|note| note.kind.word() == "decoded-table"), "{:?}", l.notes);
    let firmware = &l.firmware[0];
    assert_eq!(
        (firmware.vendor.get(), firmware.version.get(), firmware.date.get(), firmware.revision.get()),
        (Some("Vendor"), Some("F7.2"), Some("03/18/2021"), Some("5.32"))
    );
    assert_eq!(l.systems[0].uuid.get(), Some("13121110-1514-1716-1819-1a1b1c1d1e1f"));
    let full = &l.devices[9];
    assert_eq!(full.operating_modes.get(), Some("Volatile memory Byte-accessible persistent memory"));
    assert_eq!(full.firmware_version.get(), Some("PART-1"));
    let code = |field: Field<MakerCode>| field.get().map(|code| (code.bank, code.code));
    assert_eq!((code(full.controller_maker), full.controller_product.get()), (Some((1, 0xB3)), Some(0x51)));
    assert_eq!(full.logical_size.get(), Some(Bytes::gib(4)));
    assert_eq!((code(full.pmic_maker), full.pmic_revision.get()), (Some((12, 0x10)), Some("1.1")));
    assert_eq!((code(full.rcd_maker), full.rcd_revision.get()), (Some((7, 0xB3)), None));
    assert!(matches!(full.rcd_revision, Field::Unknown(_)));
    assert!(matches!(l.devices[10].pmic_revision, Field::Absent));
    assert_eq!(l.devices[10].operating_modes.get(), Some("None"));
    assert_eq!(l.devices[11].pmic_revision.get(), Some("0x8211"));
    let kinds: Vec<_> =
        l.devices[9..11].iter().map(|d| l.error(d.error_handle).and_then(|error| error.kind.get())).collect();
    assert_eq!(kinds, [ErrorType::parse("Bad Read"), ErrorType::parse("Corrected Error")]);
    assert_eq!(l.errors[0].operation.get(), Some("Read"));
}

/// What both formats must agree on. dmidecode hides most fields of empty slots, so those are left out there.
fn facts(listing: &Listing<'_>) -> Vec<String> {
    let mut facts: Vec<String> = listing.devices.iter().map(device_facts).collect();
    facts.extend(listing.arrays.iter().map(|a| {
        format!(
            "{:?} {:?} {:?} {:?}",
            a.usage.get(),
            a.error_correction.get(),
            a.maximum_capacity.get(),
            a.device_count.get()
        )
    }));
    facts.extend(
        listing
            .array_ranges
            .iter()
            .map(|r| format!("{:?} {:?} {:?}", r.start.get(), r.end.get(), r.array_handle.get())),
    );
    facts.extend(listing.firmware.iter().map(|f| {
        format!("{:?} {:?} {:?} {:?}", f.vendor.get(), f.version.get(), f.date.get(), f.revision.get())
    }));
    facts.extend(
        listing
            .errors
            .iter()
            .map(|e| format!("{:?} {:?} {:?}", e.kind.get(), e.granularity.get(), e.operation.get())),
    );
    facts.extend(listing.processors.iter().map(|p| format!("{:?} {:?}", p.socket.get(), p.status.get())));
    facts.extend(listing.systems.iter().map(|s| {
        let named = [s.manufacturer, s.product, s.serial, s.uuid, s.sku];
        format!("{:?}", named.map(|field| field.get()))
    }));
    facts
}

fn device_facts(d: &MemoryDevice<'_>) -> String {
    let always = format!(
        "{:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?}",
        d.head.handle,
        d.head.length,
        d.array_handle.get(),
        d.size.get(),
        d.locator.get(),
        d.bank_locator.get(),
        d.form_factor.get(),
        d.set.get()
    );
    if d.size.get() == Some(DeviceSize::Empty) {
        return always;
    }
    format!(
        "{always} {} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?}",
        newer_facts(d),
        d.total_width.get(),
        d.data_width.get(),
        d.memory_type.get(),
        d.type_detail.get(),
        d.speed.get(),
        d.configured_speed.get(),
        d.manufacturer.get(),
        d.serial.get(),
        d.part_number.get(),
        d.rank.get(),
        d.minimum_voltage.get(),
        d.maximum_voltage.get(),
        d.configured_voltage.get(),
        d.module_maker.get(),
        d.volatile_size.get(),
        d.non_volatile_size.get(),
    )
}

/// What version 3.2 and later add.
fn newer_facts(d: &MemoryDevice<'_>) -> String {
    format!(
        "{:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?}",
        d.error_handle.get(),
        d.technology.get(),
        d.operating_modes.get(),
        d.firmware_version.get(),
        d.module_product.get(),
        d.controller_maker.get(),
        d.controller_product.get(),
        d.cache_size.get(),
        d.logical_size.get(),
        d.pmic_maker.get(),
        d.pmic_revision.get(),
        d.rcd_maker.get(),
        d.rcd_revision.get(),
        d.asset_tag.get(),
    )
}

/// Outside check: dmidecode decodes the same dump. Skipped with a message where it is not installed.
#[test]
fn dmidecode_reads_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("dump.bin");
    std::fs::write(&file, table()).unwrap();
    let Ok(output) = Command::new("dmidecode").arg("--from-dump").arg(&file).output() else {
        println!("dmidecode is not installed: not compared");
        return;
    };
    let theirs = Text::from_bytes("theirs", output.stdout).unwrap();
    let theirs = records::read(&theirs);
    if theirs[0].is_empty() {
        println!("dmidecode could not read the dump here: not compared");
        return;
    }
    let ours = Text::from_bytes("ours", table()).unwrap();
    assert_eq!(facts(&records::read(&ours)[0]), facts(&theirs[0]));
}

/// The kernel's two files put together: the entry point names an address in memory.
#[test]
fn the_kernels_files_put_together() {
    let mut bytes = table();
    bytes.drain(0x18..0x20);
    bytes[0x10..0x18].copy_from_slice(&0x7AEF_0000u64.to_le_bytes());
    let text = Text::from_bytes("sysfs", bytes).unwrap();
    assert_eq!(records::read(&text)[0].devices.len(), 13);
}

proptest! {
    /// Damaged tables never panic, and always give one listing or an error.
    #[test]
    fn damaged_tables(cut in 0usize..2000, edits in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..16)) {
        let mut bytes = table();
        for (at, byte) in edits {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        bytes.truncate(bytes.len().saturating_sub(cut).max(5));
        if let Ok(text) = Text::from_bytes("damaged", bytes) {
            prop_assert_eq!(records::read(&text).len(), 1);
        }
    }
}
