//! Contents that are built by hand from the tables of bytes.

#![allow(clippy::unusual_byte_groupings, reason = "the groups are the fields of a byte")]

mod contents;
mod generations;
mod properties;

/// CRC-16/XMODEM as a division of polynomials on single bits, apart from the one that is tested.
pub(super) fn crc(bytes: &[u8]) -> u16 {
    let bits = bytes.iter().flat_map(|byte| (0..8).rev().map(move |bit| byte >> bit & 1)).chain([0; 16]);
    let remainder = bits.fold(0_u32, |rest, bit| {
        let rest = rest << 1 | u32::from(bit);
        if rest & 0x1_0000 == 0 { rest } else { rest ^ 0x1_1021 }
    });
    u16::try_from(remainder).unwrap()
}

/// Bytes with `parts` at their places.
pub(super) fn built(length: usize, parts: &[(usize, &[u8])]) -> Vec<u8> {
    let mut bytes = vec![0; length];
    for (at, part) in parts {
        bytes[*at..*at + part.len()].copy_from_slice(part);
    }
    bytes
}

/// The CRC of the bytes up to `last`, stored in the two after `last`, or further on.
pub(super) fn close(bytes: &mut [u8], first: usize, last: usize, at: usize) {
    let crc = crc(&bytes[first..=last]);
    bytes[at..at + 2].copy_from_slice(&crc.to_le_bytes());
}

/// A registered DDR2 module of 1 GiB with one rank: 14 rows, 10 columns, 8 banks, 64 bits.
pub(super) fn ddr2() -> Vec<u8> {
    let mut bytes = built(
        256,
        &[
            (0, &[0x80, 8, 8, 14, 10, 0x60, 72, 0, 5, 0x30]),
            (11, &[2]),
            (13, &[8]),
            (17, &[8]),
            (20, &[1]),
            (31, &[1]),
            (62, &[0x12]),
            (64, &[0x7F, 0x7F, 0x7F, 0x0B, 0, 0, 0, 0]),
            (72, &[3]),
            (73, b"WW16-1R8-667X     "),
            (91, &[0x30, 0x46, 0x07, 0x31, 0x46, 0x04, 0xCB, 0x50]),
        ],
    );
    bytes[63] = u8::try_from(bytes[..63].iter().map(|byte| u32::from(*byte)).sum::<u32>() % 256).unwrap();
    bytes
}

/// A registered DDR3 module of 16 GiB: 2Rx4, 4 Gb dies, 1.35 V too, DDR3-1600, check over identity as well.
pub(super) fn ddr3() -> Vec<u8> {
    let mut bytes = built(
        256,
        &[
            (0, &[0x12, 0x11, 0x0B, 1, 4, 0x21, 2, 0b001_000, 0b01_011, 0x11, 1, 8, 10]),
            (65, &[0x80, 0xB3]),
            (117, &[0x80, 0xCE, 2, 0x13, 0x52, 0x12, 0x34, 0x56, 0x78]),
            (128, b"WW16-2R4-1600     \x01\x02\x80\xAD"),
        ],
    );
    close(&mut bytes, 0, 125, 126);
    bytes
}

/// A registered DDR4 module of 32 GiB: 2Rx4, 8 Gb dies, DDR4-2933.
pub(super) fn ddr4() -> Vec<u8> {
    let mut bytes = built(
        512,
        &[
            (0, &[0x23, 0x12, 0x0C, 1, 0x85, 0x29, 0, 8, 0, 0, 0, 3, 0b001_000, 0b01_011]),
            (18, &[6]),
            (125, &[0xBC]),
            (131, &[5, 0, 0x86, 0x32]),
            (320, &[0x80, 0x2C, 1, 0x20, 0x40, 0xBA, 0xAD, 0xCA, 0xFE]),
            (329, b"WW32-2R4-2933       \x31\x80\x2C"),
        ],
    );
    close(&mut bytes, 0, 125, 126);
    close(&mut bytes, 128, 253, 254);
    bytes
}

/// A registered DDR5 module of 64 GiB: 2Rx4, 16 Gb dies, two sub-channels of 32 and 8 bits, DDR5-4800.
pub(super) fn ddr5() -> Vec<u8> {
    let mut bytes = built(
        1024,
        &[
            (0, &[0x30, 0x10, 0x12, 1, 4, 0, 0]),
            (20, &[0xA0, 0x01]),
            (234, &[0b001_000, 0b01_10_010]),
            (240, &[0x86, 0x32]),
            (512, &[0x80, 0xAD, 1, 0x22, 0x43, 0x3B, 0xF2, 0x39, 0xF8]),
            (521, b"WW64-2R4-4800                 \x02\x80\xAD"),
        ],
    );
    close(&mut bytes, 0, 509, 510);
    bytes
}
