//! Streams of listings.

use std::io::{self, BufRead};

use memchr::memmem;

use super::item::{Content, Item};
use crate::fleet::error::HostError;

/// Listings one after the other; each header of dmidecode starts one.
pub(super) struct Splitter {
    reader: Box<dyn BufRead + Send>,
    buffer: Vec<u8>,
    /// Where the listing that comes next starts in `buffer`.
    start: usize,
    limit: u64,
    count: u64,
    ended: bool,
}

/// How dmidecode's header starts a line.
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
    pub(super) fn new(reader: Box<dyn BufRead + Send>, limit: u64) -> Self {
        Self { reader, buffer: Vec::new(), start: 0, limit, count: 0, ended: false }
    }

    pub(super) fn next(&mut self, name: &str) -> Option<Item> {
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
                    return (!std::mem::replace(&mut self.ended, true)).then(|| Item::failed(name, error));
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

    /// Skips what is not a listing, up to the next header.
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
        Item::failed(name, HostError::TooLarge { limit: self.limit })
    }

    fn name(&self, name: &str, last: bool) -> String {
        if self.count == 1 && last { name.to_owned() } else { format!("{name}#{}", self.count) }
    }

    fn item(&mut self, name: &str, bytes: Vec<u8>, last: bool) -> Item {
        self.count += 1;
        Item { name: self.name(name, last), content: Content::Bytes(bytes) }
    }
}
