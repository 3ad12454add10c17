//! Everything below some paths, one input after the other.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufRead, Read};
use std::path::{Path, PathBuf};

use super::archive::Entries;
use super::item::{Content, Item, Limits, shown};
use super::lines::Lines;
use super::stream::Splitter;
use super::unpack::unpack;
use crate::fleet::error::HostError;

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
    Lines { name: String, lines: Lines },
    Stream { name: String, splitter: Splitter },
}

impl Inputs {
    /// The inputs below `paths`; `-` is standard input. Files and folders in `left_out` are skipped.
    pub fn new(paths: Vec<PathBuf>, left_out: &[PathBuf], limits: Limits) -> Self {
        let left_out = left_out.iter().filter_map(|path| path.canonicalize().ok()).collect();
        Self { paths: paths.into(), left_out, limits, source: None }
    }

    /// Whether a path is one of those left out. Only one that has the name of one is followed to its end, which
    /// is costly.
    fn is_left_out(&self, path: &Path) -> bool {
        let same_name = self.left_out.iter().any(|own| own.file_name() == path.file_name());
        same_name && path.canonicalize().is_ok_and(|path| self.left_out.contains(&path))
    }

    /// Whether an entry of a folder is hidden or left out.
    fn is_skipped(&self, entry: &walkdir::DirEntry) -> bool {
        let hidden = entry.depth() > 0 && entry.file_name().as_encoded_bytes().starts_with(b".");
        hidden || self.is_left_out(entry.path())
    }

    fn open(&mut self, path: &Path) -> Option<Item> {
        let name = shown(path);
        if path.as_os_str() == "-" {
            return self.open_stream("standard input".to_owned(), Box::new(io::stdin()), None);
        }
        match std::fs::metadata(path) {
            Err(error) => Some(Item::failed(name, error)),
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
                Some(Item::failed(name, HostError::NotAFile { advice: "Name files or folders" }))
            }
            // A file that a folder could hold is read as it would be there; what is larger is a stream.
            Ok(meta) => match File::open(path) {
                Ok(file) => {
                    // What a pipe gives can be read only once.
                    let small = meta.is_file() && meta.len() <= self.limits.listing;
                    self.open_stream(name, Box::new(file), small.then(|| path.to_owned()))
                }
                Err(error) => Some(Item::failed(name, error)),
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
            Err(error) => Some(Item::failed(name, error)),
            Ok(mut reader) => {
                let kind = match reader.fill_buf() {
                    Ok(start) => kind_of(start),
                    Err(error) => return Some(Item::failed(name, error)),
                };
                if let (Kind::Listings, Some(path)) = (&kind, small) {
                    return Some(Item { name, content: Content::File(path) });
                }
                self.source = Some(match kind {
                    Kind::Archive => Source::Archive { name, entries: Box::new(Entries::new(reader)) },
                    Kind::JsonLines => Source::Lines { name, lines: Lines::new(reader) },
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
                let reason = match (error.loop_ancestor(), error.io_error()) {
                    (Some(above), _) => HostError::LinkLoop { above: shown(above) },
                    (None, Some(error)) => HostError::Read { kind: error.kind(), reason: error.to_string() },
                    (None, None) => HostError::Folder(error.to_string()),
                };
                return Some(Item::failed(name, reason));
            }
        };
        let path = entry.path();
        if entry.file_type().is_dir() || self.is_skipped(&entry) {
            return None;
        }
        let name = shown(path);
        if !entry.file_type().is_file() {
            return Some(Item::failed(name, HostError::NotAFile { advice: "Remove it" }));
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
                        if inner && entry.as_ref().is_ok_and(|e| self.is_skipped(e)) {
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
                Some(Source::Lines { name, lines }) => match lines.next(name, limit) {
                    Some(item) => return Some(item),
                    None => self.source = None,
                },
                Some(Source::Stream { name, splitter }) => match splitter.next(name) {
                    Some(item) => return Some(item),
                    None => self.source = None,
                },
            }
        }
    }
}

/// Whether what is not a file can be read as one: a pipe, such as a shell's `<(…)`.
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

enum Kind {
    Archive,
    JsonLines,
    Listings,
}

/// What the first bytes say; `ustar` is at 257 (POSIX.1-1988 tar header).
fn kind_of(start: &[u8]) -> Kind {
    if start.get(257..262) == Some(b"ustar") {
        Kind::Archive
    } else if start.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(start).trim_ascii_start().starts_with(b"{") {
        Kind::JsonLines
    } else {
        Kind::Listings
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
                Content::Failed(error) => format!("! {error}"),
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
    fn what_is_not_a_listing_is_skipped() {
        let mut bytes = b"# dmidecode 3.3\n".to_vec();
        bytes.extend(std::iter::repeat_n(b'x', 600_000));
        bytes.extend(b"\n# dmidecode 3.3\nB\n");
        let all = stream(&bytes);
        assert!(all[0].1.starts_with("! found more than"), "{all:?}");
        assert_eq!(all[1], ("s#2".to_owned(), "# dmidecode 3.3\nB\n".to_owned()));
    }

    #[test]
    fn json_lines_are_known_by_their_brace() {
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
}
