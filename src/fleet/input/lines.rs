//! JSON Lines: one host a line.

use std::io::{self, BufRead, Read};

use super::item::{Content, Item};
use crate::fleet::error::HostError;

/// The lines of an input.
pub(super) struct Lines {
    reader: Box<dyn BufRead + Send>,
    line: u64,
    ended: bool,
}

impl Lines {
    pub(super) fn new(reader: Box<dyn BufRead + Send>) -> Self {
        Self { reader, line: 0, ended: false }
    }

    /// The next line with something in it, called by the input's name and its number.
    pub(super) fn next(&mut self, name: &str, limit: u64) -> Option<Item> {
        while !self.ended {
            self.line += 1;
            let content = match next_line(self.reader.as_mut(), limit) {
                Ok(None) => break,
                Ok(Some(bytes)) if bytes.iter().all(u8::is_ascii_whitespace) => continue,
                Ok(Some(bytes)) if bytes.len() as u64 > limit => {
                    Content::Failed(HostError::TooLarge { limit })
                }
                Ok(Some(bytes)) => Content::JsonLine(bytes),
                Err(error) => {
                    self.ended = true;
                    Content::Failed(error.into())
                }
            };
            return Some(Item { name: format!("{name}, line {}", self.line), content });
        }
        None
    }
}

/// The next line without its ending; what goes beyond `limit` is skipped, and one byte more than the limit is
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
