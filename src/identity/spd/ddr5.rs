//! Contents of DDR5 modules. Offsets: `spd_ddr5.h` of libjedec (JESD400-5A.01), coreboot `ddr5.c`, checked on public dumps.

use super::check::Check;
use super::identity::{self, Identity, Maker, SpdText};
use super::organisation::{Organisation, at_most, bus_width, chip_width};
use super::tables::{DDR5_CHECK_LINES, DDR5_DIES, DDR5_FORMS, DDR5_HYBRIDS, DDR5_STACKS, look_up};
use super::{Certainty, Field, Known, Spd, Supply, rated};
use crate::enums::MemoryType;
use crate::identity::ModuleKind;
use crate::units::{Bytes, Millivolts};

pub(super) fn read(bytes: &[u8]) -> Option<Spd> {
    let base = bytes.first_chunk::<512>()?;
    let form = look_up(DDR5_FORMS, base[3] & 0xF);
    let cycle = u32::from(u16::from_le_bytes([base[20], base[21]]));
    let cycle = Field::agreed(cycle, (cycle > 0).then_some(cycle));
    let register = matches!(form.raw, 1 | 4 | 7).then(|| Maker::pair(base[240], base[241]));
    Some(Spd {
        generation: MemoryType::DDR5,
        length: bytes.len(),
        layout_revision: base[1],
        form,
        hybrid: (base[3] & 0x80 != 0).then(|| look_up(DDR5_HYBRIDS, (base[3] >> 4) & 7)),
        organisation: organisation(base, form.value.and_then(|form| form.value.kind)),
        cycle,
        rated: rated(cycle),
        supplies_raw: vec![base[16], base[17], base[18]],
        supplies: supplies([base[16], base[17], base[18]]),
        register,
        identity: identity(bytes),
        checks: Check::crc(bytes, 0..=509, 510).into_iter().collect(),
    })
}

fn identity(bytes: &[u8]) -> Option<Identity> {
    let block = bytes.get(512..)?.first_chunk::<64>()?;
    Some(Identity {
        maker: Maker::pair(block[0], block[1]),
        place: block[2],
        date: identity::date(block[3], block[4]),
        serial_raw: [block[5], block[6], block[7], block[8]],
        serial_at: 517,
        part_number: Some(SpdText::new(block.get(9..39)?)),
        revision: vec![block[39]],
        dram_maker: Some(Maker::pair(block[40], block[41])),
    })
}

/// The nominal voltages of code 0. What the parts of the code mean, only one source has; other codes are not read.
fn supplies(raw: [u8; 3]) -> Vec<Supply> {
    let nominal = [("VDD", 1100), ("VDDQ", 1100), ("VPP", 1800)];
    let known = nominal.into_iter().zip(raw).filter(|(_, code)| *code == 0);
    known
        .map(|((name, millivolts), _)| Supply {
            name,
            voltage: Known { value: Millivolts(millivolts), certainty: Certainty::Inferred },
        })
        .collect()
}

fn organisation(base: &[u8; 512], kind: Option<ModuleKind>) -> Organisation {
    let sub_channels = (base[235] >> 5) & 3;
    // Two code points above are reserved; no module has them.
    let sub_channels =
        Field::agreed(u32::from(sub_channels), (sub_channels <= 1).then_some(sub_channels + 1));
    let mut organisation = Organisation {
        die: look_up(DDR5_DIES, base[4] & 0x1F),
        stack: look_up(DDR5_STACKS, base[4] >> 5),
        package_ranks: Field::agreed(u32::from((base[234] >> 3) & 7), Some(((base[234] >> 3) & 7) + 1)),
        ranks_differ: base[234] & 0x40 != 0,
        width: chip_width(base[6] >> 5),
        sub_channels,
        data_lines: all_lines(bus_width(base[235] & 7), sub_channels),
        check_lines: all_lines(look_up(DDR5_CHECK_LINES, (base[235] >> 3) & 3), sub_channels),
        ..Organisation::default()
    };
    if kind == Some(ModuleKind::Mrdimm) {
        // How ranks that are multiplexed are counted, no source says.
        let ranks = organisation.package_ranks.value;
        organisation.package_ranks.value = ranks.map(|ranks| at_most(ranks, Certainty::Memory));
    }
    organisation.logical_ranks = organisation.count_logical_ranks();
    let Some(ranks) = organisation.package_ranks.value else { return organisation };
    if organisation.ranks_differ {
        organisation.odd_width = Some(chip_width(base[10] >> 5));
        organisation.size = unequal_size(&organisation, base, ranks.value);
    } else {
        organisation.size = organisation.size_of(organisation.die, organisation.width, ranks.value);
    }
    organisation
}

/// A field of one sub-channel, for all of them.
fn all_lines(lines: Field<u8>, sub_channels: Field<u8>) -> Field<u8> {
    let value = lines.value.zip(sub_channels.value).and_then(|(lines, count)| {
        let value = lines.value.checked_mul(count.value)?;
        Some(Known { value, certainty: lines.certainty.max(count.certainty) })
    });
    Field { raw: lines.raw, value }
}

/// Even ranks are as bytes 4 to 7 say, odd ones as bytes 8 to 11: both parts together. Counted from 0, so that one of an
/// odd number more is even.
fn unequal_size(organisation: &Organisation, base: &[u8; 512], ranks: u8) -> Option<Known<Bytes>> {
    let even = organisation.size_of(organisation.die, organisation.width, ranks.div_ceil(2))?;
    let second = Organisation { stack: look_up(DDR5_STACKS, base[8] >> 5), ..organisation.clone() };
    let odd = second.size_of(look_up(DDR5_DIES, base[8] & 0x1F), chip_width(base[10] >> 5), ranks / 2)?;
    let value = Bytes(even.value.0.checked_add(odd.value.0)?);
    Some(Known { value, certainty: even.certainty.max(odd.certainty) })
}
