//! What a line that is not indented turns out to be.

/// The kinds of lines outside structures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum MarkerKind {
    /// `# dmidecode 3.3`: a listing starts, with dmidecode's release.
    Release,
    /// `SMBIOS 2.7 present.` or `Legacy DMI 2.3 present.`: the version the firmware announces.
    Version,
    /// `SMBIOS version fixup (...)`: a nonsense version that dmidecode corrected.
    VersionFixup,
    /// The notice that the firmware is newer than this dmidecode.
    NewerThanDmidecode,
    /// `Wrong DMI structures length/count`: the table is shorter than announced.
    WrongStructures,
    /// `Invalid entry length (0). DMI table is broken! Stop.`: decoding stopped here.
    Broken,
    /// `<TRUNCATED>`: the last record is cut.
    Truncated,
    /// `Invalid entry length (16). Fixed up to 11.`: a record that dmidecode corrected; nothing is lost.
    EntryFixup,
    /// The usual lines about how the table was found.
    Origin,
    /// A line that dmidecode does not print: a wrapper's own output, a shell prompt.
    Stray,
}

/// Titles of the structures this tool reads, for the quiet format. Source: DSP0134 3.9.0, clause 7.
pub(super) const TITLES: &[(&str, u8)] = &[
    ("BIOS Information", 0),
    ("System Information", 1),
    ("32-bit Memory Error Information", 18),
    ("64-bit Memory Error Information", 33),
    ("Base Board Information", 2),
    ("Processor Information", 4),
    ("Physical Memory Array", 16),
    ("Memory Device", 17),
    ("Memory Array Mapped Address", 19),
    ("Memory Device Mapped Address", 20),
];

/// Beginnings of the lines outside structures. Source: dmidecode's own text, releases 2.0 to 3.6.
const MARKERS: &[(&str, MarkerKind)] = &[
    ("# dmidecode", MarkerKind::Release),
    ("# SMBIOS implementations newer", MarkerKind::NewerThanDmidecode),
    ("# fully supported by", MarkerKind::Origin),
    ("# SMBIOS entry point", MarkerKind::Origin),
    ("SMBIOS version fixup", MarkerKind::VersionFixup),
    ("Wrong DMI structures", MarkerKind::WrongStructures),
    ("Getting SMBIOS data", MarkerKind::Origin),
    ("Scanning /dev/mem", MarkerKind::Origin),
    ("Found SMBIOS entry point", MarkerKind::Origin),
    ("Reading SMBIOS/DMI data", MarkerKind::Origin),
    ("Table at ", MarkerKind::Origin),
];

/// What a line that is not indented turns out to be.
pub(super) enum Outer {
    Handle { handle: u16, kind: Option<u8>, length: Option<u16> },
    Marker(MarkerKind),
    Other,
}

pub(super) fn outer(line: &str) -> Outer {
    if let Some((handle, kind, length)) = usual_handle_line(line.as_bytes()) {
        return Outer::Handle { handle, kind: Some(kind), length: Some(length) };
    }
    if let Some(rest) = line.strip_prefix("Handle 0x") {
        if let Some((handle, rest)) = hex_prefix(rest) {
            let (kind, length) = type_and_length(rest.trim_start_matches([',', ' ']));
            return Outer::Handle { handle, kind, length };
        }
        return Outer::Other;
    }
    // Titles are most of what comes here; none of the lines below has such a first letter.
    let first = line.as_bytes().first().copied().unwrap_or(0);
    if !matches!(first, b'#' | b'S' | b'W' | b'G' | b'F' | b'R' | b'T' | b'L' | b'I' | b'0'..=b'9') {
        return Outer::Other;
    }
    if let Some((_, kind)) = MARKERS.iter().find(|(start, _)| line.starts_with(start)) {
        return Outer::Marker(*kind);
    }
    if line.ends_with("present.") && (line.starts_with("SMBIOS ") || line.starts_with("Legacy DMI ")) {
        return Outer::Marker(MarkerKind::Version);
    }
    if line.starts_with("Invalid entry length") {
        let kind = if line.contains("Fixed up") { MarkerKind::EntryFixup } else { MarkerKind::Broken };
        return Outer::Marker(kind);
    }
    if line.ends_with(" bytes.") && line.contains(" structures occupying ") {
        return Outer::Marker(MarkerKind::Origin);
    }
    Outer::Other
}

/// Up to four hexadecimal digits at the start of `text`, and the rest.
fn hex_prefix(text: &str) -> Option<(u16, &str)> {
    let digits = text.bytes().take_while(u8::is_ascii_hexdigit).count();
    let (number, rest) = text.split_at_checked(digits)?;
    u16::from_str_radix(number, 16).ok().map(|handle| (handle, rest))
}

/// `DMI type 17, 27 bytes` with or without its full stop.
pub(super) fn type_and_length(text: &str) -> (Option<u8>, Option<u16>) {
    let Some(rest) = text.strip_prefix("DMI type ") else { return (None, None) };
    let (kind, rest) = rest.split_once(',').unwrap_or((rest, ""));
    let length = rest.trim().trim_end_matches('.').strip_suffix("bytes").and_then(|n| n.trim().parse().ok());
    (kind.trim().parse().ok(), length)
}

/// `Handle 0x0011, DMI type 17, 27 bytes`, with or without a full stop: the format without any surprise, which nearly
/// every listing has throughout. Whatever differs is left to the general parser.
fn usual_handle_line(line: &[u8]) -> Option<(u16, u8, u16)> {
    let (digits, rest) = line.strip_prefix(b"Handle 0x")?.split_first_chunk::<4>()?;
    let mut handle = 0;
    for digit in digits {
        handle = handle << 4 | char::from(*digit).to_digit(16)?;
    }
    let (kind, rest) = usual_number(rest.strip_prefix(b", DMI type ")?)?;
    let (length, rest) = usual_number(rest.strip_prefix(b", ")?)?;
    if !matches!(rest, b" bytes" | b" bytes.") {
        return None;
    }
    Some((u16::try_from(handle).ok()?, u8::try_from(kind).ok()?, u16::try_from(length).ok()?))
}

/// The number at the start of `text`, and the rest; none with more digits than any type or length has.
fn usual_number(text: &[u8]) -> Option<(u32, &[u8])> {
    let mut number = 0;
    for (at, byte) in text.iter().enumerate().take(6) {
        match byte {
            b'0'..=b'9' => number = number * 10 + u32::from(byte - b'0'),
            _ => return Some((number, &text[at..])).filter(|_| at > 0),
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first letters by which most lines are skipped at once.
    #[test]
    fn every_marker_is_recognised() {
        for (start, kind) in MARKERS {
            assert!(matches!(outer(start), Outer::Marker(own) if own == *kind), "{start}");
        }
    }
}
