//! SMBIOS enumerations as dmidecode prints them.
//!
//! Source of codes and names: DMTF DSP0134 3.9.0, clauses 7.17.1 to 7.17.3 (arrays) and 7.18.1 to 7.18.6
//! (memory devices). A name that is missing here is unknown to the standard and reads as unknown.

use std::fmt;

macro_rules! enumeration {
    ($(#[$meta:meta])* $name:ident, $table:ident: $table_type:ty) => {
        $(#[$meta])*
        #[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub u8);

        impl $name {
            /// Reads the name that dmidecode prints; `None` for a name outside the standard.
            pub fn parse(text: &str) -> Option<Self> {
                $table.iter().find(|(_, name)| *name == text).map(|(code, _)| Self(*code))
            }

            /// The standard's name of this code; empty for a code outside the standard.
            pub fn name(self) -> &'static str {
                $table.iter().find(|(code, _)| *code == self.0).map_or("", |(_, name)| name)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(self.name())
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}({:#04x} {})", stringify!($name), self.0, self.name())
            }
        }
    };
}

enumeration! {
    /// Memory Device, Memory Type (7.18.2).
    MemoryType, MEMORY_TYPES: &[(u8, &str)]
}

/// Codes and names of clause 7.18.2, the commonest in servers first since the reader looks from the front.
pub(crate) const MEMORY_TYPES: &[(u8, &str)] = &[
    (0x1A, "DDR4"),
    (0x18, "DDR3"),
    (0x22, "DDR5"),
    (0x13, "DDR2"),
    (0x14, "DDR2 FB-DIMM"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x03, "DRAM"),
    (0x04, "EDRAM"),
    (0x05, "VRAM"),
    (0x06, "SRAM"),
    (0x07, "RAM"),
    (0x08, "ROM"),
    (0x09, "Flash"),
    (0x0A, "EEPROM"),
    (0x0B, "FEPROM"),
    (0x0C, "EPROM"),
    (0x0D, "CDRAM"),
    (0x0E, "3DRAM"),
    (0x0F, "SDRAM"),
    (0x10, "SGRAM"),
    (0x11, "RDRAM"),
    (0x12, "DDR"),
    (0x15, "Reserved"),
    (0x16, "Reserved"),
    (0x17, "Reserved"),
    (0x19, "FBD2"),
    (0x1B, "LPDDR"),
    (0x1C, "LPDDR2"),
    (0x1D, "LPDDR3"),
    (0x1E, "LPDDR4"),
    (0x1F, "Logical non-volatile device"),
    (0x20, "HBM"),
    (0x21, "HBM2"),
    (0x23, "LPDDR5"),
    (0x24, "HBM3"),
    (0x25, "MRDIMM"),
];

impl MemoryType {
    /// DDR2.
    pub const DDR2: Self = Self(0x13);
    /// DDR2 on fully buffered modules.
    pub const DDR2_FB: Self = Self(0x14);
    /// DDR3.
    pub const DDR3: Self = Self(0x18);
    /// DDR4.
    pub const DDR4: Self = Self(0x1A);
    /// DDR5.
    pub const DDR5: Self = Self(0x22);
    /// Flash, which is never main memory.
    pub const FLASH: Self = Self(0x09);
    /// Persistent memory seen as a logical device.
    pub const LOGICAL_NON_VOLATILE: Self = Self(0x1F);
    /// Multiplexed-rank modules.
    pub const MRDIMM: Self = Self(0x25);

    /// Whether it is of the DDR5 generation, whose modules have a power controller of their own: DDR5, LPDDR5, MRDIMM.
    pub(crate) fn is_ddr5(self) -> bool {
        matches!(self.0, 0x22 | 0x23 | 0x25)
    }

    /// Whether it is memory on the processor's package: HBM, HBM2, HBM3.
    pub fn is_high_bandwidth(self) -> bool {
        matches!(self.0, 0x20 | 0x21 | 0x24)
    }

    /// Whether the type says nothing: `Other`, `Unknown`, `Reserved`.
    pub fn says_nothing(self) -> bool {
        matches!(self.0, 0x01 | 0x02 | 0x15..=0x17)
    }

    /// Whether the type is a general word: real firmware prints `DRAM`, `RAM` and `SDRAM` for DDR2, DDR3 and
    /// DDR4, so such a word contradicts none of them.
    pub fn is_general(self) -> bool {
        matches!(self.0, 0x03 | 0x07 | 0x0F)
    }

    /// Whether two types are one generation; fully buffered DDR2 has codes of its own.
    pub fn same_generation(self, other: Self) -> bool {
        let base = |t: Self| if matches!(t.0, 0x14 | 0x19) { Self::DDR2 } else { t };
        base(self) == base(other)
    }
}

enumeration! {
    /// Memory Device, Form Factor (7.18.1). A DIMM is `DIMM` whatever its kind; registered and load-reduced
    /// modules are distinguished by the type detail only.
    FormFactor, FORM_FACTORS: &[(u8, &str)]
}

/// Codes and names of clause 7.18.1.
pub(crate) const FORM_FACTORS: &[(u8, &str)] = &[
    (0x09, "DIMM"),
    (0x0F, "FB-DIMM"),
    (0x0D, "SODIMM"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x03, "SIMM"),
    (0x04, "SIP"),
    (0x05, "Chip"),
    (0x06, "DIP"),
    (0x07, "ZIP"),
    (0x08, "Proprietary Card"),
    (0x0A, "TSOP"),
    (0x0B, "Row Of Chips"),
    (0x0C, "RIMM"),
    (0x0E, "SRIMM"),
    (0x10, "Die"),
    (0x11, "CAMM"),
    (0x12, "CUDIMM"),
    (0x13, "CSODIMM"),
];

impl FormFactor {
    /// Chips on the board.
    pub const ROW_OF_CHIPS: Self = Self(0x0B);
    /// Fully buffered DIMM.
    pub const FB_DIMM: Self = Self(0x0F);
    /// Small-outline DIMM.
    pub const SODIMM: Self = Self(0x0D);
}

enumeration! {
    /// Memory Device, Memory Technology (7.18.6).
    MemoryTechnology, MEMORY_TECHNOLOGIES: &[(u8, &str)]
}

/// Codes and names of clause 7.18.6. Code 07h has had three spellings over dmidecode's releases.
pub(crate) const MEMORY_TECHNOLOGIES: &[(u8, &str)] = &[
    (0x03, "DRAM"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x04, "NVDIMM-N"),
    (0x05, "NVDIMM-F"),
    (0x06, "NVDIMM-P"),
    (0x07, "Intel Optane DC persistent memory"),
    (0x07, "Intel persistent memory"),
    (0x07, "Intel Optane persistent memory"),
    (0x08, "MRDIMM"),
];

impl MemoryTechnology {
    /// Whether the technology keeps its contents without power.
    pub fn is_persistent(self) -> bool {
        (0x04..=0x07).contains(&self.0)
    }
}

enumeration! {
    /// Physical Memory Array, Use (7.17.2).
    ArrayUse, ARRAY_USES: &[(u8, &str)]
}

/// Codes and names of clause 7.17.2.
pub(crate) const ARRAY_USES: &[(u8, &str)] = &[
    (0x03, "System Memory"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x04, "Video Memory"),
    (0x05, "Flash Memory"),
    (0x06, "Non-volatile RAM"),
    (0x07, "Cache Memory"),
];

impl ArrayUse {
    /// Whether it says anything: `Other` and `Unknown` do not.
    pub(crate) fn says_something(self) -> bool {
        !matches!(self.0, 0x01 | 0x02)
    }

    /// Whether slots of such an array can hold main memory. What is not known to be something else can.
    pub fn may_be_memory(self) -> bool {
        !matches!(self.0, 0x04 | 0x05 | 0x07)
    }
}

enumeration! {
    /// Physical Memory Array, Location (7.17.1).
    ArrayLocation, ARRAY_LOCATIONS: &[(u8, &str)]
}

/// Codes and names of clause 7.17.1.
pub(crate) const ARRAY_LOCATIONS: &[(u8, &str)] = &[
    (0x03, "System Board Or Motherboard"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x04, "ISA Add-on Card"),
    (0x05, "EISA Add-on Card"),
    (0x06, "PCI Add-on Card"),
    (0x07, "MCA Add-on Card"),
    (0x08, "PCMCIA Add-on Card"),
    (0x09, "Proprietary Add-on Card"),
    (0x0A, "NuBus"),
    (0xA0, "PC-98/C20 Add-on Card"),
    (0xA1, "PC-98/C24 Add-on Card"),
    (0xA2, "PC-98/E Add-on Card"),
    (0xA3, "PC-98/Local Bus Add-on Card"),
    (0xA4, "CXL Add-on Card"),
];

impl ArrayLocation {
    /// On a card behind a CXL link.
    pub const CXL: Self = Self(0xA4);
}

enumeration! {
    /// Physical Memory Array, Error Correction Type (7.17.3).
    ErrorCorrection, ERROR_CORRECTIONS: &[(u8, &str)]
}

/// Codes and names of clause 7.17.3.
pub(crate) const ERROR_CORRECTIONS: &[(u8, &str)] = &[
    (0x06, "Multi-bit ECC"),
    (0x05, "Single-bit ECC"),
    (0x03, "None"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x04, "Parity"),
    (0x07, "CRC"),
];

impl ErrorCorrection {
    /// The array corrects nothing.
    pub const NONE: Self = Self(0x03);

    /// Whether the array corrects at least single-bit errors.
    pub fn corrects(self) -> bool {
        matches!(self.0, 0x05..=0x07)
    }
}

/// Memory Device, Type Detail (7.18.3): a set of bits.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct TypeDetail(pub u16);

/// Bit numbers and names of clause 7.18.3 in the order of printing. Names hold spaces and brackets, so a
/// list of them is read by matching names, never by splitting at spaces.
pub(crate) const TYPE_DETAILS: &[(u8, &str)] = &[
    (1, "Other"),
    (2, "Unknown"),
    (3, "Fast-paged"),
    (4, "Static Column"),
    (5, "Pseudo-static"),
    (6, "RAMBus"),
    (7, "Synchronous"),
    (8, "CMOS"),
    (9, "EDO"),
    (10, "Window DRAM"),
    (11, "Cache DRAM"),
    (12, "Non-Volatile"),
    (13, "Registered (Buffered)"),
    (14, "Unbuffered (Unregistered)"),
    (15, "LRDIMM"),
];

impl TypeDetail {
    /// Non-volatile memory.
    pub const NON_VOLATILE: u8 = 12;
    /// Registered module.
    pub const REGISTERED: u8 = 13;
    /// Unbuffered module.
    pub const UNBUFFERED: u8 = 14;
    /// Load-reduced module.
    pub const LRDIMM: u8 = 15;

    /// Reads a list such as `Synchronous Registered (Buffered)`; `None` (the word) is the empty set.
    ///
    /// Returns `None` where a word is not a name of the standard.
    pub fn parse(text: &str) -> Option<Self> {
        let mut rest = text.trim();
        if rest == "None" {
            return Some(Self(0));
        }
        let mut bits = 0;
        while !rest.is_empty() {
            let (bit, name) = TYPE_DETAILS.iter().find(|(_, name)| rest.starts_with(name))?;
            bits |= 1 << bit;
            rest = rest[name.len()..].trim_start();
        }
        if bits == 0 { None } else { Some(Self(bits)) }
    }

    /// Whether the bit is set.
    pub fn has(self, bit: u8) -> bool {
        self.0 & (1u16.checked_shl(u32::from(bit)).unwrap_or(0)) != 0
    }
}

impl fmt::Debug for TypeDetail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list()
            .entries(TYPE_DETAILS.iter().filter(|(bit, _)| self.has(*bit)).map(|(_, name)| name))
            .finish()
    }
}

/// Processor state from the Status line (7.5, offset 18h).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ProcessorStatus {
    /// No processor in the socket.
    Unpopulated,
    /// Populated and enabled, idle, or in a state that does not disable its memory.
    Running,
    /// Populated, disabled by the user or by the firmware after an error.
    Disabled,
    /// Populated, state unknown.
    Populated,
}

impl ProcessorStatus {
    /// Reads `Populated, Enabled`, `Unpopulated` and the like.
    pub fn parse(text: &str) -> Option<Self> {
        if text == "Unpopulated" {
            return Some(Self::Unpopulated);
        }
        let state = text.strip_prefix("Populated")?.trim_start_matches([',', ' ']);
        Some(match state {
            "Enabled" | "Idle" => Self::Running,
            _ if state.starts_with("Disabled") => Self::Disabled,
            _ => Self::Populated,
        })
    }
}

enumeration! {
    /// Memory Error Information, Error Type (7.19.1), of records of 32 and of 64 bits.
    ErrorType, ERROR_TYPES: &[(u8, &str)]
}

/// Codes and names of clause 7.19.1.
pub(crate) const ERROR_TYPES: &[(u8, &str)] = &[
    (0x03, "OK"),
    (0x01, "Other"),
    (0x02, "Unknown"),
    (0x04, "Bad Read"),
    (0x05, "Parity Error"),
    (0x06, "Single-bit Error"),
    (0x07, "Double-bit Error"),
    (0x08, "Multi-bit Error"),
    (0x09, "Nibble Error"),
    (0x0A, "Checksum Error"),
    (0x0B, "CRC Error"),
    (0x0C, "Corrected Single-bit Error"),
    (0x0D, "Corrected Error"),
    (0x0E, "Uncorrectable Error"),
];

impl ErrorType {
    /// Whether it names an error: `OK`, `Other` and `Unknown` name none.
    pub fn is_error(self) -> bool {
        self.0 > 0x03
    }

    /// Whether the error was corrected.
    pub fn is_corrected(self) -> bool {
        matches!(self.0, 0x0C | 0x0D)
    }
}

/// Codes and names of clause 7.19.2.
pub(crate) const ERROR_GRANULARITIES: &[(u8, &str)] =
    &[(0x01, "Other"), (0x02, "Unknown"), (0x03, "Device Level"), (0x04, "Memory Partition Level")];

/// Codes and names of clause 7.19.3.
pub(crate) const ERROR_OPERATIONS: &[(u8, &str)] =
    &[(0x01, "Other"), (0x02, "Unknown"), (0x03, "Read"), (0x04, "Write"), (0x05, "Partial Write")];

/// Bits and names of clause 7.18.7, in the order in which dmidecode prints them.
pub(crate) const OPERATING_MODES: &[(u8, &str)] = &[
    (1, "Other"),
    (2, "Unknown"),
    (3, "Volatile memory"),
    (4, "Byte-accessible persistent memory"),
    (5, "Block-accessible persistent memory"),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// DSP0134 3.9.0, clause 7.18.2: 01h to 25h without a gap, 15h to 17h reserved.
    #[test]
    fn memory_types_cover_the_clause() {
        for code in 0x01..=0x25 {
            assert!(!MemoryType(code).name().is_empty(), "{code:#x}");
        }
        for (code, name) in [(0x0F, "SDRAM"), (0x13, "DDR2"), (0x18, "DDR3"), (0x1A, "DDR4"), (0x22, "DDR5")]
        {
            assert_eq!(MemoryType::parse(name), Some(MemoryType(code)));
        }
        assert_eq!(MemoryType::parse("<OUT OF SPEC>"), None);
    }

    /// DSP0134 3.9.0, clause 7.18.1: 01h to 13h without a gap, DIMM = 09h.
    #[test]
    fn form_factors_cover_the_clause() {
        for code in 0x01..=0x13 {
            assert!(!FormFactor(code).name().is_empty(), "{code:#x}");
        }
        assert_eq!(FormFactor::parse("DIMM"), Some(FormFactor(9)));
    }

    /// DSP0134 3.9.0, clause 7.17.2 (Flash Memory = 05h) and 7.17.3 (Multi-bit ECC = 06h).
    #[test]
    fn array_enumerations_cover_the_clauses() {
        for code in 1..=7 {
            assert!(!ArrayUse(code).name().is_empty() && !ErrorCorrection(code).name().is_empty());
        }
        assert!(!ArrayUse::parse("Flash Memory").unwrap().may_be_memory());
        assert!(ErrorCorrection::parse("Multi-bit ECC").unwrap().corrects());
    }

    /// DSP0134 3.9.0, clause 7.18.3: bits 1 to 15. `Unknown Synchronous` is two bits.
    #[test]
    fn type_details_are_read_by_name() {
        let detail = TypeDetail::parse("Synchronous Registered (Buffered)").unwrap();
        assert_eq!(detail.0, 1 << 7 | 1 << 13);
        assert_eq!(TypeDetail::parse("Unknown Synchronous").unwrap().0, 1 << 2 | 1 << 7);
        assert_eq!(TypeDetail::parse("None"), Some(TypeDetail(0)));
        assert_eq!(TypeDetail::parse("Synchronous Banana"), None);
        assert_eq!(TypeDetail::parse(""), None);
    }

    /// DSP0134 3.9.0, clause 7.5, offset 18h.
    #[test]
    fn processor_states() {
        for (text, want) in [
            ("Unpopulated", ProcessorStatus::Unpopulated),
            ("Populated, Enabled", ProcessorStatus::Running),
            ("Populated, Idle", ProcessorStatus::Running),
            ("Populated, Disabled By BIOS", ProcessorStatus::Disabled),
            ("Populated, Unknown", ProcessorStatus::Populated),
        ] {
            assert_eq!(ProcessorStatus::parse(text), Some(want));
        }
        assert_eq!(ProcessorStatus::parse("banana"), None);
    }
}
