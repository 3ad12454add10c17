//! The running system, or one that is mounted: its files, and the capture of it.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::capture::{self, Files, Request, Taken};

/// More than any of the files holds.
const LIMIT: u64 = 16 << 20;

/// A system's files under its root.
struct Root(PathBuf);

impl Files for Root {
    fn read(&self, path: &str) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        File::open(self.0.join(path))?.take(LIMIT).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn list(&self, path: &str) -> io::Result<Vec<String>> {
        let entries = std::fs::read_dir(self.0.join(path))?;
        Ok(entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok()).collect())
    }
}

/// Takes a capture of the system under `root`, now.
pub(super) fn take(root: &Path, redact: bool, events: Option<String>) -> (Taken, Request) {
    let taken = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
    let request = Request { redact, taken, events };
    (capture::take(&Root(root.to_owned()), &request), request)
}

/// The error counters in a folder, as a capture would hold them.
pub(super) fn counters(folder: &Path) -> io::Result<String> {
    // The name of `.` is that of the folder itself.
    let real = folder.canonicalize()?;
    let name = real.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    capture::in_folder(&Root(folder.to_owned()), &name)
}
