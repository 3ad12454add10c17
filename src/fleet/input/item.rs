//! One input with its name.

use std::path::{Path, PathBuf};

use crate::fleet::error::HostError;

/// How much is taken.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
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
#[non_exhaustive]
pub enum Content {
    /// A file that is still to be read.
    File(PathBuf),
    /// Bytes of an archive or a stream.
    Bytes(Vec<u8>),
    /// One line of JSON: `{"host": …, "listing": …}`.
    JsonLine(Vec<u8>),
    /// It cannot be read.
    Failed(HostError),
}

/// One input with its name.
#[derive(Debug)]
pub struct Item {
    /// The path, with `ARCHIVE/ENTRY` for an entry of an archive.
    pub name: String,
    /// Its content.
    pub content: Content,
}

impl Item {
    /// What cannot be read.
    pub(super) fn failed(name: impl Into<String>, error: impl Into<HostError>) -> Self {
        Self { name: name.into(), content: Content::Failed(error.into()) }
    }
}

/// A path as text; bytes that are not UTF-8 are shown as `\xNN`, so that two names never look the same.
pub(super) fn shown(path: &Path) -> String {
    shown_bytes(path.as_os_str().as_encoded_bytes())
}

pub(super) fn shown_bytes(bytes: &[u8]) -> String {
    let mut out = String::new();
    for chunk in bytes.utf8_chunks() {
        out.push_str(chunk.valid());
        for byte in chunk.invalid() {
            out.push_str(&format!("\\x{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_show_every_byte() {
        assert_eq!(shown_bytes(b"a\xFFb"), "a\\xFFb");
    }
}
