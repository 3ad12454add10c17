//! Writing results, and complaints.

use std::io::{self, Write, stderr, stdout};
use std::path::Path;

use anstream::AutoStream;

use super::CliError;
use super::arguments::Common;
use super::output_file::{OutputFile, create_new, explained};
use crate::report::{Extent, Layout, Output, Report, sanitize};

/// Writes a result in the format that was asked for.
pub(super) fn report(common: &Common, report: &Report<'_>) -> Result<(), CliError> {
    screen(common, report, Extent::default())
}

/// The same where text can say less or more.
///
/// The result is made up in memory first, so that a failure leaves no half of it behind.
pub(super) fn screen(common: &Common, report: &Report<'_>, extent: Extent) -> Result<(), CliError> {
    let mut layout = Layout { extent, ..Layout::default() };
    // Files and pipes do not depend on who looks on.
    if common.output.is_none()
        && let Some((terminal_size::Width(width), _)) = terminal_size::terminal_size_of(stdout())
    {
        layout.width = width.into();
    }
    match common.format.lay_out(report, layout)? {
        Output::Styled(made) => styled(common, &made),
        Output::Plain(made) => plain(common, &made),
    }
}

/// Writes text for a person. The fleet, whose formats are its own, knows it by this name.
pub(super) fn result<T>(
    common: &Common,
    _: impl FnOnce() -> T,
    text: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), CliError> {
    let mut made = Vec::new();
    text(&mut made)?;
    styled(common, &made)
}

/// Writes text with styles, which reach terminals only, and those only without `NO_COLOR`.
fn styled(common: &Common, made: &[u8]) -> Result<(), CliError> {
    if common.output.is_some() {
        return plain(common, &unstyled(made));
    }
    ended(AutoStream::auto(stdout().lock()).write_all(made))
}

fn unstyled(made: &[u8]) -> Vec<u8> {
    anstream::adapter::strip_bytes(made).into_vec()
}

/// Writes text to a file without its styles.
pub(super) fn unstyled_file(path: &Path, made: &[u8]) -> Result<(), CliError> {
    file(path, &unstyled(made))
}

/// Writes bytes as they are.
pub(super) fn plain(common: &Common, made: &[u8]) -> Result<(), CliError> {
    match &common.output {
        Some(path) => file(path, made),
        None => ended(stdout().lock().write_all(made)),
    }
}

/// A reader that has seen enough closes the pipe; that is no error of ours.
pub(super) fn ended(written: io::Result<()>) -> Result<(), CliError> {
    match written.and_then(|()| stdout().flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        done => Ok(done?),
    }
}

/// Writes a file, as a whole or not at all.
pub(super) fn file(path: &Path, made: &[u8]) -> Result<(), CliError> {
    let mut file = OutputFile::create(path)?;
    file.write_all(made).map_err(explained)?;
    file.finish()
}

/// Writes a file that must not be there yet.
pub(super) fn new_file(path: &Path, made: &[u8]) -> Result<(), CliError> {
    let shown = || path.display().to_string();
    let written = create_new(path).and_then(|mut file| file.write_all(made));
    written.map_err(|reason| match reason.kind() {
        io::ErrorKind::AlreadyExists => CliError::Exists { path: shown() },
        _ => CliError::Write { path: shown(), reason },
    })
}

/// Says on standard error what went wrong, or what to mind.
pub(super) fn warn(message: &str) {
    // Nobody is left to tell if standard error is closed.
    let _ = writeln!(stderr().lock(), "asfitted: {}", sanitize(message));
}
