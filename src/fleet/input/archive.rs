//! Tar archives.

use std::io::{self, BufRead, Read};

use super::item::{Content, Item, shown_bytes};
use crate::fleet::error::HostError;

/// Size of the blocks that an archive is made of.
const BLOCK: u64 = 512;

/// Entries of a tar archive. They are only read, never unpacked to the disk.
pub(super) struct Entries {
    reader: Box<dyn BufRead + Send>,
    /// A long name from the entry before.
    long_name: Option<Vec<u8>>,
    end_seen: bool,
    done: bool,
}

impl Entries {
    pub(super) fn new(reader: Box<dyn BufRead + Send>) -> Self {
        Self { reader, long_name: None, end_seen: false, done: false }
    }

    /// The next file of the archive. The headers are read by the `tar` crate; the archive itself is walked
    /// here, since its own iterator cannot be kept with its reader.
    pub(super) fn next(&mut self, archive: &str, limit: u64) -> Option<Item> {
        while !self.done {
            match self.step(archive, limit) {
                Ok(Some(item)) => return Some(item),
                Ok(None) => {}
                Err(error) => {
                    self.done = true;
                    return Some(Item::failed(archive, error));
                }
            }
        }
        None
    }

    /// One entry. `None` for one that is not a listing, and at the end.
    fn step(&mut self, archive: &str, limit: u64) -> io::Result<Option<Item>> {
        let Some(header) = self.header()? else {
            return Ok((!self.end_seen).then(|| Item::failed(archive, HostError::CutArchive)));
        };
        let size = header.entry_size()?;
        let kind = header.entry_type();
        let named = kind.is_gnu_longname() || kind.is_pax_local_extensions();
        if kind.is_hard_link() || kind.is_symlink() || kind.is_gnu_sparse() {
            self.skip(size)?;
            let name = self.long_name.take().unwrap_or_else(|| header.path_bytes().into_owned());
            let name = format!("{archive}/{}", shown_bytes(&name));
            return Ok(Some(Item::failed(name, HostError::NotInArchive)));
        }
        if !named && !kind.is_file() {
            self.skip(size)?;
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
            return Ok((!named).then(|| Item::failed(shown, HostError::TooLarge { limit })));
        }
        let bytes = self.content(size)?;
        if named {
            self.long_name = long_name(kind, &bytes);
            return Ok(None);
        }
        let file = name.rsplit(|byte| *byte == b'/').next().unwrap_or_default();
        let hidden = file.starts_with(b".");
        Ok((!hidden).then_some(Item { name: shown, content: Content::Bytes(bytes) }))
    }

    /// The next header. `None` for the mark of the end, and at the end.
    fn header(&mut self) -> io::Result<Option<tar::Header>> {
        let mut header = tar::Header::new_old();
        let block = header.as_mut_bytes();
        let mut filled = 0;
        while filled < block.len() {
            match self.reader.read(&mut block[filled..])? {
                0 if filled == 0 => {
                    self.done = true;
                    return Ok(None);
                }
                0 => return Err(io::ErrorKind::UnexpectedEof.into()),
                read => filled += read,
            }
        }
        // Blocks of zeros mark the end; archives that were put one behind the other go on behind it.
        self.end_seen = header.as_bytes().iter().all(|byte| *byte == 0);
        if self.end_seen {
            return Ok(None);
        }
        let sum = |range: std::ops::Range<usize>| -> u32 {
            header.as_bytes()[range].iter().map(|byte| u32::from(*byte)).sum()
        };
        // The checksum counts its own eight bytes as spaces (POSIX.1-1988 tar header).
        if header.cksum()? != sum(0..148) + sum(156..512) + 8 * u32::from(b' ') {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "a header's checksum is wrong"));
        }
        Ok(Some(header))
    }

    /// The content of an entry.
    fn content(&mut self, size: u64) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::with_capacity(usize::try_from(size).unwrap_or(0));
        self.reader.as_mut().take(size).read_to_end(&mut bytes)?;
        if (bytes.len() as u64) < size {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        self.pad(size)?;
        Ok(bytes)
    }

    /// Skips the content of an entry.
    fn skip(&mut self, size: u64) -> io::Result<()> {
        let skipped = io::copy(&mut self.reader.as_mut().take(size), &mut io::sink())?;
        if skipped < size {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        self.pad(size)
    }

    /// Skips what fills the last block of an entry. Where the archive ends before it, the entry is whole nevertheless.
    fn pad(&mut self, size: u64) -> io::Result<()> {
        let padding = (BLOCK - size % BLOCK) % BLOCK;
        io::copy(&mut self.reader.as_mut().take(padding), &mut io::sink()).map(drop)
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
