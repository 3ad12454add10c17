//! Reading files and standard input.

use std::fs::File;
use std::io::{Read, stdin};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use super::CliError;
use crate::board::{self, Board};
use crate::evidence::Text;
use crate::plan::{self, Plan};
use crate::records::{self, Listing};
use crate::sources::Sources;
use crate::yaml::did_you_mean;

/// More than any listing, plan or stock; what is larger is refused.
const READ_LIMIT: u64 = 300 << 20;

/// Whether the path means standard input.
pub(super) fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn name(path: &Path) -> String {
    if is_standard_input(path) { "standard input".to_owned() } else { path.display().to_string() }
}

/// The file that the result goes to. Every input passes through [`bytes`], so that one place can keep the
/// result from taking the place of what it was made of.
static OUTPUT: OnceLock<PathBuf> = OnceLock::new();

/// From now on, no input may be the file that the result goes to.
pub(super) fn keep_off(output: Option<&Path>) {
    if let Some(output) = output {
        OUTPUT.get_or_init(|| output.to_path_buf());
    }
}

/// Whether both paths lead to one file, by whatever links.
pub(super) fn is_same_file(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let a = if is_standard_input(a) { Path::new("/dev/stdin") } else { a };
        if let (Ok(a), Ok(b)) = (a.metadata(), b.metadata()) {
            // Terminals and pipes can be read and written at once.
            return a.is_file() && (a.dev(), a.ino()) == (b.dev(), b.ino());
        }
    }
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}

pub(super) fn bytes(path: &Path) -> Result<Vec<u8>, CliError> {
    if OUTPUT.get().is_some_and(|output| is_same_file(path, output)) {
        return Err(CliError::OutputIsInput { path: name(path) });
    }
    let mut bytes = Vec::new();
    let read = if is_standard_input(path) {
        stdin().lock().take(READ_LIMIT).read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|file| file.take(READ_LIMIT).read_to_end(&mut bytes))
    };
    let read = match read {
        // What was cut off would be missing without a word.
        Ok(size) if size as u64 == READ_LIMIT => {
            Err(std::io::Error::new(std::io::ErrorKind::FileTooLarge, "it is larger than 300 MiB"))
        }
        read => read,
    };
    match read {
        Ok(_) => Ok(bytes),
        Err(reason) => {
            let advice = match reason.kind() {
                std::io::ErrorKind::NotFound => "Check the path",
                std::io::ErrorKind::PermissionDenied => "Ask for the right to read it",
                std::io::ErrorKind::IsADirectory => "Name one file",
                _ => "Check the file and its disk",
            };
            Err(CliError::Read { path: name(path), reason, advice })
        }
    }
}

/// The text of a listing or plan.
pub(super) fn text(path: &Path) -> Result<Text, CliError> {
    let bytes = bytes(path)?;
    if is_utf16(&bytes) {
        return Err(CliError::Utf16 { path: name(path) });
    }
    Ok(Text::from_bytes(name(path), bytes)?)
}

/// Whether bytes are UTF-16 text: by their mark, or since every other one of the first is zero.
fn is_utf16(bytes: &[u8]) -> bool {
    const LOOKED_AT: usize = 32;
    let head = bytes.get(..bytes.len().min(LOOKED_AT) & !1).unwrap_or(&[]);
    let zeros = |at: usize| head.len() >= 8 && head.chunks(2).all(|pair| pair[at] == 0 && pair[1 - at] != 0);
    bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) || zeros(0) || zeros(1)
}

/// The one listing of `text`, or the one chosen by `nth`.
pub(super) fn listing(text: &Text, nth: Option<usize>) -> Result<Listing<'_>, CliError> {
    let path = || text.name().to_owned();
    let mut listings = records::read(text);
    let count = listings.len();
    let index = match nth {
        Some(wanted) if wanted == 0 || wanted > count => {
            let found = if count == 1 { "1 listing".to_owned() } else { format!("{count} listings") };
            let advice = if count == 1 { "Leave `--nth` out" } else { "Count them from 1" };
            return Err(CliError::NoSuchListing { path: path(), found, wanted, advice });
        }
        Some(wanted) => wanted - 1,
        None if count > 1 => {
            let second = listings.get(1).and_then(Listing::start);
            let place = second.map_or_else(String::new, |place| format!("line {}: ", place.line));
            return Err(CliError::SeveralListings { path: path(), place, count });
        }
        None => 0,
    };
    let listing = listings.swap_remove(index);
    if let (true, Some(capture)) = (listing.is_empty(), &text.capture) {
        let reason = capture.not_read.first().cloned().unwrap_or_else(|| "nothing is said why".to_owned());
        return Err(CliError::CaptureWithoutTable { path: path(), reason });
    }
    if listing.is_empty() {
        return Err(CliError::NoRecords { path: path(), lines: text.as_str().lines().count() });
    }
    Ok(listing)
}

/// A suggestion to put between two sentences.
fn hint(suggestion: &str) -> String {
    if suggestion.is_empty() { String::new() } else { format!("{suggestion} ") }
}

/// The board of that name: a class of the library, a file, or a file beside `near`.
pub(super) fn board(name: &str, near: Option<&Path>) -> Result<Board, CliError> {
    if let Some(class) = board::class(name) {
        return Ok(class);
    }
    let beside = near.and_then(Path::parent).map(|folder| folder.join(name)).filter(|path| path.is_file());
    let path = if Path::new(name).is_file() {
        Path::new(name).to_path_buf()
    } else {
        beside.unwrap_or_else(|| name.into())
    };
    if !path.is_file() {
        let classes = board::CLASSES.iter().map(|class| class.name);
        return Err(CliError::NoSuchBoard {
            name: name.to_owned(),
            hint: hint(&did_you_mean(name, classes)),
        });
    }
    let text = text(&path)?;
    Ok(board::read(text.name(), text.as_str())?)
}

/// A plan.
pub(super) fn plan(path: &Path) -> Result<Plan, CliError> {
    let text = text(path)?;
    Ok(plan::read(text.name(), text.as_str())?)
}

/// What others say, in the listing's own capture and in `files`; what is in a file wins over the capture.
pub(super) fn sources(listing: &Text, files: &[PathBuf]) -> Result<Sources, CliError> {
    let mut sources = Sources::default();
    for path in files {
        sources.add(&text(path)?)?;
    }
    sources.join(Sources::of_capture(listing));
    Ok(sources)
}
