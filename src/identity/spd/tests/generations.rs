//! What each generation's contents say.

use super::super::*;
use super::{built, close, crc, ddr2, ddr3, ddr4, ddr5};
use crate::identity::Coded;
use crate::units::Bytes;

fn value<T: Copy>(known: Option<Known<T>>) -> Option<T> {
    known.map(|known| known.value)
}

/// The check value of CRC-16/XMODEM, from the catalogue of CRC parameters.
#[test]
fn crc_has_the_check_value_of_the_catalogue() {
    assert_eq!(crc(b"123456789"), 0x31C3);
    assert_eq!(check::crc16(b"123456789"), 0x31C3);
}

/// Size, package ranks, width, data and check lines, rate.
fn outline(spd: &Spd) -> (Bytes, u8, u8, u8, u8, u32) {
    let own = &spd.organisation;
    (
        value(own.size).unwrap(),
        value(own.package_ranks.value).unwrap(),
        value(own.width.value).unwrap(),
        value(own.data_lines.value).unwrap(),
        value(own.check_lines.value).unwrap(),
        value(spd.rated).unwrap().0,
    )
}

/// Maker, serial number, part number, year and week.
type Names = (Option<(u8, u8)>, Option<String>, Option<String>, Option<(u16, u8)>);

fn identified(spd: &Spd) -> Names {
    let own = spd.identity.as_ref().unwrap();
    let part = own.part_number.as_ref().and_then(|part| part.text.clone());
    let date = value(own.date.value).map(|date| (date.year, date.week));
    (own.maker.code, own.serial(), part, date)
}

fn texts(serial: &str, part: &str) -> (Option<String>, Option<String>) {
    (Some(serial.to_owned()), Some(part.to_owned()))
}

#[test]
fn ddr2_contents() {
    let spd = read(&ddr2()).unwrap();
    assert_eq!(spd.generation, MemoryType::DDR2);
    assert_eq!(outline(&spd), (Bytes::gib(1), 1, 8, 64, 8, 667));
    assert_eq!(spd.organisation.size.unwrap().certainty, Certainty::Secondary, "byte 31 confirms it");
    assert_eq!(value(spd.organisation.die.value), Some(1024));
    let (serial, part) = texts("4604CB50", "WW16-1R8-667X");
    assert_eq!(identified(&spd), (Some((4, 0x0B)), serial, part, Some((2007, 31))));
    assert_eq!(spd.identity.as_ref().unwrap().maker.name(), Some("Nanya Technology"));
    assert_eq!(spd.identity.as_ref().unwrap().dram_maker, None);
    assert_eq!(spd.supplies[0].voltage.value, Millivolts(1800));
    assert_eq!(spd.checks[0].outcome(), Outcome::Right);
    assert!(!spd.identity_is_covered());
}

/// The published listing of a module of 2009: 256 MB, PC2-3200, tCK 5.0 ns.
#[test]
fn ddr2_sizes_must_agree_to_bind() {
    let mut bytes = ddr2();
    (bytes[3], bytes[17], bytes[31], bytes[9]) = (13, 4, 0x40, 0x50);
    let spd = read(&bytes).unwrap();
    assert_eq!(
        spd.organisation.size,
        Some(Known { value: Bytes::mib(256), certainty: Certainty::Secondary })
    );
    assert_eq!(value(spd.rated), Some(TransferRate(400)));
    bytes[31] = 0x80;
    let own = read(&bytes).unwrap().organisation;
    assert_eq!(own.size, Some(Known { value: Bytes::mib(256), certainty: Certainty::Memory }));
    assert_eq!(own.other_size, Some(Bytes::mib(512)));
    // Stacked packages: whether the number of ranks counts them, the source does not say.
    bytes[5] |= 0x10;
    assert!(!read(&bytes).unwrap().organisation.package_ranks.value.unwrap().certainty.binds());
    bytes[5] &= !0x10;
    // Two bits at once are no size: nothing confirms the other.
    bytes[31] = 0x60;
    assert!(!read(&bytes).unwrap().organisation.size.unwrap().certainty.binds());
}

#[test]
fn ddr3_contents() {
    let spd = read(&ddr3()).unwrap();
    assert_eq!(outline(&spd), (Bytes::gib(16), 2, 4, 64, 8, 1600));
    assert_eq!(value(spd.form.value).unwrap().kind, Some(ModuleKind::Rdimm));
    let (serial, part) = texts("12345678", "WW16-2R4-1600");
    assert_eq!(identified(&spd), (Some((1, 0x4E)), serial, part, Some((2013, 52))));
    assert_eq!(spd.identity.as_ref().unwrap().revision, [1, 2]);
    assert_eq!(spd.identity.as_ref().unwrap().dram_maker.as_ref().unwrap().code, Some((1, 0x2D)));
    assert_eq!(spd.register.as_ref().unwrap().code, Some((1, 0x33)));
    let voltages: Vec<u32> = spd.supplies.iter().map(|supply| supply.voltage.value.0).collect();
    assert_eq!(voltages, [1500, 1350]);
    assert_eq!(spd.checks[0].outcome(), Outcome::Right);
    assert!(spd.identity_is_covered());
}

#[test]
fn ddr3_traps() {
    let mut bytes = ddr3();
    // The voltage bit is the wrong way round: 1.35 V alone.
    bytes[6] = 3;
    // Rank code 4 is eight ranks.
    bytes[7] = 0b100_000;
    // 9 times 125 ps and 1071 by the fine part: DDR3-1866.
    (bytes[12], bytes[34]) = (9, 0xCA);
    // The check leaves identity out.
    bytes[0] |= 0x80;
    close(&mut bytes, 0, 116, 126);
    let spd = read(&bytes).unwrap();
    assert_eq!(spd.supplies.iter().map(|supply| supply.voltage.value.0).collect::<Vec<_>>(), [1350]);
    assert_eq!(value(spd.organisation.package_ranks.value), Some(8));
    assert!(!spd.organisation.size.unwrap().certainty.binds(), "only one source has eight ranks");
    assert_eq!((value(spd.cycle.value), value(spd.rated)), (Some(1071), Some(TransferRate(1866))));
    assert_eq!(spd.checks[0].outcome(), Outcome::Right);
    assert!(!spd.identity_is_covered());
    // Two sources have these kinds the other way round.
    bytes[3] = 8;
    assert!(!read(&bytes).unwrap().form.value.unwrap().certainty.binds());
    // Two dies in each package, one for each rank: they do not multiply.
    (bytes[7], bytes[33]) = (0b001_000, 0xA0);
    let own = read(&bytes).unwrap().organisation;
    assert_eq!((value(own.size), value(own.stack.value).unwrap().dies), (Some(Bytes::gib(16)), 2));
}

/// Soldered parts have the first 128 bytes alone: no part number.
#[test]
fn ddr3_half() {
    let spd = read(&ddr3()[..128]).unwrap();
    let identity = spd.identity.as_ref().unwrap();
    assert_eq!((identity.serial().as_deref(), &identity.part_number), (Some("12345678"), &None));
    assert!(identity.revision.is_empty() && identity.dram_maker.is_none());
}

#[test]
fn ddr4_contents() {
    let spd = read(&ddr4()).unwrap();
    assert_eq!(outline(&spd), (Bytes::gib(32), 2, 4, 64, 8, 2933));
    assert_eq!((value(spd.cycle.value), spd.unrounded_rate()), (Some(682), Some(2932)));
    assert_eq!(value(spd.organisation.total_lines()), Some(72));
    let (serial, part) = texts("BAADCAFE", "WW32-2R4-2933");
    assert_eq!(identified(&spd), (Some((1, 0x2C)), serial, part, Some((2020, 40))));
    assert_eq!(spd.identity.as_ref().unwrap().maker.name(), Some("Micron Technology"));
    assert_eq!(spd.register.as_ref().unwrap().code, Some((7, 0x32)));
    let outcomes: Vec<Outcome> = spd.checks.iter().map(Check::outcome).collect();
    assert_eq!(outcomes, [Outcome::Right, Outcome::Right]);
    assert!(!spd.identity_is_covered());
    assert_eq!(spd.identity.as_ref().unwrap().revision, [0x31]);
}

/// A module of 128 GiB with four stacked dies in each package, by its published values; and two dies that are not stacked.
#[test]
fn ddr4_stacks() {
    let mut bytes = ddr4();
    (bytes[3], bytes[6]) = (4, 0b1_011_00_10);
    close(&mut bytes, 0, 125, 126);
    let spd = read(&bytes).unwrap();
    assert_eq!(value(spd.organisation.size), Some(Bytes::gib(128)));
    let ranks = (spd.organisation.package_ranks.value, spd.organisation.logical_ranks);
    assert_eq!((value(ranks.0), value(ranks.1)), (Some(2), Some(8)));
    assert_eq!(Coded::from(&spd).ranks, None, "either number may be stated");
    bytes[6] = 0b1_001_00_01;
    let spd = read(&bytes).unwrap();
    assert_eq!(
        (value(spd.organisation.size), value(spd.organisation.logical_ranks)),
        (Some(Bytes::gib(32)), Some(2))
    );
    bytes[6] = 0b1_001_00_11;
    assert_eq!(read(&bytes).unwrap().organisation.size, None, "a loading that does not exist");
}

#[test]
fn ddr4_sizes_that_are_no_powers_of_two() {
    let mut bytes = ddr4();
    bytes[4] = 0x88;
    assert_eq!(value(read(&bytes).unwrap().organisation.size), Some(Bytes::gib(48)));
    // Ranks of different sizes: the formula does not hold.
    bytes[12] |= 0x40;
    assert!(!read(&bytes).unwrap().organisation.size.unwrap().certainty.binds());
    bytes[4] = 0x8F;
    assert_eq!(read(&bytes).unwrap().organisation.size, None);
}

/// An older driver shows the first half: no identity, and that is no fault.
#[test]
fn ddr4_half() {
    let spd = read(&ddr4()[..256]).unwrap();
    assert_eq!((spd.identity.as_ref(), spd.checks.len()), (None, 2));
    assert_eq!(value(spd.organisation.size), Some(Bytes::gib(32)));
}

#[test]
fn ddr5_contents() {
    let spd = read(&ddr5()).unwrap();
    assert_eq!(outline(&spd), (Bytes::gib(64), 2, 4, 64, 16, 4800));
    assert_eq!((value(spd.cycle.value), value(spd.organisation.total_lines())), (Some(416), Some(80)));
    let (serial, part) = texts("3BF239F8", "WW64-2R4-4800");
    assert_eq!(identified(&spd), (Some((1, 0x2D)), serial, part, Some((2022, 43))));
    let supplies: Vec<(&str, u32)> =
        spd.supplies.iter().map(|supply| (supply.name, supply.voltage.value.0)).collect();
    assert_eq!(supplies, [("VDD", 1100), ("VDDQ", 1100), ("VPP", 1800)]);
    assert_eq!(spd.checks[0].outcome(), Outcome::Right);
    assert!(!spd.identity_is_covered());
}

/// Dies of 24 Gb make 48 and 96 GiB; stacks multiply; the second die counts for odd ranks.
#[test]
fn ddr5_sizes() {
    let size = |parts: &[(usize, u8)]| {
        let mut bytes = ddr5();
        for (at, byte) in parts {
            bytes[*at] = *byte;
        }
        read(&bytes).unwrap().organisation.size
    };
    let sure = |gib| Some(Known { value: Bytes::gib(gib), certainty: Certainty::Secondary });
    assert_eq!(size(&[(4, 5)]), sure(96));
    assert_eq!(size(&[(4, 5), (234, 0)]), sure(48));
    assert_eq!(size(&[(4, 0b011_00100)]), sure(256));
    assert_eq!(value(size(&[(4, 0b001_00100)])), Some(Bytes::gib(64)));
    assert!(!size(&[(4, 0b001_00100)]).unwrap().certainty.binds(), "sources differ about code 1");
    // Even ranks 16 Gb x4, odd ones 8 Gb x8.
    assert_eq!(size(&[(234, 0b1_001_000), (8, 2), (10, 0b001_00000)]), sure(32 + 8));
    // Three ranks: two are even.
    assert_eq!(size(&[(234, 0b1_010_000), (8, 2), (10, 0b001_00000)]), sure(64 + 8));
    assert_eq!(size(&[(4, 0)]), None);
    assert_eq!(size(&[(6, 0x80)]), None);
    assert_eq!(size(&[(235, 0x52)]), None);
    // A multiplexed module: how its ranks are counted is unknown.
    assert!(!size(&[(3, 7)]).unwrap().certainty.binds());
}

#[test]
fn names_that_are_not_programmed() {
    for filler in [0, 0xFF] {
        let mut bytes = ddr5();
        bytes[512..560].fill(filler);
        let spd = read(&bytes).unwrap();
        assert_eq!(identified(&spd), (None, None, None, None));
        assert_eq!(spd.identity.unwrap().dram_maker.unwrap().name(), None);
    }
}

/// Two digits each; some write numbers, and weeks end at 53.
#[test]
fn dates() {
    let date = |year, week| {
        identity::date(year, week)
            .value
            .map(|known| (known.value.year, known.value.week, known.certainty.binds()))
    };
    assert_eq!(date(0x23, 0x24), Some((2023, 24, true)));
    assert_eq!(date(0x17, 0x1B), Some((2023, 27, false)));
    for (year, week) in [(0, 0), (0xFF, 0xFF), (0x15, 0x54), (0x15, 0)] {
        assert_eq!(date(year, week), None, "{year:02X} {week:02X}");
    }
}

/// A text ends at the first byte that is no character; anything but filler behind it is odd. Blanks inside belong to it.
#[test]
fn texts_of_fixed_width() {
    for (bytes, text, odd) in [
        (&b"M3 93T3253FZ0-CCC "[..], Some("M3 93T3253FZ0-CCC"), false),
        (b"WW16\0\0\0", Some("WW16"), false),
        (b"WW16\x88AB", Some("WW16"), true),
        (b"\0WW16", None, true),
        (b"      ", None, false),
        (b"WW16\xFF\xFF", Some("WW16"), false),
    ] {
        let own = SpdText::new(bytes);
        assert_eq!((own.text.as_deref(), own.has_odd_bytes), (text, odd), "{bytes:?}");
    }
}

/// Pairs that the sources name, with the bank and the registered name.
#[test]
fn makers() {
    for (pair, bank, name) in [
        ([0x80, 0xCE], 1, "Samsung"),
        ([0x80, 0xAD], 1, "SK Hynix"),
        ([0x80, 0x2C], 1, "Micron Technology"),
        ([0x01, 0x98], 2, "Kingston"),
        ([0x02, 0xFE], 3, "Elpida"),
        ([0x04, 0xEF], 5, "Team Group Inc"),
        ([0x85, 0x9B], 6, "Crucial Technology"),
    ] {
        let maker = Maker::pair(pair[0], pair[1]);
        assert_eq!((maker.code.unwrap().0, maker.parity_is_right), (bank, true), "{name}");
        assert_eq!(maker.name(), Some(name));
    }
    assert!(!Maker::pair(0x00, 0x01).parity_is_right);
}

#[test]
fn checks_show_what_has_changed() {
    for (mut bytes, at) in
        [(ddr2(), 30), (ddr3(), 30), (ddr3(), 122), (ddr4(), 30), (ddr4(), 130), (ddr5(), 300)]
    {
        assert!(!read(&bytes).unwrap().is_damaged());
        bytes[at] ^= 0x10;
        let spd = read(&bytes).unwrap();
        assert!(spd.is_damaged(), "byte {at} of {}", spd.generation.name());
        let coded = Coded::from(&spd);
        assert!(!coded.generation.unwrap().certainty.binds(), "{}", spd.generation.name());
        let Some(check) = spd.checks.iter().find(|check| check.covers(at)) else { panic!("{at}") };
        let wrong = Outcome::Wrong { stored: check.stored, computed: check.computed };
        assert_eq!(check.outcome(), wrong);
    }
    // Identity may change with every check still right.
    for (mut bytes, at) in [(ddr2(), 95), (ddr3(), 128), (ddr4(), 325), (ddr5(), 517)] {
        bytes[at] ^= 0x10;
        assert!(!read(&bytes).unwrap().is_damaged());
    }
}

/// Generated contents store no CRC, and a block without contents has nothing to check: neither is right or wrong.
#[test]
fn what_was_not_stored_is_not_checked() {
    let mut bytes = ddr4();
    bytes[126..254].fill(0);
    bytes[254..256].fill(0);
    let outcomes: Vec<Outcome> = read(&bytes).unwrap().checks.iter().map(Check::outcome).collect();
    assert_eq!(outcomes, [Outcome::NotChecked, Outcome::NotChecked]);
    assert!(!read(&bytes).unwrap().is_damaged());
}

#[test]
fn modules_as_part_numbers_describe_them() {
    let coded = Coded::from(&read(&ddr4()).unwrap());
    assert_eq!(value(coded.generation), Some(MemoryType::DDR4));
    assert_eq!(value(coded.kind), Some(ModuleKind::Rdimm));
    assert_eq!(
        (value(coded.size), value(coded.ranks), value(coded.width)),
        (Some(Bytes::gib(32)), Some(2), Some(4))
    );
    assert_eq!((value(coded.rated), value(coded.ecc)), (Some(TransferRate(2933)), Some(true)));
    assert_eq!(value(coded.voltage), Some(Millivolts(1200)));
    assert!(coded.size.unwrap().certainty.binds() && !coded.persistent);

    assert_eq!(value(Coded::from(&read(&ddr3()).unwrap()).voltage), Some(Millivolts(1350)), "the lowest");

    // Unbuffered with lines for check bits is its own kind; without, it is not.
    let mut bytes = ddr4();
    bytes[3] = 2;
    assert_eq!(value(Coded::from(&read(&bytes).unwrap()).kind), Some(ModuleKind::EccUdimm));
    bytes[13] = 3;
    assert_eq!(value(Coded::from(&read(&bytes).unwrap()).kind), Some(ModuleKind::Udimm));
    bytes[3] = 0x91;
    let hybrid = Coded::from(&read(&bytes).unwrap());
    assert!(hybrid.persistent && value(hybrid.kind) == Some(ModuleKind::Nvdimm));
}

#[test]
fn fully_buffered_modules_have_their_identity_alone() {
    let mut bytes =
        built(256, &[(0, &[0x12, 0x11, 9]), (117, &[0x80, 0xCE, 1, 8, 0x12, 1, 2, 3, 4]), (128, b"WW-FB")]);
    close(&mut bytes, 0, 125, 126);
    let spd = read(&bytes).unwrap();
    let (serial, part) = texts("01020304", "WW-FB");
    assert_eq!(identified(&spd), (Some((1, 0x4E)), serial, part, Some((2008, 12))));
    assert_eq!((spd.organisation, spd.rated), (Organisation::default(), None));
    assert_eq!(spd.checks[0].outcome(), Outcome::Right);
}
