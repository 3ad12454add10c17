//! Text to blocks: one block per SMBIOS structure, in every format in which dmidecode has printed them.
//!
//! The scanner looks at the first byte of each line and little more, so that the nine tenths of a listing
//! that say nothing about memory cost almost nothing.

mod line;

use memchr::{memchr, memmem};

pub use self::line::MarkerKind;
use self::line::{Outer, TITLES, outer, type_and_length};
use super::Place;

/// One structure as printed: what its handle line says and where its field lines are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Block<'a> {
    /// The structure's handle; `None` in the quiet format. Handles need not be unique.
    pub handle: Option<u16>,
    /// The structure's type, from the handle line, or from the title in the quiet format.
    pub kind: Option<u8>,
    /// The structure's length in bytes as printed; `None` in the quiet format.
    pub length: Option<u16>,
    /// The title line, trimmed; empty where the listing ends before it.
    pub title: &'a str,
    /// The handle line, or the title in the quiet format.
    pub place: Place,
    /// Place of the first line of `body`.
    pub body_place: Place,
    /// The lines after the title up to the next block.
    pub body: &'a str,
}

/// A line outside the structures that says something about the listing as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marker<'a> {
    /// What it is.
    pub kind: MarkerKind,
    /// The line, trimmed.
    pub text: &'a str,
    /// Where it is.
    pub place: Place,
    /// Number of blocks before it.
    pub blocks_before: usize,
}

/// The blocks and markers of one text, in order.
#[derive(Debug, Clone, Default)]
pub struct Scan<'a> {
    /// Structures.
    pub blocks: Vec<Block<'a>>,
    /// Other lines, without the empty ones.
    pub markers: Vec<Marker<'a>>,
}

/// What is at the start of `bytes`, at a field line, up to the next empty line.
enum Ahead {
    /// Nothing but field lines: their number, and the place of the empty line.
    Fields(u32, usize),
    /// Other lines too; the place of the empty line.
    Others(usize),
    /// There is no empty line.
    NoEmptyLine,
}

/// Sums of so many stay below 256, which lets the compiler count many bytes at once.
const STEP: usize = 192;

fn look_ahead(bytes: &[u8], empty_line: &memmem::Finder<'_>) -> Ahead {
    let Some(end) = empty_line.find(bytes) else { return Ahead::NoEmptyLine };
    let region = &bytes[..=end];
    let (mut lines, mut others) = (1u32, 0u8);
    for (chunk, next) in region[..region.len() - 1].chunks(STEP).zip(region[1..].chunks(STEP)) {
        let mut breaks = 0u8;
        for (byte, next) in chunk.iter().zip(next) {
            let is_break = u8::from(*byte == b'\n');
            breaks += is_break;
            others |= is_break & u8::from(*next != b'\t');
        }
        lines += u32::from(breaks);
    }
    if others == 0 { Ahead::Fields(lines, region.len()) } else { Ahead::Others(region.len()) }
}

/// Splits `text` into blocks and markers. Never fails; the work is linear in the length of the text.
pub fn scan(text: &str) -> Scan<'_> {
    scan_from(text, 0)
}

/// As [`scan`]; before `one_by_one` every line is looked at by itself.
fn scan_from(text: &str, mut one_by_one: usize) -> Scan<'_> {
    let mut scanner = Scanner { text, scan: Scan::default(), open: None, after_empty: true };
    // Most lines are about 25 bytes and most blocks about 20 lines.
    scanner.scan.blocks.reserve(text.len() / 512 + 1);
    let bytes = text.as_bytes();
    let (mut offset, mut line) = (0usize, 0u32);
    // Nothing is scanned twice: `one_by_one` moves to where it is known that lines must be taken singly.
    let empty_line = memmem::Finder::new(b"\n\n");
    while offset < bytes.len() {
        line += 1;
        if offset >= one_by_one
            && bytes[offset] == b'\t'
            && let Some(open) = &scanner.open
            && open.titled
        {
            match look_ahead(&bytes[offset..], &empty_line) {
                Ahead::Fields(lines, length) => {
                    line += lines - 1;
                    offset += length;
                    continue;
                }
                Ahead::Others(length) => one_by_one = offset + length,
                Ahead::NoEmptyLine => one_by_one = bytes.len(),
            }
        }
        let end = memchr(b'\n', &bytes[offset..]).map_or(bytes.len(), |n| offset + n);
        #[expect(clippy::cast_possible_truncation, reason = "input is capped at 256 MiB")]
        let place = Place { line, offset: offset as u32 };
        match (bytes[offset], &scanner.open) {
            // The common case: a field line of a block whose title is known.
            (b'\t', Some(open)) if open.titled => {}
            _ => scanner.line(&text[offset..end], place),
        }
        offset = end + 1;
    }
    scanner.close(bytes.len());
    scanner.scan
}

struct Open<'a> {
    block: Block<'a>,
    titled: bool,
    body_start: usize,
}

struct Scanner<'a> {
    text: &'a str,
    scan: Scan<'a>,
    open: Option<Open<'a>>,
    after_empty: bool,
}

impl<'a> Scanner<'a> {
    fn line(&mut self, raw: &'a str, place: Place) {
        let line = raw.trim_ascii();
        if line.is_empty() {
            // An empty line ends a block; a line of spaces can be a scrubbed value and does not.
            if raw.trim_end_matches('\r').is_empty() {
                self.close(place.offset as usize);
                self.after_empty = true;
            }
            return;
        }
        let after_empty = std::mem::replace(&mut self.after_empty, false);
        let indented = raw.starts_with(['\t', ' ']);
        if indented {
            self.indented_line(raw, line, place);
            return;
        }
        match outer(line) {
            Outer::Handle { handle, kind, length } => {
                self.close(place.offset as usize);
                let block = Block {
                    handle: Some(handle),
                    kind,
                    length,
                    title: "",
                    place,
                    body_place: place,
                    body: "",
                };
                self.open =
                    Some(Open { block, titled: false, body_start: place.offset as usize + raw.len() });
            }
            Outer::Marker(MarkerKind::EntryFixup) => self.mark(MarkerKind::EntryFixup, line, place),
            Outer::Marker(kind) => {
                self.close(place.offset as usize);
                self.mark(kind, line, place);
            }
            Outer::Other => self.other_line(raw, line, place, after_empty),
        }
    }

    /// An indented line that the fast path left: before the title, or outside any block.
    fn indented_line(&mut self, raw: &'a str, line: &'a str, place: Place) {
        if line == "<TRUNCATED>" {
            self.mark(MarkerKind::Truncated, line, place);
        }
        let Some(open) = &mut self.open else {
            if line != "<TRUNCATED>" {
                self.mark(MarkerKind::Stray, line, place);
            }
            return;
        };
        if open.titled {
            return;
        }
        if open.block.kind.is_none() && line.starts_with("DMI type ") {
            // The two-line format of releases 2.0 to 2.6.
            (open.block.kind, open.block.length) = type_and_length(line);
            open.body_start = place.offset as usize + raw.len();
        } else {
            open.set_title(raw, line, place);
        }
    }

    /// An unindented line that is neither a handle line nor a marker.
    fn other_line(&mut self, raw: &'a str, line: &'a str, place: Place, after_empty: bool) {
        match &mut self.open {
            Some(open) if !open.titled => open.set_title(raw, line, place),
            // Fields whose indentation was lost on the way, and second titles of one structure.
            Some(_) if !after_empty => {}
            _ => {
                self.close(place.offset as usize);
                let kind = TITLES.iter().find(|(title, _)| *title == line).map(|(_, kind)| *kind);
                // In the quiet format every title follows an empty line; other text there is a wrapper's.
                if after_empty && (kind.is_some() || self.scan.blocks.iter().any(|b| b.handle.is_none())) {
                    let block = Block {
                        handle: None,
                        kind,
                        length: None,
                        title: "",
                        place,
                        body_place: place,
                        body: "",
                    };
                    let mut open = Open { block, titled: false, body_start: 0 };
                    open.set_title(raw, line, place);
                    self.open = Some(open);
                } else {
                    self.mark(MarkerKind::Stray, line, place);
                }
            }
        }
    }

    fn mark(&mut self, kind: MarkerKind, text: &'a str, place: Place) {
        let blocks_before = self.scan.blocks.len() + usize::from(self.open.is_some());
        self.scan.markers.push(Marker { kind, text, place, blocks_before });
    }

    fn close(&mut self, end: usize) {
        if let Some(mut open) = self.open.take() {
            open.block.body = self.text.get(open.body_start..end).unwrap_or("");
            self.scan.blocks.push(open.block);
        }
    }
}

impl<'a> Open<'a> {
    fn set_title(&mut self, raw: &'a str, line: &'a str, place: Place) {
        self.block.title = line;
        self.titled = true;
        // The body starts on the line after the title; the line break is one byte, a CR is part of `raw`.
        self.body_start = place.offset as usize + raw.len() + 1;
        #[expect(clippy::cast_possible_truncation, reason = "input is capped at 256 MiB")]
        let offset = self.body_start as u32;
        self.block.body_place = Place { line: place.line + 1, offset };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    proptest! {
        /// Skipping all fields of a record at once finds what looking at every line finds.
        #[test]
        fn skipping_changes_nothing(lines in proptest::collection::vec(0usize..12, 0..120)) {
            const LINES: [&str; 12] = [
                "Handle 0x0011, DMI type 17, 27 bytes",
                "Handle 0x0012, DMI type 9, 17 bytes.",
                "System Slot Information",
                "Memory Device",
                "\tSize: 1 GB",
                "\t\tList entry",
                "",
                "Invalid entry length (16). Fixed up to 11.",
                "\t<TRUNCATED>",
                "# dmidecode 3.3",
                "  odd: blanks",
                "\tCR at the end\r",
            ];
            let text: String = lines.iter().map(|line| format!("{}\n", LINES[*line])).collect();
            let (fast, slow) = (scan(&text), scan_from(&text, text.len()));
            prop_assert_eq!(fast.blocks, slow.blocks);
            prop_assert_eq!(fast.markers, slow.markers);
        }
    }

    type Head = (Option<u16>, Option<u8>, Option<u16>, String);

    fn heads(text: &str) -> Vec<Head> {
        scan(text).blocks.iter().map(|b| (b.handle, b.kind, b.length, b.title.to_owned())).collect()
    }

    #[test]
    fn the_three_handle_forms_read_alike() {
        let want = vec![(Some(0x11), Some(17), Some(27), "Memory Device".to_owned())];
        assert_eq!(heads("Handle 0x0011, DMI type 17, 27 bytes\nMemory Device\n\tSize: 1 GB\n"), want);
        assert_eq!(heads("Handle 0x0011, DMI type 17, 27 bytes.\nMemory Device\n\tSize: 1 GB\n"), want);
        assert_eq!(heads("Handle 0x0011\n\tDMI type 17, 27 bytes.\n\tMemory Device\n\t\tSize: 1 GB\n"), want);
        assert_eq!(heads("Handle 0x0011, DMI type 17, 27 bytes\r\nMemory Device\r\n\tSize: 1 GB\r\n"), want);
    }

    #[test]
    fn bodies_start_after_the_title_with_their_line() {
        let scan = scan(
            "# dmidecode 3.3\n\nHandle 0x0011, DMI type 17, 27 bytes\nMemory Device\n\tSize: 1 GB\n\tSet: None\n\n",
        );
        let block = scan.blocks[0];
        assert_eq!(block.body, "\tSize: 1 GB\n\tSet: None\n");
        assert_eq!((block.place.line, block.body_place.line), (3, 5));
    }

    #[test]
    fn the_quiet_form_has_titles_only() {
        let text = "Physical Memory Array\n\tUse: System Memory\n\nMemory Device\n\tSize: 1 GB\n\nCache Information\n\tX: y\n";
        let want = [(None, Some(16)), (None, Some(17)), (None, None)];
        let got: Vec<_> = scan(text).blocks.iter().map(|b| (b.handle, b.kind)).collect();
        assert_eq!(got, want);
    }

    #[test]
    fn damage_is_marked() {
        let text = "Handle 0x0011, DMI type 17, 27 bytes\nMemory Device\n\tSize: 1 GB\n\n\
                    Invalid entry length (0). DMI table is broken! Stop.\n\nWrong DMI structures count: 9 announced, only 3 decoded.\n";
        let kinds: Vec<_> = scan(text).markers.iter().map(|m| m.kind).collect();
        assert_eq!(kinds, [MarkerKind::Broken, MarkerKind::WrongStructures]);
        let text = "Handle 0x0011, DMI type 17, 27 bytes\n\t<TRUNCATED>\n\n";
        assert_eq!(scan(text).markers[0].kind, MarkerKind::Truncated);
    }

    #[test]
    fn a_repaired_entry_does_not_end_its_block() {
        let text = "Handle 0x0022, DMI type 34, 16 bytes\nInvalid entry length (16). Fixed up to 11.\nManagement Device\n\tA: b\n";
        let scan = scan(text);
        assert_eq!((scan.blocks[0].title, scan.blocks[0].body), ("Management Device", "\tA: b\n"));
    }

    #[test]
    fn wrapper_lines_are_stray() {
        let scan = scan("[wrapper] starting\n# dmidecode 3.2\nSMBIOS 2.7 present.\n");
        let kinds: Vec<_> = scan.markers.iter().map(|m| m.kind).collect();
        assert_eq!(kinds, [MarkerKind::Stray, MarkerKind::Release, MarkerKind::Version]);
    }
}
