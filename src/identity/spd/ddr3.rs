//! Contents of DDR3 modules, and what fully buffered modules have at the same places. Offsets: `decode-dimms` of i2c-tools
//! and `spd_ddr3.h` of libjedec (21-C Annex K release 6), checked on public dumps.

use super::check::Check;
use super::identity::{self, Identity, Maker, SpdText};
use super::organisation::{Organisation, Stack, bus_width, chip_width};
use super::tables::{CHECK_LINES, DDR3_DIES, DDR3_FORMS, DDR3_RANKS, DDR3_STACKS, look_up};
use super::{Certainty, Field, Form, Spd, Supply, rated};
use crate::enums::MemoryType;
use crate::identity::ModuleKind;

pub(super) fn read(bytes: &[u8]) -> Option<Spd> {
    let base = bytes.first_chunk::<128>()?;
    let form = look_up(DDR3_FORMS, base[3] & 0xF);
    let cycle = cycle(base);
    // The register is named only where there is one.
    let register = matches!(form.raw, 1 | 5 | 11).then(|| Maker::pair(base[65], base[66]));
    let last = if base[0] & 0x80 == 0 { 125 } else { 116 };
    Some(Spd {
        generation: MemoryType::DDR3,
        length: bytes.len(),
        layout_revision: base[1],
        form,
        hybrid: None,
        organisation: organisation(base),
        cycle,
        rated: rated(cycle),
        supplies_raw: vec![base[6]],
        supplies: supplies(base[6]),
        register,
        identity: Some(identity(base, bytes)),
        checks: Check::crc(bytes, 0..=last, 126).into_iter().collect(),
    })
}

/// Fully buffered DDR2 modules name themselves as DDR3 modules do (decode-dimms). The fields before are others, and are
/// not read.
pub(super) fn read_fully_buffered(bytes: &[u8]) -> Option<Spd> {
    let base = bytes.first_chunk::<128>()?;
    let mut identity = identity(base, bytes);
    // Whose chips they are, no source says for this layout.
    identity.dram_maker = None;
    let last = if base[0] & 0x80 == 0 { 125 } else { 116 };
    Some(Spd {
        generation: MemoryType::DDR2_FB,
        length: bytes.len(),
        layout_revision: base[1],
        form: Field::new(
            u32::from(base[2]),
            Some(Form { name: "FB-DIMM", kind: Some(ModuleKind::FbDimm) }),
            Certainty::Secondary,
        ),
        hybrid: None,
        organisation: Organisation::default(),
        cycle: Field::default(),
        rated: None,
        supplies_raw: Vec::new(),
        supplies: Vec::new(),
        register: None,
        identity: Some(identity),
        checks: Check::crc(bytes, 0..=last, 126).into_iter().collect(),
    })
}

fn identity(base: &[u8; 128], bytes: &[u8]) -> Identity {
    let dram_maker = match bytes.get(148..150) {
        Some([first, second]) => Some(Maker::pair(*first, *second)),
        _ => None,
    };
    Identity {
        maker: Maker::pair(base[117], base[118]),
        place: base[119],
        date: identity::date(base[120], base[121]),
        serial_raw: [base[122], base[123], base[124], base[125]],
        serial_at: 122,
        part_number: bytes.get(128..146).map(SpdText::new),
        revision: bytes.get(146..148).unwrap_or_default().to_vec(),
        dram_maker,
    }
}

fn organisation(base: &[u8; 128]) -> Organisation {
    // One die of ordinary build states no number.
    let stack = match base[33] & 0xF0 {
        0 => Field::agreed(0, Some(Stack::SINGLE)),
        code => Field { raw: u32::from(code), ..look_up(DDR3_STACKS, (code >> 4) & 7) },
    };
    let mut organisation = Organisation {
        die: look_up(DDR3_DIES, base[4] & 0xF),
        stack,
        package_ranks: look_up(DDR3_RANKS, (base[7] >> 3) & 7),
        width: chip_width(base[7] & 7),
        sub_channels: Field::agreed(0, Some(1)),
        data_lines: bus_width(base[8] & 7),
        check_lines: look_up(CHECK_LINES, (base[8] >> 3) & 3),
        ..Organisation::default()
    };
    let Some(ranks) = organisation.package_ranks.value else { return organisation };
    // Dies do not enter the size, whether stated or not.
    let sized = Organisation { stack: Field::agreed(0, Some(Stack::SINGLE)), ..organisation.clone() };
    organisation.size = sized.size_of(organisation.die, organisation.width, ranks.value);
    organisation.logical_ranks = sized.count_logical_ranks();
    organisation
}

/// The coarse cycle in units of the medium timebase (nanoseconds), and a signed correction in units of the fine one
/// (picoseconds).
fn cycle(base: &[u8; 128]) -> Field<u32> {
    let raw = u32::from_be_bytes([0, 0, base[12], base[34]]);
    Field::agreed(raw, picoseconds(base).filter(|cycle| *cycle > 0))
}

fn picoseconds(base: &[u8; 128]) -> Option<u32> {
    let (fine, fine_unit) = (i64::from(base[34].cast_signed()), base[9]);
    let coarse = (i64::from(base[12]) * i64::from(base[10]) * 1000).checked_div(i64::from(base[11]))?;
    let fine = (fine * i64::from(fine_unit >> 4)).checked_div(i64::from(fine_unit & 0xF));
    // Contents before the fine timebase came have neither unit nor correction.
    u32::try_from(coarse + fine.unwrap_or(0)).ok()
}

/// Bit 0 is the wrong way round: it is set where the module does *not* work at 1.5 V.
fn supplies(byte: u8) -> Vec<Supply> {
    let works = [(byte & 1 == 0, 1500), (byte & 2 != 0, 1350), (byte & 4 != 0, 1250)];
    works.into_iter().filter(|(works, _)| *works).map(|(_, millivolts)| Supply::vdd(millivolts)).collect()
}
