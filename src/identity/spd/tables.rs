//! What the codes in contents mean: a table for each field, the source of its rows at its head.
//!
//! Sources, all of them open code that cites the layouts: `decode-dimms` of i2c-tools (DDR2 to DDR4), libjedec of illumos
//! (`spd_ddr3.h`: 21-C Annex K release 6; `spd_ddr4.h`: Annex L release 6; `spd_ddr5.h`: JESD400-5A.01), coreboot
//! (`ddr4.c`, `ddr5.c`), `SdramSpdDdr4.h` of edk2, the size rule of openpower-vpd-parser. A row is `Secondary`
//! where two or more agree, or where the one that has the table agrees with dumps whose values are known; `Inferred` where
//! one alone has it, `Memory` where they disagree.

use Certainty::{Inferred, Memory, Secondary};

use super::length::Layout;
use super::organisation::Stack;
use super::{Certainty, Field, Form, Known};
use crate::enums::MemoryType;
use crate::identity::ModuleKind;

/// A code, what it means, how sure that is.
pub(super) type Row<T> = (u8, T, Certainty);

/// What `code` means by `rows`.
pub(super) fn look_up<T: Copy>(rows: &[Row<T>], code: u8) -> Field<T> {
    let row = rows.iter().find(|(own, ..)| *own == code);
    Field {
        raw: u32::from(code),
        value: row.map(|(_, value, certainty)| Known { value: *value, certainty: *certainty }),
    }
}

/// Layouts by their key byte, with the lengths in which they are met. Key bytes: decode-dimms, libjedec, coreboot.
/// Lengths: EEPROMs have 256, 512 and 1024 bytes; soldered parts have the first 128 of DDR3 (coreboot); an older driver
/// shows the first 256 of DDR4; the first half of DDR5 is all that its check covers.
pub(super) const GENERATIONS: &[Layout] = &[
    Layout {
        key: 0x08,
        generation: MemoryType::DDR2,
        lengths: &[256, 128],
        lengths_in_words: "256 bytes, or the first 128",
    },
    Layout { key: 0x09, generation: MemoryType::DDR2_FB, lengths: &[256], lengths_in_words: "256 bytes" },
    Layout {
        key: 0x0B,
        generation: MemoryType::DDR3,
        lengths: &[256, 128],
        lengths_in_words: "256 bytes, or the first 128",
    },
    Layout {
        key: 0x0C,
        generation: MemoryType::DDR4,
        lengths: &[512, 256],
        lengths_in_words: "512 bytes, or the first 256",
    },
    Layout {
        key: 0x12,
        generation: MemoryType::DDR5,
        lengths: &[2048, 1024, 512],
        lengths_in_words: "1024 bytes, or the first 512",
    },
];

/// Key bytes of memory that is not read. Source: decode-dimms, libjedec.
pub(super) const OTHER_KEYS: &[(u8, &str)] = &[
    (0x04, "SDRAM"),
    (0x07, "DDR"),
    (0x0A, "an FB-DIMM probe"),
    (0x0E, "DDR4E"),
    (0x0F, "LPDDR3"),
    (0x10, "LPDDR4"),
    (0x11, "LPDDR4X"),
    (0x13, "LPDDR5"),
    (0x14, "a kind of DDR5 that is not read"),
    (0x15, "a kind of LPDDR5"),
];

const fn form(name: &'static str, kind: ModuleKind) -> Form {
    Form { name, kind: Some(kind) }
}

const fn other(name: &'static str) -> Form {
    Form { name, kind: None }
}

/// DDR2, byte 20, a bit for each. Source: decode-dimms.
pub(super) const DDR2_FORMS: &[Row<Form>] = &[
    (0x01, form("RDIMM", ModuleKind::Rdimm), Secondary),
    (0x02, form("UDIMM", ModuleKind::Udimm), Secondary),
    (0x04, form("SO-DIMM", ModuleKind::SoDimm), Secondary),
    (0x08, other("Micro-DIMM"), Secondary),
    (0x10, form("Mini-RDIMM", ModuleKind::Rdimm), Secondary),
    (0x20, form("Mini-UDIMM", ModuleKind::Udimm), Secondary),
];

/// DDR2, byte 31, a bit for each: mebibytes of a rank. Source: decode-dimms; bit 6 seen on a dump that a list post of 2009
/// decodes.
pub(super) const DDR2_RANK_SIZES: &[Row<u32>] = &[
    (0x01, 1024, Inferred),
    (0x02, 2048, Inferred),
    (0x04, 4096, Inferred),
    (0x08, 8192, Inferred),
    (0x10, 16384, Inferred),
    (0x20, 128, Inferred),
    (0x40, 256, Secondary),
    (0x80, 512, Inferred),
];

/// DDR2, byte 9, low half: picoseconds beside the whole nanoseconds; 0 to 9 are tenths. Source: decode-dimms.
pub(super) const DDR2_CYCLE_PARTS: &[Row<u32>] = &[
    (0, 0, Secondary),
    (1, 100, Secondary),
    (2, 200, Secondary),
    (3, 300, Secondary),
    (4, 400, Secondary),
    (5, 500, Secondary),
    (6, 600, Secondary),
    (7, 700, Secondary),
    (8, 800, Secondary),
    (9, 900, Secondary),
    (0xA, 250, Secondary),
    (0xB, 333, Secondary),
    (0xC, 667, Secondary),
    (0xD, 750, Secondary),
];

/// DDR3, byte 3. Source: libjedec, decode-dimms, which have 8 and 9 the other way round; both are small outline.
pub(super) const DDR3_FORMS: &[Row<Form>] = &[
    (1, form("RDIMM", ModuleKind::Rdimm), Secondary),
    (2, form("UDIMM", ModuleKind::Udimm), Secondary),
    (3, form("SO-DIMM", ModuleKind::SoDimm), Secondary),
    (4, other("Micro-DIMM"), Secondary),
    (5, form("Mini-RDIMM", ModuleKind::Rdimm), Secondary),
    (6, form("Mini-UDIMM", ModuleKind::Udimm), Secondary),
    (7, other("Mini-CDIMM"), Secondary),
    (8, form("72-bit SO-DIMM", ModuleKind::SoDimm), Memory),
    (9, form("72-bit SO-DIMM", ModuleKind::SoDimm), Memory),
    (10, other("72-bit SO-CDIMM"), Secondary),
    (11, form("LRDIMM", ModuleKind::Lrdimm), Secondary),
    (12, form("16-bit SO-DIMM", ModuleKind::SoDimm), Secondary),
    (13, form("32-bit SO-DIMM", ModuleKind::SoDimm), Secondary),
];

/// DDR4, byte 3. Source: libjedec, edk2, coreboot. Code 0 refers to another byte.
pub(super) const DDR4_FORMS: &[Row<Form>] = &[
    (1, form("RDIMM", ModuleKind::Rdimm), Secondary),
    (2, form("UDIMM", ModuleKind::Udimm), Secondary),
    (3, form("SO-DIMM", ModuleKind::SoDimm), Secondary),
    (4, form("LRDIMM", ModuleKind::Lrdimm), Secondary),
    (5, form("Mini-RDIMM", ModuleKind::Rdimm), Secondary),
    (6, form("Mini-UDIMM", ModuleKind::Udimm), Secondary),
    (8, form("72-bit SO-RDIMM", ModuleKind::SoDimm), Secondary),
    (9, form("72-bit SO-UDIMM", ModuleKind::SoDimm), Secondary),
    (12, form("16-bit SO-DIMM", ModuleKind::SoDimm), Secondary),
    (13, form("32-bit SO-DIMM", ModuleKind::SoDimm), Secondary),
];

/// DDR5, byte 3. Source: libjedec, coreboot; newer revisions of the layout have more.
pub(super) const DDR5_FORMS: &[Row<Form>] = &[
    (1, form("RDIMM", ModuleKind::Rdimm), Secondary),
    (2, form("UDIMM", ModuleKind::Udimm), Secondary),
    (3, form("SO-DIMM", ModuleKind::SoDimm), Secondary),
    (4, form("LRDIMM", ModuleKind::Lrdimm), Secondary),
    (7, form("MRDIMM", ModuleKind::Mrdimm), Inferred),
    (10, other("DDIMM"), Inferred),
    (11, other("soldered"), Inferred),
];

/// DDR4, byte 3, bits 6 to 4 where bit 7 is set. Source: libjedec.
pub(super) const DDR4_HYBRIDS: &[Row<&str>] =
    &[(1, "NVDIMM-N", Inferred), (2, "NVDIMM-P", Inferred), (3, "NVDIMM-H", Inferred)];

/// DDR5, the same. Source: libjedec.
pub(super) const DDR5_HYBRIDS: &[Row<&str>] = &[(1, "NVDIMM-N", Inferred), (2, "NVDIMM-P", Inferred)];

/// DDR3, byte 4: megabits of a die. Source: libjedec; decode-dimms for 0 to 6.
pub(super) const DDR3_DIES: &[Row<u32>] = &[
    (0, 256, Secondary),
    (1, 512, Secondary),
    (2, 1024, Secondary),
    (3, 2048, Secondary),
    (4, 4096, Secondary),
    (5, 8192, Secondary),
    (6, 16384, Secondary),
    (7, 32768, Secondary),
    (8, 12288, Inferred),
    (9, 24576, Inferred),
];

/// DDR4, byte 4: megabits of a die. Source: libjedec, coreboot, 8 and 9 too.
pub(super) const DDR4_DIES: &[Row<u32>] = &[
    (0, 256, Secondary),
    (1, 512, Secondary),
    (2, 1024, Secondary),
    (3, 2048, Secondary),
    (4, 4096, Secondary),
    (5, 8192, Secondary),
    (6, 16384, Secondary),
    (7, 32768, Secondary),
    (8, 12288, Secondary),
    (9, 24576, Secondary),
];

/// DDR5, byte 4: megabits of a die. Source: libjedec, coreboot.
pub(super) const DDR5_DIES: &[Row<u32>] = &[
    (1, 4096, Secondary),
    (2, 8192, Secondary),
    (3, 12288, Secondary),
    (4, 16384, Secondary),
    (5, 24576, Secondary),
    (6, 32768, Secondary),
    (7, 49152, Secondary),
    (8, 65536, Secondary),
];

/// DDR3, byte 7: ranks. Source: libjedec, decode-dimms; that 4 stands for 8 and not for 5, libjedec alone.
pub(super) const DDR3_RANKS: &[Row<u8>] =
    &[(0, 1, Secondary), (1, 2, Secondary), (2, 3, Secondary), (3, 4, Secondary), (4, 8, Inferred)];

/// DDR3, byte 33: dies in a package. They never multiply the size; whether they are 3DS, two readers take from different
/// bits. Source: libjedec, decode-dimms.
pub(super) const DDR3_STACKS: &[Row<Stack>] = &[
    (1, stack(1, false), Secondary),
    (2, stack(2, false), Secondary),
    (3, stack(4, false), Secondary),
    (4, stack(8, false), Secondary),
];

/// DDR5, byte 4, bits 7 to 5: dies in a package. Source: libjedec, openpower-vpd-parser. Code 1 is two dies that do
/// not multiply the size in the one, and reserved in the other.
pub(super) const DDR5_STACKS: &[Row<Stack>] = &[
    (0, stack(1, false), Secondary),
    (1, stack(2, false), Inferred),
    (2, stack(2, true), Secondary),
    (3, stack(4, true), Secondary),
    (4, stack(8, true), Secondary),
    (5, stack(16, true), Secondary),
];

const fn stack(dies: u8, is_3ds: bool) -> Stack {
    Stack { dies, is_3ds }
}

/// DDR3 and DDR4, bits 4 and 3 of the width of the bus: lines for check bits. Source: libjedec, decode-dimms, edk2.
pub(super) const CHECK_LINES: &[Row<u8>] = &[(0, 0, Secondary), (1, 8, Secondary)];

/// DDR5, byte 235, bits 4 and 3: lines for check bits of a sub-channel. Source: libjedec, coreboot.
pub(super) const DDR5_CHECK_LINES: &[Row<u8>] = &[(0, 0, Secondary), (1, 4, Secondary), (2, 8, Secondary)];
