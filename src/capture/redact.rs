//! Leaving out of the SMBIOS table what distinguishes one machine from others of its kind.

/// Structures that are kept: those that are read, whose strings are known. What makers put into others, nobody
/// can tell.
const KEPT: &[u8] = &[0, 1, 2, 4, 16, 17, 18, 19, 20, 33, 127];

/// Where a structure keeps strings that distinguish one machine from another: type and offset of the string's number.
/// Source: DMTF DSP0134 3.9.0, clauses 7.2 to 7.18.
const SECRET_STRINGS: &[(u8, usize)] =
    &[(1, 0x07), (1, 0x19), (2, 0x07), (2, 0x08), (4, 0x20), (4, 0x21), (4, 0x22), (17, 0x18), (17, 0x19)];

/// Where a structure keeps the strings that are kept; a string that none of these refers to may be anything.
const OPEN_STRINGS: &[(u8, usize)] = &[
    (0, 0x04),
    (0, 0x05),
    (0, 0x08),
    (1, 0x04),
    (1, 0x05),
    (1, 0x06),
    (1, 0x1A),
    (2, 0x04),
    (2, 0x05),
    (2, 0x06),
    (4, 0x04),
    (4, 0x07),
    (4, 0x10),
    (17, 0x10),
    (17, 0x11),
    (17, 0x17),
    (17, 0x1A),
    (17, 0x2B),
];

/// The UUID of a system, 16 bytes at this offset of type 1.
const UUID: std::ops::Range<usize> = 0x08..0x18;

/// The structures of a table without serial numbers, asset tags and UUIDs. Where a structure is broken the
/// table ends.
pub(super) fn table(mut bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len());
    while let Some((kind, length, end)) = structure(bytes) {
        if KEPT.contains(&kind) {
            let mut one = bytes[..end].to_vec();
            hide(kind, length, &mut one);
            out.extend(one);
        }
        bytes = &bytes[end..];
        if kind == 127 {
            break;
        }
    }
    out
}

/// Type, length of the formatted area, and end of the structure at the start of `bytes`.
fn structure(bytes: &[u8]) -> Option<(u8, usize, usize)> {
    let (kind, length) = (*bytes.first()?, usize::from(*bytes.get(1)?));
    if length < 4 {
        return None;
    }
    let strings = bytes.get(length..)?;
    let end = strings.windows(2).position(|pair| pair == [0, 0])?;
    Some((kind, length, length + end + 2))
}

/// Takes the numbers of secret strings out, and overwrites every string that is not one of the open ones.
fn hide(kind: u8, length: usize, one: &mut [u8]) {
    let own = |list: &'static [(u8, usize)]| {
        list.iter().filter(move |(own, offset)| *own == kind && *offset < length).map(|(_, offset)| *offset)
    };
    let secret: Vec<u8> = own(SECRET_STRINGS).map(|offset| std::mem::take(&mut one[offset])).collect();
    let open: Vec<u8> = own(OPEN_STRINGS).map(|offset| one[offset]).collect();
    let mut number = 1u16;
    for byte in &mut one[length..] {
        if *byte == 0 {
            number += 1;
        } else if u8::try_from(number)
            .map_or(true, |number| secret.contains(&number) || !open.contains(&number))
        {
            *byte = b'-';
        }
    }
    if kind == 1 {
        let end = UUID.end.min(length);
        one[UUID.start.min(end)..end].fill(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serial_numbers_go_and_the_rest_stays() {
        let mut one = vec![17, 0x1B, 0x11, 0];
        one.resize(0x1B, 0);
        (one[0x10], one[0x17], one[0x18], one[0x1A]) = (1, 2, 3, 4);
        one.extend(b"A1\0Maker\0S3CR3T\0PART\0S3CR3T-2\0\0");
        let oem = [&[200u8, 4, 1, 0][..], b"S3CR3T\0\0"].concat();
        let hidden = table(&[one, oem, vec![127, 4, 2, 0, 0, 0]].concat());
        let text = String::from_utf8_lossy(&hidden);
        assert!(!text.contains("S3CR3T") && text.contains("PART") && text.contains("Maker"), "{text}");
        assert_eq!((hidden[0x18], hidden.len()), (0, 0x1B + 31 + 6));
    }

    #[test]
    fn a_broken_table_ends() {
        assert!(
            table(&[17, 3, 0, 0]).is_empty() && table(&[17]).is_empty() && table(&[17, 200, 0]).is_empty()
        );
    }
}
