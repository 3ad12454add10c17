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
    // One call takes it all; a file that says nothing of its size is read to its end.
    let room = if size > 0 { size } else { limit + 1 };
    bytes.resize(usize::try_from(room).unwrap_or(usize::MAX), 0);
    let mut filled = 0;
    while filled < bytes.len() {
        match file.read(&mut bytes[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error.into()),
        }
    }
    bytes.truncate(filled);
    if bytes.len() as u64 > limit {
        return Err(HostError::TooLarge { limit });
    }
    Ok(bytes)
}
