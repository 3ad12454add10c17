//! Contents of DDR4 modules. Offsets: `spd_ddr4.h` of libjedec (21-C Annex L release 6), coreboot `ddr4.c`, edk2
//! `SdramSpdDdr4.h`, `decode-dimms` of i2c-tools, checked on public dumps.

use super::check::Check;
use super::identity::{self, Identity, Maker, SpdText};
use super::organisation::{Organisation, Stack, at_most, bus_width, chip_width};
use super::tables::{CHECK_LINES, DDR4_DIES, DDR4_FORMS, DDR4_HYBRIDS, look_up};
use super::{Certainty, Field, Spd, Supply, rated};
use crate::enums::MemoryType;

pub(super) fn read(bytes: &[u8]) -> Option<Spd> {
    let base = bytes.first_chunk::<256>()?;
    let form = look_up(DDR4_FORMS, base[3] & 0xF);
    let cycle = cycle(base);
    // Other kinds have other things at the place of the register's maker.
    let register = matches!(form.raw, 1 | 4 | 5 | 8).then(|| Maker::pair(base[133], base[134]));
    let supply = (base[11] & 1 != 0).then_some(Supply::vdd(1200));
    let checks = [Check::crc(bytes, 0..=125, 126), Check::crc(bytes, 128..=253, 254)];
    Some(Spd {
        generation: MemoryType::DDR4,
        length: bytes.len(),
        layout_revision: base[1],
        form,
        hybrid: (base[3] & 0x80 != 0).then(|| look_up(DDR4_HYBRIDS, (base[3] >> 4) & 7)),
        organisation: organisation(base),
        cycle,
        rated: rated(cycle),
        supplies_raw: vec![base[11]],
        supplies: supply.into_iter().collect(),
        register,
        identity: identity(bytes),
        checks: checks.into_iter().flatten().collect(),
    })
}

fn identity(bytes: &[u8]) -> Option<Identity> {
    let block = bytes.get(320..)?.first_chunk::<64>()?;
    Some(Identity {
        maker: Maker::pair(block[0], block[1]),
        place: block[2],
        date: identity::date(block[3], block[4]),
        serial_raw: [block[5], block[6], block[7], block[8]],
        serial_at: 325,
        part_number: Some(SpdText::new(block.get(9..29)?)),
        revision: vec![block[29]],
        dram_maker: Some(Maker::pair(block[30], block[31])),
    })
}

fn organisation(base: &[u8; 256]) -> Organisation {
    let package = base[6];
    let dies = ((package >> 4) & 7) + 1;
    // Loading 0 is not stated and 1 is a load for each die; only 2 is 3DS.
    let stack = match package & 3 {
        0 | 1 => Some(Stack { dies, is_3ds: false }),
        2 => Some(Stack { dies, is_3ds: true }),
        _ => None,
    };
    let mut organisation = Organisation {
        die: look_up(DDR4_DIES, base[4] & 0xF),
        stack: Field::agreed(u32::from(package), stack),
        package_ranks: Field::agreed(u32::from((base[12] >> 3) & 7), Some(((base[12] >> 3) & 7) + 1)),
        ranks_differ: base[12] & 0x40 != 0,
        width: chip_width(base[12] & 7),
        sub_channels: Field::agreed(0, Some(1)),
        data_lines: bus_width(base[13] & 7),
        check_lines: look_up(CHECK_LINES, (base[13] >> 3) & 3),
        ..Organisation::default()
    };
    organisation.logical_ranks = organisation.count_logical_ranks();
    let Some(ranks) = organisation.package_ranks.value else { return organisation };
    organisation.size = organisation.size_of(organisation.die, organisation.width, ranks.value);
    if organisation.ranks_differ {
        // No module with ranks of different sizes was seen: what the second package is, is not computed.
        organisation.size = organisation.size.map(|size| at_most(size, Certainty::Memory));
    }
    organisation
}

/// In units of 125 ps, with a signed correction of 1 ps; other units do not exist (byte 17).
fn cycle(base: &[u8; 256]) -> Field<u32> {
    let picoseconds = i32::from(base[18]) * 125 + i32::from(base[125].cast_signed());
    let known = (base[17] == 0).then(|| u32::try_from(picoseconds).ok()).flatten();
    Field::agreed(u32::from_be_bytes([0, base[17], base[18], base[125]]), known.filter(|cycle| *cycle > 0))
}
