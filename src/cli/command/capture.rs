//! `capture`: the files of the running system, or of one that is mounted.

use std::path::Path;

use crate::cli::arguments::Common;
use crate::cli::input::Reader;
use crate::cli::{CliError, Outcome, output, system};
use crate::report::Report;
use crate::sources::Sources;

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
    let (taken, request) = system::take(root, redact, events);
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
