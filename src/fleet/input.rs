//! From paths to listings: folders, files, archives, JSON Lines, streams of listings.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

use memchr::memmem;

/// How much is taken.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// The most bytes of one listing, unpacked. Real ones have less than one MiB.
    pub listing: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { listing: 16 << 20 }
    }
}

/// Where a listing comes from.
#[derive(Debug)]
pub enum Content {
    /// A file that is still to be read.
    File(PathBuf),
    /// Bytes of an archive or a stream.
    Bytes(Vec<u8>),
    /// One line of JSON: `{"host": …, "listing": …}`.
    JsonLine(Vec<u8>),
    /// It cannot be read: why, and what to do.
    Failed(String),
}

/// One input with its name.
#[derive(Debug)]
pub struct Item {
    /// The path, with `ARCHIVE/ENTRY` for an entry of an archive.
    pub name: String,
    /// Its content.
    pub content: Content,
}

/// All inputs below some paths, in the order of the paths, folders by name.
pub struct Inputs {
    paths: VecDeque<PathBuf>,
    left_out: Vec<PathBuf>,
    limits: Limits,
    source: Option<Source>,
}

impl std::fmt::Debug for Inputs {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Inputs").field("paths", &self.paths).finish_non_exhaustive()
    }
}

/// What is being read.
enum Source {
    Folder(walkdir::IntoIter),
    Archive { name: String, entries: Box<Entries> },
    Lines { name: String, reader: Box<dyn BufRead + Send>, line: u64 },
    Stream { name: String, splitter: Splitter },
}

impl Inputs {
    /// The inputs below `paths`; `-` is standard input. Files and folders in `left_out` are passed over.
    pub fn new(paths: Vec<PathBuf>, left_out: &[PathBuf], limits: Limits) -> Self {
        let left_out = left_out.iter().filter_map(|path| path.canonicalize().ok()).collect();
        Self { paths: paths.into(), left_out, limits, source: None }
    }

    /// Whether a path is one of those left out. Only one that has the name of one is followed to its end, which
    /// is dear.
    fn is_left_out(&self, path: &Path) -> bool {
        let same_name = self.left_out.iter().any(|own| own.file_name() == path.file_name());
        same_name && path.canonicalize().is_ok_and(|path| self.left_out.contains(&path))
    }

    /// Whether an entry of a folder is hidden or left out.
    fn is_passed_over(&self, entry: &walkdir::DirEntry) -> bool {
        let hidden = entry.depth() > 0 && entry.file_name().as_encoded_bytes().starts_with(b".");
        hidden || self.is_left_out(entry.path())
    }

    fn open(&mut self, path: &Path) -> Option<Item> {
        let name = shown(path);
        if path.as_os_str() == "-" {
            return self.open_stream("standard input".to_owned(), Box::new(io::stdin()), None);
        }
        match std::fs::metadata(path) {
            Err(error) => Some(Item { name, content: Content::Failed(say(&error)) }),
            Ok(meta) if meta.is_dir() => {
                // Links are followed, as people collect listings with them; a circle of links is an error.
                // Entries of one folder differ in their names only; comparing whole paths does not take them apart.
                let walk = walkdir::WalkDir::new(path)
                    .follow_links(true)
                    .sort_by(|a, b| a.path().as_os_str().cmp(b.path().as_os_str()));
                self.source = Some(Source::Folder(walk.into_iter()));
                None
            }
            Ok(meta) if !meta.is_file() && !is_pipe(meta.file_type()) => {
                Some(Item { name, content: Content::Failed("is no file. Name files or folders".to_owned()) })
            }
            // A file that a folder could hold is read as it would be there; what is larger is a stream.
            Ok(meta) => match File::open(path) {
                Ok(file) => {
                    // What a pipe gives can be read only once.
                    let small = meta.is_file() && meta.len() <= self.limits.listing;
                    self.open_stream(name, Box::new(file), small.then(|| path.to_owned()))
                }
                Err(error) => Some(Item { name, content: Content::Failed(say(&error)) }),
            },
        }
    }

    /// Opens a file that was named, or standard input: what it is, is known by its first bytes.
    fn open_stream(
        &mut self,
        name: String,
        reader: Box<dyn Read + Send>,
        small: Option<PathBuf>,
    ) -> Option<Item> {
        match unpack(reader) {
            Err(error) => Some(Item { name, content: Content::Failed(say(&error)) }),
            Ok(mut reader) => {
                let kind = match reader.fill_buf() {
                    Ok(start) => kind_of(start),
                    Err(error) => return Some(Item { name, content: Content::Failed(say(&error)) }),
                };
                if let (Kind::Listings, Some(path)) = (&kind, small) {
                    return Some(Item { name, content: Content::File(path) });
                }
                self.source = Some(match kind {
                    Kind::Archive => Source::Archive { name, entries: Box::new(Entries::new(reader)) },
                    Kind::JsonLines => Source::Lines { name, reader, line: 0 },
                    Kind::Listings => {
                        Source::Stream { name, splitter: Splitter::new(reader, self.limits.listing) }
                    }
                });
                None
            }
        }
    }

    /// An entry of a folder: a file that is read later, or an archive that is read now.
    fn entry(&mut self, entry: walkdir::Result<walkdir::DirEntry>) -> Option<Item> {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                let name = error.path().map_or_else(|| "a folder".to_owned(), shown);
                let reason = match error.loop_ancestor() {
                    Some(above) => {
                        format!("is a link to {}, which it stands in. Remove the link", shown(above))
                    }
                    None => error.io_error().map_or_else(|| error.to_string(), say),
                };
                return Some(Item { name, content: Content::Failed(reason) });
            }
        };
        let path = entry.path();
        if entry.file_type().is_dir() || self.is_passed_over(&entry) {
            return None;
        }
        let name = shown(path);
        if !entry.file_type().is_file() {
            return Some(Item { name, content: Content::Failed("is no file. Remove it".to_owned()) });
        }
        Some(Item { name, content: Content::File(path.to_owned()) })
    }
}

impl Iterator for Inputs {
    type Item = Item;

    fn next(&mut self) -> Option<Item> {
        loop {
            let limit = self.limits.listing;
            match &mut self.source {
                None => {
                    let path = self.paths.pop_front()?;
                    if let Some(item) = self.open(&path) {
                        return Some(item);
                    }
                }
                Some(Source::Folder(walk)) => match walk.next() {
                    Some(entry) => {
                        let inner = entry.as_ref().is_ok_and(|e| e.file_type().is_dir() && e.depth() > 0);
                        if inner && entry.as_ref().is_ok_and(|e| self.is_passed_over(e)) {
                            if let Some(Source::Folder(walk)) = &mut self.source {
                                walk.skip_current_dir();
                            }
                            continue;
                        }
                        if let Some(item) = self.entry(entry) {
                            return Some(item);
                        }
                    }
                    None => self.source = None,
                },
                Some(Source::Archive { name, entries }) => match entries.next(name, limit) {
                    Some(item) => return Some(item),
                    None => self.source = None,
                },
                Some(Source::Lines { name, reader, line }) => {
                    *line += 1;
                    match next_line(reader.as_mut(), limit) {
                        Ok(None) => self.source = None,
                        Ok(Some(bytes)) if bytes.iter().all(u8::is_ascii_whitespace) => {}
                        Ok(Some(bytes)) => {
                            let name = format!("{name}, line {line}");
                            let content = if bytes.len() as u64 > limit {
                                Content::Failed(too_large(limit))
                            } else {
                                Content::JsonLine(bytes)
                            };
                            return Some(Item { name, content });
                        }
                        Err(error) => {
                            let name = format!("{name}, line {line}");
                            self.source = None;
                            return Some(Item { name, content: Content::Failed(say(&error)) });
                        }
                    }
                }
                Some(Source::Stream { name, splitter }) => match splitter.next(name) {
                    Some(item) => return Some(item),
                    None => self.source = None,
                },
            }
        }
    }
}

/// Whether what is no file can be read as one: a pipe, such as a shell's `<(…)`.
fn is_pipe(kind: std::fs::FileType) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        kind.is_fifo()
    }
    #[cfg(not(unix))]
    {
        let _ = kind;
        false
    }
}

/// A path as text; bytes that are no UTF-8 are shown as `\xNN`, so that two names never look the same.
fn shown(path: &Path) -> String {
    shown_bytes(path.as_os_str().as_encoded_bytes())
}

fn shown_bytes(bytes: &[u8]) -> String {
    let mut out = String::new();
    for chunk in bytes.utf8_chunks() {
        out.push_str(chunk.valid());
        for byte in chunk.invalid() {
            out.push_str(&format!("\\x{byte:02X}"));
        }
    }
    out
}

/// Why reading failed, and what to do.
pub(super) fn say(error: &io::Error) -> String {
    let advice = match error.kind() {
        io::ErrorKind::NotFound => "Check the path",
        io::ErrorKind::PermissionDenied => "Ask for the right to read it",
        io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidData => "Copy the file again",
        _ => "Check the file and its disk",
    };
    format!("cannot be read ({error}). {advice}")
}

pub(super) fn too_large(limit: u64) -> String {
    format!(
        "found more than {} MiB, expected a listing of a few hundred kilobytes. Check the file",
        limit >> 20
    )
}

enum Kind {
    Archive,
    JsonLines,
    Listings,
}

/// What the first bytes say; `ustar` stands at 257 (POSIX.1-1988 tar header).
fn kind_of(start: &[u8]) -> Kind {
    if start.get(257..262) == Some(b"ustar") {
        Kind::Archive
    } else if start.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(start).trim_ascii_start().starts_with(b"{") {
        Kind::JsonLines
    } else {
        Kind::Listings
    }
}

/// A reader of what is inside gzip or zstd data, or of the bytes themselves.
fn unpack(reader: Box<dyn Read + Send>) -> io::Result<Box<dyn BufRead + Send>> {
    const BUFFER: usize = 256 << 10;
    let mut reader = BufReader::with_capacity(BUFFER, reader);
    let start = reader.fill_buf()?;
    Ok(if start.starts_with(&[0x1F, 0x8B]) {
        let decoder = flate2::bufread::MultiGzDecoder::new(reader);
        let mut reader = BufReader::with_capacity(BUFFER, decoder);
        reader.fill_buf()?;
        Box::new(reader)
    } else if start.starts_with(&[0x28, 0xB5, 0x2F, 0xFD]) {
        let mut reader = BufReader::with_capacity(BUFFER, Frames { rest: Some(reader), frame: None });
        reader.fill_buf()?;
        Box::new(reader)
    } else {
        Box::new(reader)
    })
}

type Packed = BufReader<Box<dyn Read + Send>>;

/// The frames of zstd data, one after the other.
struct Frames {
    /// What is behind the last frame.
    rest: Option<Packed>,
    frame: Option<Box<ruzstd::decoding::StreamingDecoder<Packed, ruzstd::decoding::FrameDecoder>>>,
}

impl Read for Frames {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let broken = |error: String| io::Error::new(io::ErrorKind::InvalidData, error);
        loop {
            if let Some(frame) = &mut self.frame {
                let read = frame.read(buffer)?;
                if read > 0 || buffer.is_empty() {
                    return Ok(read);
                }
                let stated = frame.decoder.get_checksum_from_data();
                if stated.is_some() && stated != frame.decoder.get_calculated_checksum() {
                    return Err(broken("the data do not have their checksum".to_owned()));
                }
                self.rest = self.frame.take().map(|frame| frame.into_inner());
            }
            let Some(mut rest) = self.rest.take() else { return Ok(0) };
            if rest.fill_buf()?.is_empty() {
                return Ok(0);
            }
            let frame = ruzstd::decoding::StreamingDecoder::new(rest);
            self.frame = Some(Box::new(frame.map_err(|error| broken(error.to_string()))?));
        }
    }
}

/// The next line without its ending; what goes beyond `limit` is read over, and one byte more than the limit is
/// returned.
fn next_line(reader: &mut dyn BufRead, limit: u64) -> io::Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    let read = reader.take(limit + 1).read_until(b'\n', &mut line)?;
    if read == 0 {
        return Ok(None);
    }
    if line.len() as u64 > limit && line.last() != Some(&b'\n') {
        loop {
            let chunk = reader.fill_buf()?;
            if chunk.is_empty() {
                break;
            }
            let end = memchr::memchr(b'\n', chunk);
            let length = end.map_or(chunk.len(), |end| end + 1);
            reader.consume(length);
            if end.is_some() {
                break;
            }
        }
    }
    Ok(Some(line))
}

/// Entries of a tar archive. They are only read, never unpacked to the disk.
struct Entries {
    reader: Box<dyn BufRead + Send>,
    /// A long name from the entry before.
    long_name: Option<Vec<u8>>,
    end_seen: bool,
    done: bool,
}

impl Entries {
    fn new(reader: Box<dyn BufRead + Send>) -> Self {
        Self { reader, long_name: None, end_seen: false, done: false }
    }

    /// The next file of the archive. The headers are read by the `tar` crate; the archive itself is walked
    /// here, since its own iterator cannot be kept beside its reader.
    fn next(&mut self, archive: &str, limit: u64) -> Option<Item> {
        while !self.done {
            match self.step(archive, limit) {
                Ok(Some(item)) => return Some(item),
                Ok(None) => {}
                Err(error) => {
                    self.done = true;
                    return Some(Item { name: archive.to_owned(), content: Content::Failed(say(&error)) });
                }
            }
        }
        None
    }

    fn step(&mut self, archive: &str, limit: u64) -> io::Result<Option<Item>> {
        const BLOCK: u64 = 512;
        let mut header = tar::Header::new_old();
        let block = header.as_mut_bytes();
        let mut filled = 0;
        while filled < block.len() {
            match self.reader.read(&mut block[filled..])? {
                0 if filled == 0 => {
                    self.done = true;
                    let cut =
                        "ends without the mark of its end; entries may be missing. Copy the archive again";
                    return Ok((!self.end_seen).then(|| Item {
                        name: archive.to_owned(),
                        content: Content::Failed(cut.to_owned()),
                    }));
                }
                0 => return Err(io::ErrorKind::UnexpectedEof.into()),
                read => filled += read,
            }
        }
        // Blocks of zeros mark the end; archives that were put one behind the other go on behind it.
        if header.as_bytes().iter().all(|byte| *byte == 0) {
            self.end_seen = true;
            return Ok(None);
        }
        self.end_seen = false;
        let sum = |range: std::ops::Range<usize>| -> u32 {
            header.as_bytes()[range].iter().map(|byte| u32::from(*byte)).sum()
        };
        // The checksum counts its own eight bytes as blanks (POSIX.1-1988 tar header).
        if header.cksum()? != sum(0..148) + sum(156..512) + 8 * u32::from(b' ') {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "a header's checksum is wrong"));
        }
        let size = header.entry_size()?;
        let padding = (BLOCK - size % BLOCK) % BLOCK;
        let kind = header.entry_type();
        let named = kind.is_gnu_longname() || kind.is_pax_local_extensions();
        if kind.is_hard_link() || kind.is_symlink() || kind.is_gnu_sparse() {
            self.skip(size)?;
            self.pad(padding)?;
            let name = self.long_name.take().unwrap_or_else(|| header.path_bytes().into_owned());
            let reason =
                "is a link or has holes, and its content is not in the archive here. Pack the file itself";
            return Ok(Some(Item {
                name: format!("{archive}/{}", shown_bytes(&name)),
                content: Content::Failed(reason.to_owned()),
            }));
        }
        if !named && !kind.is_file() {
            self.skip(size)?;
            self.pad(padding)?;
            self.long_name = None;
            return Ok(None);
        }
        let name = match self.long_name.take() {
            Some(name) if !named => name,
            _ => header.path_bytes().into_owned(),
        };
        let shown = format!("{archive}/{}", shown_bytes(&name));
        if size > limit {
            self.skip(size)?;
            self.pad(padding)?;
            return Ok((!named).then(|| Item { name: shown, content: Content::Failed(too_large(limit)) }));
        }
        let mut bytes = Vec::with_capacity(usize::try_from(size).unwrap_or(0));
        self.reader.as_mut().take(size).read_to_end(&mut bytes)?;
        if (bytes.len() as u64) < size {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        self.pad(padding)?;
        if named {
            self.long_name = long_name(kind, &bytes);
            return Ok(None);
        }
        let file = name.rsplit(|byte| *byte == b'/').next().unwrap_or_default();
        if file.starts_with(b".") {
            return Ok(None);
        }
        Ok(Some(Item { name: shown, content: Content::Bytes(bytes) }))
    }

    fn skip(&mut self, count: u64) -> io::Result<()> {
        match io::copy(&mut self.reader.as_mut().take(count), &mut io::sink())? {
            skipped if skipped < count => Err(io::ErrorKind::UnexpectedEof.into()),
            _ => Ok(()),
        }
    }

    /// What fills the last block. Where the archive ends before it, the entry is whole nevertheless.
    fn pad(&mut self, count: u64) -> io::Result<()> {
        io::copy(&mut self.reader.as_mut().take(count), &mut io::sink()).map(drop)
    }
}

/// The name that a name entry gives to the next one: the whole of it, or the `path` of its records.
fn long_name(kind: tar::EntryType, bytes: &[u8]) -> Option<Vec<u8>> {
    if kind.is_gnu_longname() {
        return bytes.split(|byte| *byte == 0).next().map(<[u8]>::to_vec);
    }
    let extensions = tar::PaxExtensions::new(bytes);
    let path = extensions.flatten().find(|extension| extension.key_bytes() == b"path");
    path.map(|extension| extension.value_bytes().to_vec())
}

/// Listings one after the other; each header of the utility starts one.
struct Splitter {
    reader: Box<dyn BufRead + Send>,
    buffer: Vec<u8>,
    /// Where the listing that comes next starts in `buffer`.
    start: usize,
    limit: u64,
    count: u64,
    ended: bool,
}

/// How the utility's header starts a line.
const HEADER: &[u8] = b"\n# dmidecode";

/// How a capture starts a line.
const CAPTURE: &[u8] = b"\nasfitted capture ";

/// How a capture ends.
const END: &[u8] = b"\n[end]\n";

/// What every record of a listing has, in one form or another.
const RECORDS: [&[u8]; 2] = [b"DMI type", b"\nMemory Device"];

/// Where the listing at the start of `bytes` ends: at the next header, or for a capture at the next capture. Lines
/// before the first record belong to what follows.
fn boundary(bytes: &[u8], searched: usize) -> Option<usize> {
    let rest = bytes.get(searched..)?;
    if bytes.starts_with(&CAPTURE[1..]) {
        let end = memmem::find(rest, END).map(|at| searched + at + END.len());
        return end.or_else(|| memmem::find(rest, CAPTURE).map(|at| searched + at + 1));
    }
    let first_record = RECORDS.iter().filter_map(|record| memmem::find(bytes, record)).min();
    let capture = memmem::find(rest, CAPTURE);
    // A capture that follows starts a new piece before its own header does.
    let rest = &rest[..capture.unwrap_or(rest.len())];
    let header = memmem::find_iter(rest, HEADER)
        .map(|at| searched + at + 1)
        .find(|at| first_record.is_some_and(|first| first < *at));
    header.or_else(|| capture.map(|at| searched + at + 1))
}

impl Splitter {
    fn new(reader: Box<dyn BufRead + Send>, limit: u64) -> Self {
        Self { reader, buffer: Vec::new(), start: 0, limit, count: 0, ended: false }
    }

    fn next(&mut self, name: &str) -> Option<Item> {
        // The listing's own header is not the next one's.
        let mut searched = 1;
        loop {
            if let Some(at) = boundary(&self.buffer[self.start..], searched) {
                let end = self.start + at;
                let bytes = self.buffer[self.start..end].to_vec();
                self.start = end;
                return Some(self.item(name, bytes, false));
            }
            let length = self.buffer.len() - self.start;
            searched = length.saturating_sub(CAPTURE.len()).max(1);
            if length as u64 > self.limit {
                return Some(self.overlong(name));
            }
            match self.fill() {
                Ok(0) => {
                    let rest = self.buffer.split_off(self.start);
                    self.buffer.clear();
                    self.start = 0;
                    // An input that is empty is an input too.
                    let some = !rest.trim_ascii().is_empty() || self.count == 0;
                    return (some && !std::mem::replace(&mut self.ended, true))
                        .then(|| self.item(name, rest, true));
                }
                Ok(_) => {}
                Err(error) => {
                    (self.buffer, self.start) = (Vec::new(), 0);
                    return (!std::mem::replace(&mut self.ended, true))
                        .then(|| Item { name: name.to_owned(), content: Content::Failed(say(&error)) });
                }
            }
        }
    }

    fn fill(&mut self) -> io::Result<usize> {
        if self.start > 0 {
            self.buffer.drain(..self.start);
            self.start = 0;
        }
        let chunk = self.reader.fill_buf()?;
        let length = chunk.len();
        self.buffer.extend_from_slice(chunk);
        self.reader.consume(length);
        Ok(length)
    }

    /// Reads over what is no listing, up to the next header.
    fn overlong(&mut self, name: &str) -> Item {
        loop {
            self.start = self.buffer.len().saturating_sub(HEADER.len());
            if matches!(self.fill(), Ok(0) | Err(_)) {
                self.buffer.clear();
                self.ended = true;
                break;
            }
            if let Some(at) = memmem::find(&self.buffer, HEADER) {
                self.start = at + 1;
                break;
            }
        }
        self.count += 1;
        let name = self.name(name, self.ended);
        Item { name, content: Content::Failed(too_large(self.limit)) }
    }

    fn name(&self, name: &str, last: bool) -> String {
        if self.count == 1 && last { name.to_owned() } else { format!("{name}#{}", self.count) }
    }

    fn item(&mut self, name: &str, bytes: Vec<u8>, last: bool) -> Item {
        self.count += 1;
        Item { name: self.name(name, last), content: Content::Bytes(bytes) }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    fn stream(bytes: &[u8]) -> Vec<(String, String)> {
        let mut inputs = Inputs::new(Vec::new(), &[], Limits { listing: 4096 });
        let bytes = bytes.to_vec();
        let first = inputs.open_stream("s".to_owned(), Box::new(io::Cursor::new(bytes)), None);
        let say = |item: Item| {
            let content = match item.content {
                Content::Bytes(bytes) | Content::JsonLine(bytes) => {
                    String::from_utf8_lossy(&bytes).into_owned()
                }
                Content::Failed(reason) => format!("! {reason}"),
                Content::File(path) => path.display().to_string(),
            };
            (item.name, content)
        };
        first.into_iter().chain(inputs).map(say).collect()
    }

    #[test]
    fn each_header_starts_a_listing() {
        let all = stream(b"Script started\n# dmidecode 3.3\nDMI type 1\n\n# dmidecode 3.3\nDMI type 2\n");
        let first = "Script started\n# dmidecode 3.3\nDMI type 1\n\n";
        assert_eq!(all[0], ("s#1".to_owned(), first.to_owned()));
        assert_eq!(all[1], ("s#2".to_owned(), "# dmidecode 3.3\nDMI type 2\n".to_owned()));
        // A capture is one piece, whatever is in it.
        let one = "asfitted capture 1\n[listing]\n# dmidecode 3.3\nDMI type 1\n[meminfo]\n";
        let all = stream(format!("{one}{one}# dmidecode 3.3\nDMI type 2\n").as_bytes());
        assert_eq!(all[0].1, one);
        assert!(all.len() == 2 && all[1].1.starts_with(one), "{all:?}");
        let whole = format!("{one}[end]\n");
        let all = stream(format!("{whole}{whole}# dmidecode 3.3\nDMI type 2\n\n").as_bytes());
        assert_eq!((all.len(), all[0].1.as_str(), all[1].1.as_str()), (3, whole.as_str(), whole.as_str()));
        assert_eq!(stream(b"one\n"), [("s".to_owned(), "one\n".to_owned())]);
        assert_eq!(stream(b"").len(), 1);
    }

    #[test]
    fn what_is_no_listing_is_read_over() {
        let mut bytes = b"# dmidecode 3.3\n".to_vec();
        bytes.extend(std::iter::repeat_n(b'x', 600_000));
        bytes.extend(b"\n# dmidecode 3.3\nB\n");
        let all = stream(&bytes);
        assert!(all[0].1.starts_with("! found more than"), "{all:?}");
        assert_eq!(all[1], ("s#2".to_owned(), "# dmidecode 3.3\nB\n".to_owned()));
    }

    #[test]
    fn json_lines_are_told_by_their_brace() {
        let all = stream(b"{\"host\": \"a\"}\n\n{\"host\": \"b\"}\n");
        assert_eq!(all.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), ["s, line 1", "s, line 3"]);
        let long = format!("{{\"a\": \"{}\"}}\n{{}}\n", "x".repeat(9000));
        let all = stream(long.as_bytes());
        assert!(all[0].1.starts_with("! found more than") && all[1].1 == "{}\n", "{all:?}");
    }

    fn archive(entries: &[(&str, &[u8])]) -> Vec<u8> {
        let mut builder = tar::Builder::new(Vec::new());
        for (name, content) in entries {
            let mut header = tar::Header::new_gnu();
            header.set_size(content.len() as u64);
            header.set_mode(0o644);
            builder.append_data(&mut header, name, *content).unwrap();
        }
        builder.into_inner().unwrap()
    }

    #[test]
    fn archives_are_read_entry_by_entry() {
        let long = format!("rack/{}/b.txt", "d".repeat(140));
        let tar =
            archive(&[("rack/a.txt", b"A"), ("rack/.hidden", b"H"), (&long, b"B"), ("big", &[b'x'; 5000])]);
        let all = stream(&tar);
        let names: Vec<&str> = all.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["s/rack/a.txt", &format!("s/{long}"), "s/big"]);
        assert_eq!((all[0].1.as_str(), all[1].1.as_str()), ("A", "B"));
        assert!(all[2].1.starts_with("! found more than"));
        let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
        packed.write_all(&tar).unwrap();
        assert_eq!(stream(&packed.finish().unwrap()), all);
        // A cut archive gives what came before, and says so.
        let cut = stream(&tar[..tar.len() / 2]);
        assert!(cut[0].1 == "A" && cut.last().unwrap().1.contains("cannot be read"), "{cut:?}");
    }

    #[test]
    fn names_show_every_byte() {
        assert_eq!(shown_bytes(b"a\xFFb"), "a\\xFFb");
    }
}
