//! One file, read as a whole.

use std::io::{ErrorKind, Read};
use std::path::Path;

use crate::fleet::error::HostError;

/// The content of a file, in the room of `bytes`.
pub(in crate::fleet) fn read_file(path: &Path, limit: u64, mut bytes: Vec<u8>) -> Result<Vec<u8>, HostError> {
    let mut file = std::fs::File::open(path)?;
    let size = file.metadata().map_or(0, |meta| meta.len());
    if size > limit {
        return Err(HostError::TooLarge { limit });
    }
    // A file that says nothing of its size is read to its end.
    if size == 0 {
        bytes.clear();
        file.take(limit + 1).read_to_end(&mut bytes)?;
    } else {
        fill(&mut file, size, &mut bytes)?;
    }
    if bytes.len() as u64 > limit {
        return Err(HostError::TooLarge { limit });
    }
    Ok(bytes)
}

/// Reads `size` bytes, or what there is of them: mostly in one call, which takes them all.
fn fill(file: &mut impl Read, size: u64, bytes: &mut Vec<u8>) -> std::io::Result<()> {
    bytes.resize(usize::try_from(size).unwrap_or(usize::MAX), 0);
    let mut filled = 0;
    while filled < bytes.len() {
        match file.read(&mut bytes[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    bytes.truncate(filled);
    Ok(())
}
