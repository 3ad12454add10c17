//! `capture`: the files of the running system, or of one that is mounted.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::capture::{self, Files, Request};
use crate::cli::arguments::Common;
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output};
use crate::report::Report;
use crate::sources::Sources;

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

/// The text of an event log; anything else would be carried along and never be read.
fn event_log(path: &Path, reader: &Reader<'_>) -> Result<String, CliError> {
    let text = reader.text(path)?;
    let mut sources = Sources::default();
    sources.add(&text)?;
    match sources.events {
        Some(_) => Ok(text.as_str().to_owned()),
        None => Err(CliError::NoEvents { path: text.name().to_owned() }),
    }
}

pub(super) fn run(
    root: &Path,
    redact: bool,
    events: Option<&Path>,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let events = events.map(|path| event_log(path, reader)).transpose()?;
    let request =
        Request { redact, taken: jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string(), events };
    let taken = capture::take(&Root(root.to_owned()), &request);
    for line in &taken.not_read {
        output::warn(&format!("not captured: {line}"));
    }
    output::report(common, &Report::Capture(&taken, &request))?;
    if !taken.has_table {
        output::warn(
            "the capture holds no SMBIOS table, so it cannot be audited; take it as root on the server itself",
        );
    }
    // A capture with something missing proves less than it could.
    Ok(if taken.not_read.is_empty() { Outcome::AsPlanned } else { Outcome::Unproven })
}
