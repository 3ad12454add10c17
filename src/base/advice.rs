//! What to do where a file cannot be read.

use std::io::ErrorKind;

/// What to do about an error of reading, as the end of a message.
pub(crate) fn on_reading(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::NotFound => "Check the path",
        ErrorKind::PermissionDenied => "Ask for the right to read it",
        ErrorKind::IsADirectory => "Name one file",
        ErrorKind::UnexpectedEof | ErrorKind::InvalidData => "Copy the file again",
        _ => "Check the file and its disk",
    }
}
