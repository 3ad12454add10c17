//! Contents of DDR2 modules. Offsets: i2c-tools `decode-dimms`, checked on a dump that a list post of 2009 decodes.

use super::check::Check;
use super::identity::{self, Identity, Maker, SpdText};
use super::organisation::{Organisation, Stack};
use super::tables::{DDR2_CYCLE_PARTS, DDR2_FORMS, DDR2_RANK_SIZES, look_up};
use super::{Certainty, Field, Known, Spd, Supply, rated};
use crate::enums::MemoryType;
use crate::units::Bytes;

pub(super) fn read(bytes: &[u8]) -> Option<Spd> {
    let base = bytes.first_chunk::<128>()?;
    let form = look_up(DDR2_FORMS, base[20] & 0x3F);
    let cycle = cycle(base[9]);
    // Interface voltage level 5. Source: decode-dimms.
    let supply = (base[8] == 5).then_some(Supply::vdd(1800));
    Some(Spd {
        generation: MemoryType::DDR2,
        length: bytes.len(),
        layout_revision: base[62],
        form,
        hybrid: None,
        organisation: organisation(base),
        cycle,
        rated: rated(cycle),
        supplies_raw: vec![base[8]],
        supplies: supply.into_iter().collect(),
        register: None,
        identity: Some(Identity {
            maker: Maker::run(base.get(64..72)?),
            place: base[72],
            date: identity::date(base[93], base[94]),
            serial_raw: [base[95], base[96], base[97], base[98]],
            serial_at: 95,
            part_number: Some(SpdText::new(base.get(73..91)?)),
            revision: vec![base[91], base[92]],
            dram_maker: None,
        }),
        checks: Check::sum(bytes, 0..=62, 63).into_iter().collect(),
    })
}

/// Whole nanoseconds in the high half, parts of one in the low half.
fn cycle(byte: u8) -> Field<u32> {
    let part = look_up(DDR2_CYCLE_PARTS, byte & 0xF).value;
    let whole = u32::from(byte >> 4) * 1000;
    let value = part.map(|part| Known { value: whole + part.value, ..part }).filter(|cycle| cycle.value > 0);
    Field { raw: u32::from(byte), value }
}

fn organisation(base: &[u8; 128]) -> Organisation {
    let total = u16::from_le_bytes([base[6], base[7]]);
    let raw = u32::from(total);
    let (data, check) = match total {
        64 => (Some(64), Some(0)),
        72 => (Some(64), Some(8)),
        _ => (None, None),
    };
    let width = Field::agreed(u32::from(base[13]), matches!(base[13], 4 | 8 | 16).then_some(base[13]));
    // What the stacked flag does to the number of ranks, the source does not say.
    let stacked = base[5] & 0x10 != 0;
    let stack_certainty = if stacked { Certainty::Inferred } else { Certainty::Secondary };
    let stack = Stack { dies: if stacked { 2 } else { 1 }, is_3ds: false };
    let mut organisation = Organisation {
        die: die(base, width),
        stack: Field::new(u32::from(stacked), Some(stack), stack_certainty),
        package_ranks: Field::new(u32::from(base[5] & 7), Some((base[5] & 7) + 1), stack_certainty),
        width,
        sub_channels: Field::agreed(0, Some(1)),
        data_lines: Field::agreed(raw, data),
        check_lines: Field::agreed(raw, check),
        ..Organisation::default()
    };
    organisation.logical_ranks = organisation.count_logical_ranks();
    set_size(&mut organisation, base[31]);
    organisation
}

/// Rows, columns and banks of a die, times its width.
fn die(base: &[u8; 128], width: Field<u8>) -> Field<u32> {
    let (rows, columns, banks) = (base[3] & 0xF, base[4] & 0xF, base[17]);
    let raw = u32::from_be_bytes([0, base[3], base[4], banks]);
    let bits =
        width.value.map(|width| (1_u64 << (rows + columns)) * u64::from(banks) * u64::from(width.value));
    let megabits = bits.and_then(|bits| u32::try_from(bits >> 20).ok()).filter(|megabits| *megabits > 0);
    Field::agreed(raw, megabits)
}

/// The size by addresses must be that by the size of a rank. The meaning of that field's bits is less sure, so a size that
/// nothing confirms does not bind, and two that differ are worth no more than a memory.
fn set_size(organisation: &mut Organisation, rank_size: u8) {
    let Some(ranks) = organisation.package_ranks.value else { return };
    let by_addresses = organisation.size_of(organisation.die, organisation.width, ranks.value);
    let rank = look_up(DDR2_RANK_SIZES, rank_size).value;
    let by_rank = rank.map(|rank| Bytes::mib(u64::from(rank.value) * u64::from(ranks.value)));
    organisation.size = by_addresses.map(|size| match by_rank {
        Some(other) if other == size.value => size,
        None => Known { certainty: size.certainty.max(Certainty::Inferred), ..size },
        Some(_) => Known { certainty: Certainty::Memory, ..size },
    });
    organisation.other_size = by_rank.filter(|other| by_addresses.is_none_or(|size| size.value != *other));
}
