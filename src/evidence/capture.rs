//! The capture file: everything one running server states about its memory, in one text file of sections.
//!
//! A capture starts with [`HEAD`], followed by `key: value` lines and by sections, each under its name in
//! brackets. It is plain text, so that people can read it and evidence keeps its line in the file.

use super::SectionKind;

/// First words of a capture; the version of the form follows.
pub const HEAD: &str = "asfitted capture ";

/// The last line of a whole capture.
pub const END: &str = "[end]";

/// The version that is written and read.
pub const VERSION: u32 = 1;

/// One section with its place in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// What it holds.
    pub kind: SectionKind,
    /// 1-based line of the file on which its text starts.
    pub first_line: u32,
    /// Its text.
    pub body: String,
}

/// What a capture states about itself, and its sections.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Capture {
    /// Host name.
    pub host: Option<String>,
    /// When it was taken, as written: UTC, RFC 3339.
    pub taken: Option<String>,
    /// Whether serial numbers were left out.
    pub redacted: bool,
    /// What could not be read, and why.
    pub not_read: Vec<String>,
    /// Whether its last line is there; without it the file was cut off.
    pub is_whole: bool,
    /// The sections.
    pub sections: Vec<Section>,
}

/// Why a capture is not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Refused {
    /// The version of a form that is not known.
    Version(String),
    /// 1-based line where a second capture starts.
    Second(u32),
    /// 1-based line where a section starts that is there already.
    Twice(u32, SectionKind),
}

/// A capture, and its text with all lines but those of the listing left empty, so that lines keep their numbers.
pub(super) fn read(text: &str) -> Option<Result<(Capture, String), Refused>> {
    // Editors and transfers put a byte order mark or empty lines before the head.
    let start = text.trim_start_matches(['\u{feff}', ' ', '\t', '\r', '\n']);
    let version = start.strip_prefix(HEAD)?.lines().next().unwrap_or("").trim();
    if version != VERSION.to_string() {
        return Some(Err(Refused::Version(version.to_owned())));
    }
    Some(sections(text))
}

fn sections(text: &str) -> Result<(Capture, String), Refused> {
    let mut capture = Capture::default();
    let mut listing = String::with_capacity(text.len());
    let mut section: Option<Section> = None;
    let mut heads = 0;
    for (number, line) in (1u32..).zip(text.split_inclusive('\n')) {
        let plain = line.trim_end_matches(['\n', '\r']);
        if plain.trim_start_matches('\u{feff}').starts_with(HEAD) {
            heads += 1;
            if heads > 1 {
                return Err(Refused::Second(number));
            }
        }
        if plain == END {
            capture.is_whole = true;
            capture.sections.extend(section.take());
            listing.push('\n');
            continue;
        }
        if let Some(kind) = heading(plain) {
            capture.sections.extend(section.take());
            if capture.sections.iter().any(|section| section.kind == kind) {
                return Err(Refused::Twice(number, kind));
            }
            section = Some(Section { kind, first_line: number + 1, body: String::new() });
            listing.push('\n');
            continue;
        }
        match &mut section {
            Some(section) if section.kind == SectionKind::Listing => {
                section.body.push_str(line);
                listing.push_str(line);
            }
            Some(section) => {
                section.body.push_str(line);
                listing.push('\n');
            }
            None => {
                head_line(plain, &mut capture);
                listing.push('\n');
            }
        }
    }
    capture.sections.extend(section);
    Ok((capture, listing))
}

fn heading(line: &str) -> Option<SectionKind> {
    let name = line.strip_prefix('[')?.strip_suffix(']')?;
    SectionKind::ALL.iter().copied().find(|kind| kind.name() == name)
}

fn head_line(line: &str, capture: &mut Capture) {
    let Some((key, value)) = line.split_once(": ") else { return };
    let value = value.trim();
    match key {
        "host" => capture.host = Some(value.to_owned()).filter(|host| !host.is_empty()),
        "taken" => capture.taken = Some(value.to_owned()),
        "redacted" => capture.redacted = value == "yes",
        "not read" => capture.not_read.push(value.to_owned()),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "asfitted capture 1\ntaken: 2026-01-02T03:04:05Z\nhost: bay07\nredacted: no\n\
                        not read: edac: not there\n\n[listing]\nHandle 0x0011, DMI type 17, 40 bytes\n\
                        Memory Device\n\tSize: 1 GB\n\n[meminfo]\nMemTotal: 1 kB\n";

    #[test]
    fn sections_keep_their_lines() {
        let (capture, listing) = read(TEXT).unwrap().unwrap();
        assert_eq!((capture.host.as_deref(), capture.redacted), (Some("bay07"), false));
        assert_eq!(capture.not_read, ["edac: not there"]);
        assert_eq!(listing.lines().nth(9), Some("\tSize: 1 GB"));
        assert!(!listing.contains("MemTotal"));
        let meminfo = &capture.sections[1];
        assert_eq!((meminfo.kind, meminfo.first_line), (SectionKind::Meminfo, 13));
        assert_eq!(meminfo.body, "MemTotal: 1 kB\n");
    }

    #[test]
    fn other_versions_are_refused() {
        assert_eq!(read("asfitted capture 9\n"), Some(Err(Refused::Version("9".to_owned()))));
        assert!(matches!(read(&format!("{TEXT}{TEXT}")), Some(Err(Refused::Second(14)))));
        assert!(matches!(
            read(&format!("{TEXT}[meminfo]\n")),
            Some(Err(Refused::Twice(14, SectionKind::Meminfo)))
        ));
        let (capture, _) = read(&format!("\u{feff}\n{TEXT}[end]\n")).unwrap().unwrap();
        assert!(capture.is_whole && capture.sections.len() == 2);
        assert_eq!(read("Handle 0x0000\n"), None);
    }
}
