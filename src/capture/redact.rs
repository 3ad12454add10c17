//! Leaving out what tells one machine from others of its kind.

/// Structures that are kept: those that are read, whose strings are known. What makers put into others, nobody
/// can tell.
const KEPT: &[u8] = &[1, 2, 4, 16, 17, 19, 20, 127];

/// Where a structure keeps strings that tell one machine from another: type and offset of the string's number.
/// Source: DMTF DSP0134 3.9.0, clauses 7.2 to 7.18.
const SECRET_STRINGS: &[(u8, usize)] =
    &[(1, 0x07), (1, 0x19), (2, 0x07), (2, 0x08), (4, 0x20), (4, 0x21), (4, 0x22), (17, 0x18), (17, 0x19)];

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

/// Takes the numbers of secret strings out, and blanks the strings.
fn hide(kind: u8, length: usize, one: &mut [u8]) {
    for (_, offset) in SECRET_STRINGS.iter().filter(|(own, offset)| *own == kind && *offset < length) {
        let number = std::mem::take(&mut one[*offset]);
        let strings = &mut one[length..];
        let mut own = 1;
        for byte in strings.iter_mut() {
            if *byte == 0 {
                own += 1;
            } else if own == u16::from(number) {
                *byte = b'-';
            }
        }
    }
    if kind == 1 {
        let end = UUID.end.min(length);
        one[UUID.start.min(end)..end].fill(0);
    }
}

/// The words of a kernel's command line that are about memory; others can name disks, networks and secrets.
pub(super) fn command_line(text: &str) -> String {
    const KEPT: &[&str] = &[
        "mem=",
        "memmap=",
        "crashkernel=",
        "memtest",
        "hugepages=",
        "hugepagesz=",
        "kernelcore=",
        "movablecore=",
    ];
    let kept = text.split_whitespace().filter(|word| KEPT.iter().any(|start| word.starts_with(start)));
    kept.collect::<Vec<_>>().join(" ") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serial_numbers_go_and_the_rest_stays() {
        let mut one = vec![17, 0x1B, 0x11, 0];
        one.resize(0x1B, 0);
        (one[0x10], one[0x17], one[0x18], one[0x1A]) = (1, 2, 3, 4);
        one.extend(b"A1\0Maker\0S3CR3T\0PART\0\0");
        let oem = [&[200u8, 4, 1, 0][..], b"S3CR3T\0\0"].concat();
        let hidden = table(&[one, oem, vec![127, 4, 2, 0, 0, 0]].concat());
        let text = String::from_utf8_lossy(&hidden);
        assert!(!text.contains("S3CR3T") && text.contains("PART") && text.contains("Maker"), "{text}");
        assert_eq!((hidden[0x18], hidden.len()), (0, 0x1B + 22 + 6));
    }

    #[test]
    fn only_memory_stays_on_the_command_line() {
        assert_eq!(command_line("root=UUID=1 mem=4G password=x ro\n"), "mem=4G\n");
    }

    #[test]
    fn a_broken_table_ends() {
        assert!(
            table(&[17, 3, 0, 0]).is_empty() && table(&[17]).is_empty() && table(&[17, 200, 0]).is_empty()
        );
    }
}
