//! Taking a capture: everything a running server states about its memory, in one text file.
//!
//! What is read is the SMBIOS table and what each source of evidence names as its part. Nothing is run and no device is opened; only
//! files that the kernel offers are read. The form of the file is that of [`crate::evidence::Capture`].

mod counters;
mod redact;

use std::fmt::Write;
use std::io;

pub use self::counters::in_folder;
use crate::evidence::{CAPTURE_END, CAPTURE_HEAD, CAPTURE_VERSION, SectionKind, table_text};
use crate::sources::{self, Part, PartForm};

/// The files of the system that is captured. Paths are relative to its root.
pub trait Files {
    /// The content of a file.
    ///
    /// # Errors
    /// Those of reading it.
    fn read(&self, path: &str) -> io::Result<Vec<u8>>;

    /// The names in a folder, in any order.
    ///
    /// # Errors
    /// Those of reading it.
    fn list(&self, path: &str) -> io::Result<Vec<String>>;
}

/// The SMBIOS table. Source of this path and the next: kernel ABI documentation, `sysfs-firmware-dmi-tables` and
/// `sysfs-class-dmi-id`.
const TABLE: Part = Part {
    section: SectionKind::Listing,
    path: "sys/firmware/dmi/tables/DMI",
    form: PartForm::Table,
    hides: "which module is in which slot, and everything an audit needs",
    usual: true,
};

/// The machine's names.
const NAMES: Part = Part {
    section: SectionKind::Identity,
    path: "sys/class/dmi/id",
    form: PartForm::Names,
    hides: "the machine's name, where the table cannot be read",
    usual: false,
};

/// What is captured, in the order of the sections: the table, each source that the system keeps in a file, the names.
fn parts() -> impl Iterator<Item = Part> {
    [TABLE].into_iter().chain(sources::readers().filter_map(|reader| reader.part)).chain([NAMES])
}

/// What a capture is asked for.
#[derive(Debug, Clone, Default)]
pub struct Request {
    /// Whether serial numbers and the like are left out.
    pub redact: bool,
    /// When it is taken: UTC, RFC 3339.
    pub taken: String,
    /// The event log of the management controller, if someone has it.
    pub events: Option<String>,
}

/// A capture that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The file's text.
    pub text: String,
    /// What could not be read, why, and what that hides; one sentence each.
    pub not_read: Vec<String>,
    /// Whether the SMBIOS table is in it, without which there is nothing to audit.
    pub has_table: bool,
}

/// Takes a capture of the system behind `files`. What cannot be read is reported; the rest is taken.
pub fn take(files: &dyn Files, request: &Request) -> Taken {
    let mut not_read = Vec::new();
    let mut sections: Vec<(SectionKind, String)> = Vec::new();
    let mut table = None;
    for part in parts() {
        let read = match part.form {
            PartForm::Table => read_table(files, request.redact).map(|(listing, bytes)| {
                table = Some(bytes);
                listing
            }),
            PartForm::Names => identity(files, part.path, request.redact),
            PartForm::Counters => counters::tree(files, part.path),
            PartForm::File { redacted } => {
                text(files, part.path).map(|text| if request.redact { redacted(&text) } else { text })
            }
        };
        match read {
            Ok(body) => sections.push((part.section, body)),
            Err(reason) if part.usual || reason.kind() != io::ErrorKind::NotFound => {
                not_read.push(format!("/{} ({}); it would show {}", part.path, say(&reason), part.hides));
            }
            Err(_) => {}
        }
    }
    let has_table = table.is_some();
    if let Some(events) = &request.events {
        sections.push((SectionKind::Events, events.clone()));
    }
    if let Some(bytes) = table {
        sections.push((SectionKind::Table, hexadecimal(&bytes)));
    }
    let mut out = format!("{CAPTURE_HEAD}{CAPTURE_VERSION}\n");
    // Writing to a string cannot fail.
    let _ = write_all(&mut out, request, host(files).as_deref(), &not_read, &sections);
    Taken { text: out, not_read, has_table }
}

fn write_all(
    out: &mut String,
    request: &Request,
    host: Option<&str>,
    not_read: &[String],
    sections: &[(SectionKind, String)],
) -> std::fmt::Result {
    writeln!(out, "taken: {}", request.taken)?;
    writeln!(out, "by: asfitted {}", env!("CARGO_PKG_VERSION"))?;
    if let Some(host) = host {
        writeln!(out, "host: {host}")?;
    }
    writeln!(out, "redacted: {}", if request.redact { "yes" } else { "no" })?;
    for line in not_read {
        writeln!(out, "not read: {line}")?;
    }
    for (kind, body) in sections {
        writeln!(out, "\n[{}]", kind.name())?;
        for line in body.lines() {
            // A line must not pass for the head of a section.
            let guard = if line.starts_with('[') { " " } else { "" };
            writeln!(out, "{guard}{line}")?;
        }
    }
    writeln!(out, "\n{CAPTURE_END}")
}

fn say(reason: &io::Error) -> &'static str {
    match reason.kind() {
        io::ErrorKind::NotFound => "this system does not have it",
        io::ErrorKind::PermissionDenied => "only root may read it",
        io::ErrorKind::InvalidData => "it is not an SMBIOS table",
        _ => "reading it failed",
    }
}

fn text(files: &dyn Files, path: &str) -> io::Result<String> {
    files.read(path).map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
}

fn host(files: &dyn Files) -> Option<String> {
    let name =
        ["proc/sys/kernel/hostname", "etc/hostname"].into_iter().find_map(|path| text(files, path).ok())?;
    let name = name.lines().next().unwrap_or("").trim().to_owned();
    (!name.is_empty()).then_some(name)
}

/// The table in its text form and as bytes, entry point first.
fn read_table(files: &dyn Files, redact: bool) -> io::Result<(String, Vec<u8>)> {
    let mut bytes = files.read("sys/firmware/dmi/tables/smbios_entry_point")?;
    let table = files.read("sys/firmware/dmi/tables/DMI")?;
    bytes.extend(if redact { redact::table(&table) } else { table });
    let text = table_text(&bytes).ok_or(io::ErrorKind::InvalidData)?;
    Ok((text, bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    let line = |chunk: &[u8]| chunk.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().join(" ");
    bytes.chunks(32).map(|chunk| line(chunk) + "\n").collect()
}

fn identity(files: &dyn Files, folder: &str, redact: bool) -> io::Result<String> {
    const OPEN: &[&str] = &["sys_vendor", "product_name", "product_version", "board_vendor", "board_name"];
    const SECRET: &[&str] = &["product_serial", "board_serial", "board_asset_tag", "chassis_asset_tag"];
    let mut out = String::new();
    for name in OPEN.iter().chain(SECRET.iter().filter(|_| !redact)) {
        if let Ok(value) = text(files, &format!("{folder}/{name}")) {
            out.push_str(&format!("{name}: {}\n", value.trim()));
        }
    }
    if out.is_empty() { Err(io::ErrorKind::NotFound.into()) } else { Ok(out) }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::evidence::Text;
    use crate::sources::Sources;

    struct Fake(BTreeMap<&'static str, Result<&'static [u8], io::ErrorKind>>);

    impl Files for Fake {
        fn read(&self, path: &str) -> io::Result<Vec<u8>> {
            let content = self.0.get(path).ok_or(io::ErrorKind::NotFound)?;
            Ok((*content)?.to_vec())
        }

        fn list(&self, path: &str) -> io::Result<Vec<String>> {
            let own = |file: &&str| {
                file.strip_prefix(path)?.strip_prefix('/')?.split('/').next().map(str::to_owned)
            };
            let mut names: Vec<String> = self.0.keys().filter_map(own).collect();
            names.dedup();
            if names.is_empty() { Err(io::ErrorKind::NotFound.into()) } else { Ok(names) }
        }
    }

    #[test]
    fn what_cannot_be_read_is_reported_and_the_rest_taken() {
        let files = Fake(BTreeMap::from([
            ("proc/meminfo", Ok(&b"MemTotal: 1024 kB\n"[..])),
            ("proc/cmdline", Ok(&b"[listing] ro mem=1G\n"[..])),
            ("proc/sys/kernel/hostname", Ok(&b"bay07\n"[..])),
            ("sys/devices/system/edac/mc/mc1/size_mb", Ok(&b"1024\n"[..])),
            ("sys/devices/system/edac/mc/mc0/size_mb", Ok(&b"512\n"[..])),
            ("sys/firmware/dmi/tables/smbios_entry_point", Err(io::ErrorKind::PermissionDenied)),
        ]));
        let request = Request { taken: "2026-01-02T03:04:05Z".to_owned(), ..Request::default() };
        let taken = take(&files, &request);
        assert!(!taken.has_table && taken.not_read.len() == 1, "{:?}", taken.not_read);
        assert!(taken.not_read[0].contains("only root may read it"), "{:?}", taken.not_read);
        let text = Text::from_bytes("capture", taken.text.into_bytes()).unwrap();
        let capture = text.capture.as_ref().unwrap();
        assert_eq!((capture.host.as_deref(), &capture.not_read), (Some("bay07"), &taken.not_read));
        let sources = Sources::of_capture(&text);
        assert_eq!(sources.edac.unwrap().controllers[0].id, "mc0");
        assert_eq!(sources.command_line.unwrap().parameters.len(), 1);
        assert!(sources.meminfo.is_some() && text.as_str().trim().is_empty());
    }
}
