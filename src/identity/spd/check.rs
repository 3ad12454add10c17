//! The checks over contents.
//!
//! CRC-16: polynomial 1021h, start 0, high bit first, no reflection, no final XOR (CRC-16/XMODEM in the catalogue of CRC
//! parameters), stored low byte first. Sources: i2c-tools `decode-dimms`, the libjedec of illumos, coreboot; recomputed on
//! public dumps.

use std::ops::RangeInclusive;

table! {
    /// How a check is computed.
    pub enum Method {
        /// The sum of the bytes modulo 256.
        Sum = "checksum",
        /// CRC-16/XMODEM.
        Crc = "CRC",
    }
}

/// What a check shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// The bytes are as they were written.
    Right,
    /// Bytes have changed, or were never consistent.
    Wrong {
        /// What is stored.
        stored: u16,
        /// What the bytes give.
        computed: u16,
    },
    /// Nothing was stored: 0 where the bytes give something else, as generated contents have it, or a block without
    /// contents.
    NotChecked,
}

/// One check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Check {
    /// How it is computed.
    pub method: Method,
    /// The first byte that it covers.
    pub first: usize,
    /// The last byte that it covers.
    pub last: usize,
    /// What is stored.
    pub stored: u16,
    /// What the bytes give.
    pub computed: u16,
    /// Whether the bytes that it covers are all zero.
    pub is_empty: bool,
}

impl Check {
    /// Whether the byte at `offset` cannot change without the check failing.
    pub fn covers(&self, offset: usize) -> bool {
        (self.first..=self.last).contains(&offset)
    }

    /// What it shows.
    pub fn outcome(&self) -> Outcome {
        match (self.stored == self.computed, self.stored) {
            (true, _) if !self.is_empty => Outcome::Right,
            (_, 0) => Outcome::NotChecked,
            _ => Outcome::Wrong { stored: self.stored, computed: self.computed },
        }
    }

    /// The sum of the bytes at `covered`, stored in the byte at `at`.
    pub(super) fn sum(bytes: &[u8], covered: RangeInclusive<usize>, at: usize) -> Option<Self> {
        let block = bytes.get(covered.clone())?;
        let sum = block.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte));
        let stored = u16::from(*bytes.get(at)?);
        Some(Self::of(Method::Sum, block, covered, stored, u16::from(sum)))
    }

    /// The CRC of the bytes at `covered`, stored in the two bytes at `at`.
    pub(super) fn crc(bytes: &[u8], covered: RangeInclusive<usize>, at: usize) -> Option<Self> {
        let block = bytes.get(covered.clone())?;
        let stored = u16::from_le_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]);
        Some(Self::of(Method::Crc, block, covered, stored, crc16(block)))
    }

    fn of(method: Method, block: &[u8], covered: RangeInclusive<usize>, stored: u16, computed: u16) -> Self {
        let is_empty = block.iter().all(|byte| *byte == 0);
        Self { method, first: *covered.start(), last: *covered.end(), stored, computed, is_empty }
    }
}

pub(super) fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8).fold(crc ^ (u16::from(*byte) << 8), |crc, _| {
            if crc & 0x8000 == 0 { crc << 1 } else { (crc << 1) ^ 0x1021 }
        })
    })
}
