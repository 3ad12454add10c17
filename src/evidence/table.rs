//! The raw SMBIOS table, as a dump file or as the kernel's two files put together, turned into the text format.
//!
//! The text is that of dmidecode for the structures this tool reads, with nothing hidden for empty slots, so
//! that everything after this stage is the same for both formats. Layouts: DMTF DSP0134 3.9.0, clauses 5.2 (entry
//! points), 6.1 (structures), 7.1 to 7.21 and 7.34.

use std::fmt::Write;

use crate::enums::{
    ARRAY_LOCATIONS, ARRAY_USES, ERROR_CORRECTIONS, ERROR_GRANULARITIES, ERROR_OPERATIONS, ERROR_TYPES,
    FORM_FACTORS, MEMORY_TECHNOLOGIES, MEMORY_TYPES, MemoryType, OPERATING_MODES, TYPE_DETAILS,
};

/// The text format of a raw table, entry point first, if `bytes` is one.
pub fn to_text(bytes: &[u8]) -> Option<String> {
    let Entry { version, numbers, structures } = entry_point(bytes)?;
    let mut out = format!("SMBIOS {version} present.\n\n");
    // Writing to a string cannot fail.
    let _ = print_all(&mut out, structures, numbers);
    Some(out)
}

/// What an entry point says.
struct Entry<'b> {
    /// The announced version as printed.
    version: String,
    /// Its first two numbers.
    numbers: (u8, u8),
    /// The bytes of the structures.
    structures: &'b [u8],
}

fn entry_point(bytes: &[u8]) -> Option<Entry<'_>> {
    let at = |offset: usize| bytes.get(offset).copied().unwrap_or(0);
    let (version, numbers, address, own) = if bytes.starts_with(b"_SM3_") {
        let version = format!("{}.{}.{}", at(7), at(8), at(9));
        (version, (at(7), at(8)), read(bytes, 0x10, 8)?, usize::from(at(6)))
    } else if bytes.starts_with(b"_SM_") {
        (format!("{}.{}", at(6), at(7)), (at(6), at(7)), read(bytes, 0x18, 4)?, usize::from(at(5)))
    } else {
        return None;
    };
    // A dump names the place in the file; where the kernel's two files were put together, the address is one in
    // memory and the structures follow the entry point.
    let address = usize::try_from(address).ok().filter(|address| *address >= own && *address < bytes.len());
    Some(Entry { version, numbers, structures: bytes.get(address.unwrap_or(own)..)? })
}

/// A number of up to eight bytes, the lowest first.
fn read(bytes: &[u8], offset: usize, size: usize) -> Option<u64> {
    let slice = bytes.get(offset..offset.checked_add(size)?)?;
    Some(slice.iter().rev().fold(0, |number, byte| number << 8 | u64::from(*byte)))
}

/// One structure: its formatted area and its strings.
struct Structure<'b> {
    area: &'b [u8],
    strings: Vec<&'b [u8]>,
}

impl Structure<'_> {
    fn byte(&self, offset: usize) -> Option<u8> {
        self.area.get(offset).copied()
    }

    fn number(&self, offset: usize, size: usize) -> Option<u64> {
        read(self.area, offset, size)
    }

    fn word(&self, offset: usize) -> Option<u16> {
        self.number(offset, 2).and_then(|number| u16::try_from(number).ok())
    }

    /// The string whose index is at `offset`, with a full stop for each character that does not print.
    fn string(&self, offset: usize) -> Option<String> {
        let index = self.byte(offset)?;
        Some(match index {
            0 => "Not Specified".to_owned(),
            _ => match self.strings.get(usize::from(index) - 1) {
                Some(text) => {
                    text.iter().map(|b| if (0x20..0x7F).contains(b) { char::from(*b) } else { '.' }).collect()
                }
                None => "<BAD INDEX>".to_owned(),
            },
        })
    }
}

fn print_all(out: &mut String, mut bytes: &[u8], version: (u8, u8)) -> std::fmt::Result {
    while bytes.len() >= 4 {
        let (kind, length) = (bytes[0], usize::from(bytes[1]));
        if length < 4 {
            return writeln!(out, "Invalid entry length ({length}). DMI table is broken! Stop.\n");
        }
        let handle = u16::from_le_bytes([bytes[2], bytes[3]]);
        writeln!(out, "Handle 0x{handle:04X}, DMI type {kind}, {length} bytes")?;
        let Some((structure, rest)) = split(bytes, length) else {
            return writeln!(out, "\t<TRUNCATED>\n");
        };
        print_one(out, kind, &structure, version)?;
        writeln!(out)?;
        if kind == 127 {
            return Ok(());
        }
        bytes = rest;
    }
    Ok(())
}

/// The structure at the start of `bytes`, and what follows it; `None` where it runs past the end.
fn split(bytes: &[u8], length: usize) -> Option<(Structure<'_>, &[u8])> {
    let area = bytes.get(..length)?;
    let mut rest = bytes.get(length..)?;
    let mut strings = Vec::new();
    // A set without strings is two zeros.
    if rest.first() == Some(&0) {
        rest = rest.get(2..)?;
        return Some((Structure { area, strings }, rest));
    }
    loop {
        let end = memchr::memchr(0, rest)?;
        strings.push(&rest[..end]);
        rest = &rest[end + 1..];
        if rest.first()? == &0 {
            return Some((Structure { area, strings }, &rest[1..]));
        }
    }
}

fn print_one(out: &mut String, kind: u8, s: &Structure<'_>, version: (u8, u8)) -> std::fmt::Result {
    match kind {
        0 => firmware(out, s),
        1 => system(out, s, version),
        2 => strings(
            out,
            "Base Board Information",
            s,
            &[
                (4, "Manufacturer"),
                (5, "Product Name"),
                (6, "Version"),
                (7, "Serial Number"),
                (8, "Asset Tag"),
            ],
        ),
        4 => processor(out, s),
        16 => array(out, s),
        17 => device(out, s),
        18 => error(out, s, "32-bit Memory Error Information"),
        19 => array_range(out, s),
        20 => device_range(out, s),
        33 => error(out, s, "64-bit Memory Error Information"),
        127 => writeln!(out, "End Of Table"),
        _ => writeln!(out, "Other Structure"),
    }
}

/// Type 0, clause 7.1. Its release by numbers is all ones where there is none.
fn firmware(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    strings(out, "BIOS Information", s, &[(4, "Vendor"), (5, "Version"), (8, "Release Date")])?;
    let numbers = s.byte(0x14).zip(s.byte(0x15)).filter(|(major, minor)| *major != 0xFF && *minor != 0xFF);
    field(out, "BIOS Revision", numbers.map(|(major, minor)| format!("{major}.{minor}")))
}

/// Type 1, clause 7.2.
fn system(out: &mut String, s: &Structure<'_>, version: (u8, u8)) -> std::fmt::Result {
    let first = [(4, "Manufacturer"), (5, "Product Name"), (6, "Version"), (7, "Serial Number")];
    strings(out, "System Information", s, &first)?;
    field(out, "UUID", s.area.get(8..0x18).map(|bytes| uuid(bytes, version)))?;
    field(out, "SKU Number", s.string(0x19))?;
    field(out, "Family", s.string(0x1A))
}

/// Clause 7.2.1: since version 2.6 the first three parts have their lowest byte first.
fn uuid(bytes: &[u8], version: (u8, u8)) -> String {
    if bytes.iter().all(|byte| *byte == 0xFF) {
        return "Not Present".to_owned();
    }
    if bytes.iter().all(|byte| *byte == 0) {
        return "Not Settable".to_owned();
    }
    let swapped = [3, 2, 1, 0, 5, 4, 7, 6, 8, 9, 10, 11, 12, 13, 14, 15];
    let mut text = String::with_capacity(36);
    for (at, from) in swapped.into_iter().enumerate() {
        if matches!(at, 4 | 6 | 8 | 10) {
            text.push('-');
        }
        let from = if version >= (2, 6) { from } else { at };
        let _ = write!(text, "{:02x}", bytes.get(from).copied().unwrap_or(0));
    }
    text
}

/// Types 18 and 33, clauses 7.19 and 7.34: what is read of them is at the same places.
fn error(out: &mut String, s: &Structure<'_>, title: &str) -> std::fmt::Result {
    writeln!(out, "{title}")?;
    field(out, "Type", s.byte(4).map(|code| named(ERROR_TYPES, code)))?;
    field(out, "Granularity", s.byte(5).map(|code| named(ERROR_GRANULARITIES, code)))?;
    field(out, "Operation", s.byte(6).map(|code| named(ERROR_OPERATIONS, code)))
}

fn strings(out: &mut String, title: &str, s: &Structure<'_>, fields: &[(usize, &str)]) -> std::fmt::Result {
    writeln!(out, "{title}")?;
    for (offset, key) in fields {
        field(out, key, s.string(*offset))?;
    }
    Ok(())
}

fn field(out: &mut String, key: &str, value: Option<String>) -> std::fmt::Result {
    match value {
        Some(value) => writeln!(out, "\t{key}: {value}"),
        None => Ok(()),
    }
}

fn named(table: &[(u8, &str)], code: u8) -> String {
    table.iter().find(|(own, _)| *own == code).map_or("<OUT OF SPEC>", |(_, name)| name).to_owned()
}

fn handle(code: u16) -> String {
    match code {
        0xFFFE => "Not Provided".to_owned(),
        0xFFFF => "No Error".to_owned(),
        code => format!("0x{code:04X}"),
    }
}

/// A size in the largest unit that is exact.
fn size(mut value: u64, mut unit: usize) -> String {
    const UNITS: [&str; 7] = ["bytes", "kB", "MB", "GB", "TB", "PB", "EB"];
    while value != 0 && value.is_multiple_of(1024) && unit + 1 < UNITS.len() {
        value /= 1024;
        unit += 1;
    }
    format!("{value} {}", UNITS[unit])
}

fn processor(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    writeln!(out, "Processor Information")?;
    field(out, "Socket Designation", s.string(4))?;
    field(out, "Manufacturer", s.string(7))?;
    field(out, "Version", s.string(0x10))?;
    let words = ["Unknown", "Enabled", "Disabled By User", "Disabled By BIOS", "Idle"];
    let status = s.byte(0x18).map(|status| match (status & 0x40 != 0, status & 7) {
        (false, _) => "Unpopulated".to_owned(),
        (true, 7) => "Populated, Other".to_owned(),
        (true, state) => format!("Populated, {}", words.get(usize::from(state)).unwrap_or(&"<OUT OF SPEC>")),
    });
    field(out, "Status", status)
}

fn array(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    writeln!(out, "Physical Memory Array")?;
    field(out, "Location", s.byte(4).map(|code| named(ARRAY_LOCATIONS, code)))?;
    field(out, "Use", s.byte(5).map(|code| named(ARRAY_USES, code)))?;
    field(out, "Error Correction Type", s.byte(6).map(|code| named(ERROR_CORRECTIONS, code)))?;
    let capacity = s.number(7, 4).map(|kilobytes| match (kilobytes, s.number(0x0F, 8)) {
        (0x8000_0000, Some(bytes)) => size(bytes, 0),
        (0x8000_0000, None) => "Unknown".to_owned(),
        (kilobytes, _) => size(kilobytes, 1),
    });
    field(out, "Maximum Capacity", capacity)?;
    field(out, "Error Information Handle", s.word(0x0B).map(handle))?;
    field(out, "Number Of Devices", s.word(0x0D).map(|count| count.to_string()))
}

fn width(bits: u16) -> String {
    if matches!(bits, 0 | 0xFFFF) { "Unknown".to_owned() } else { format!("{bits} bits") }
}

fn rate(word: u16, extended: Option<u64>) -> String {
    match (word, extended) {
        (0, _) | (0xFFFF, None | Some(0)) => "Unknown".to_owned(),
        (0xFFFF, Some(rate)) => format!("{} MT/s", rate & 0x7FFF_FFFF),
        (rate, _) => format!("{rate} MT/s"),
    }
}

fn voltage(millivolts: u16) -> String {
    match millivolts {
        0 => "Unknown".to_owned(),
        mv if mv % 100 == 0 => format!("{}.{} V", mv / 1000, mv % 1000 / 100),
        mv => format!("{}.{} V", mv / 1000, format!("{:03}", mv % 1000).trim_end_matches('0')),
    }
}

fn maker(code: u16) -> String {
    if code == 0 {
        "Unknown".to_owned()
    } else {
        format!("Bank {}, Hex 0x{:02X}", (code & 0x7F) + 1, code >> 8)
    }
}

fn flags(table: &[(u8, &str)], bits: u16) -> String {
    let names: Vec<&str> =
        table.iter().filter(|(bit, _)| bits & (1 << bit) != 0).map(|(_, name)| *name).collect();
    if names.is_empty() { "None".to_owned() } else { names.join(" ") }
}

/// The revision of a power controller or register. Clauses 7.18.16 and 7.18.18: `FF00h` is unknown; for DDR5 it is the
/// SPD's byte, whose halves are the numbers before and after the point, under a byte that says whether there is one.
fn revision(out: &mut String, what: &str, code: u16, ddr5: bool) -> std::fmt::Result {
    let key = |word: &str| format!("{what} {word}");
    if code == 0xFF00 {
        return field(out, &key("Revision Number"), Some("Unknown".to_owned()));
    }
    if !ddr5 {
        return field(out, &key("Revision Number"), Some(format!("0x{code:04x}")));
    }
    if code & 0x8000 == 0 {
        return field(out, &key("Device Type"), Some("Not Installed".to_owned()));
    }
    field(out, &key("Device Type"), Some((code >> 8 & 0x0F).to_string()))?;
    field(out, &key("Device Revision"), Some(format!("{}.{}", code >> 4 & 0x0F, code & 0x0F)))
}

/// The part sizes of persistent modules: zero is none, all ones unknown.
fn part(bytes: u64) -> String {
    match bytes {
        0 => "None".to_owned(),
        u64::MAX => "Unknown".to_owned(),
        bytes => size(bytes, 0),
    }
}

fn device_size(s: &Structure<'_>) -> Option<String> {
    Some(match s.word(0x0C)? {
        0 => "No Module Installed".to_owned(),
        0xFFFF => "Unknown".to_owned(),
        0x7FFF => match s.number(0x1C, 4) {
            Some(megabytes) => size(megabytes & 0x7FFF_FFFF, 2),
            None => "32767 MB".to_owned(),
        },
        code if code & 0x8000 != 0 => size(u64::from(code & 0x7FFF), 1),
        code => size(u64::from(code), 2),
    })
}

fn device(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    writeln!(out, "Memory Device")?;
    field(out, "Array Handle", s.word(4).map(|code| format!("0x{code:04X}")))?;
    field(out, "Error Information Handle", s.word(6).map(handle))?;
    field(out, "Total Width", s.word(8).map(width))?;
    field(out, "Data Width", s.word(0x0A).map(width))?;
    field(out, "Size", device_size(s))?;
    field(out, "Form Factor", s.byte(0x0E).map(|code| named(FORM_FACTORS, code)))?;
    let set = s.byte(0x0F).map(|set| match set {
        0 => "None".to_owned(),
        0xFF => "Unknown".to_owned(),
        set => set.to_string(),
    });
    field(out, "Set", set)?;
    field(out, "Locator", s.string(0x10))?;
    field(out, "Bank Locator", s.string(0x11))?;
    field(out, "Type", s.byte(0x12).map(|code| named(MEMORY_TYPES, code)))?;
    field(out, "Type Detail", s.word(0x13).map(|bits| flags(TYPE_DETAILS, bits)))?;
    field(out, "Speed", s.word(0x15).map(|word| rate(word, s.number(0x54, 4))))?;
    for (offset, key) in
        [(0x17, "Manufacturer"), (0x18, "Serial Number"), (0x19, "Asset Tag"), (0x1A, "Part Number")]
    {
        field(out, key, s.string(offset))?;
    }
    let ranks = s.byte(0x1B).map(|byte| byte & 0x0F);
    field(out, "Rank", ranks.map(|ranks| if ranks == 0 { "Unknown".to_owned() } else { ranks.to_string() }))?;
    field(out, "Configured Memory Speed", s.word(0x20).map(|word| rate(word, s.number(0x58, 4))))?;
    for (offset, key) in [(0x22, "Minimum Voltage"), (0x24, "Maximum Voltage"), (0x26, "Configured Voltage")]
    {
        field(out, key, s.word(offset).map(voltage))?;
    }
    since_3_2(out, s)
}

/// The fields of a memory device since version 3.2 and 3.7.
fn since_3_2(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    field(out, "Memory Technology", s.byte(0x28).map(|code| named(MEMORY_TECHNOLOGIES, code)))?;
    let modes = s.word(0x29).map(|bits| flags(OPERATING_MODES, bits));
    field(out, "Memory Operating Mode Capability", modes)?;
    field(out, "Firmware Version", s.string(0x2B))?;
    field(out, "Module Manufacturer ID", s.word(0x2C).map(maker))?;
    let product = |code: u16| if code == 0 { "Unknown".to_owned() } else { format!("0x{code:04X}") };
    field(out, "Module Product ID", s.word(0x2E).map(product))?;
    field(out, "Memory Subsystem Controller Manufacturer ID", s.word(0x30).map(maker))?;
    field(out, "Memory Subsystem Controller Product ID", s.word(0x32).map(product))?;
    for (offset, key) in
        [(0x34, "Non-Volatile Size"), (0x3C, "Volatile Size"), (0x44, "Cache Size"), (0x4C, "Logical Size")]
    {
        field(out, key, s.number(offset, 8).map(part))?;
    }
    let ddr5 = s.byte(0x12).map(MemoryType).is_some_and(MemoryType::is_ddr5);
    for (offset, what) in [(0x5C, "PMIC0"), (0x60, "RCD")] {
        field(out, &format!("{what} Manufacturer ID"), s.word(offset).map(maker))?;
        if let Some(code) = s.word(offset + 2) {
            revision(out, what, code, ddr5)?;
        }
    }
    Ok(())
}

/// First and last byte of a range: in kB, or in bytes where the extended fields are used.
fn range(out: &mut String, s: &Structure<'_>, extended: usize) -> std::fmt::Result {
    let (Some(start), Some(end)) = (s.number(4, 4), s.number(8, 4)) else { return Ok(()) };
    let extended =
        (start == 0xFFFF_FFFF).then(|| s.number(extended, 8).zip(s.number(extended + 8, 8))).flatten();
    match extended {
        Some((start, end)) => {
            writeln!(out, "\tStarting Address: 0x{start:016X}\n\tEnding Address: 0x{end:016X}")
        }
        None => {
            let end = (end + 1) * 1024 - 1;
            writeln!(out, "\tStarting Address: 0x{:011X}\n\tEnding Address: 0x{end:011X}", start * 1024)
        }
    }
}

fn array_range(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    writeln!(out, "Memory Array Mapped Address")?;
    range(out, s, 0x0F)?;
    field(out, "Physical Array Handle", s.word(0x0C).map(|code| format!("0x{code:04X}")))
}

fn device_range(out: &mut String, s: &Structure<'_>) -> std::fmt::Result {
    writeln!(out, "Memory Device Mapped Address")?;
    range(out, s, 0x13)?;
    field(out, "Physical Device Handle", s.word(0x0C).map(|code| format!("0x{code:04X}")))?;
    field(out, "Memory Array Mapped Address Handle", s.word(0x0E).map(|code| format!("0x{code:04X}")))
}
