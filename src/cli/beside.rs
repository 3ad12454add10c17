//! Writing a file so that it is there as a whole or not at all: beside its place first, then renamed.

use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use tempfile::NamedTempFile;

use super::CliError;

/// A file that takes its name when it is done. Dropped before that, it leaves nothing.
pub(super) struct Beside {
    path: PathBuf,
    file: BufWriter<NamedTempFile>,
}

impl Beside {
    pub(super) fn create(path: &Path) -> Result<Self, CliError> {
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let made = tempfile::Builder::new().prefix(".asfitted-").suffix(".part").tempfile_in(folder);
        let file = made.map_err(|reason| failed(path, reason))?;
        Ok(Self { path: path.to_owned(), file: BufWriter::with_capacity(256 << 10, file) })
    }

    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), CliError> {
        self.file.write_all(bytes).map_err(|reason| failed(&self.path, reason))
    }

    /// Writes one line of JSON, without making it up in memory.
    pub(super) fn write_json(&mut self, value: &impl Serialize) -> Result<(), CliError> {
        let written = serde_json::to_writer(&mut self.file, value).map_err(io::Error::from);
        written.and_then(|()| self.file.write_all(b"\n")).map_err(|reason| failed(&self.path, reason))
    }

    /// Gives the file its name.
    pub(super) fn finish(self) -> Result<(), CliError> {
        let Self { path, file } = self;
        let file = file.into_inner().map_err(|error| failed(&path, error.into_error()))?;
        open_to_others(&file).map_err(|reason| failed(&path, reason))?;
        file.persist(&path).map(drop).map_err(|error| failed(&path, error.error))
    }
}

fn failed(path: &Path, reason: io::Error) -> CliError {
    CliError::Write { path: path.display().to_string(), reason }
}

/// Temporary files are their owner's alone; a result has the usual rights, less what the user masks.
#[cfg(unix)]
fn open_to_others(file: &NamedTempFile) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let mask = std::fs::read_to_string("/proc/self/status").ok().and_then(|status| {
        let line = status.lines().find_map(|line| line.strip_prefix("Umask:"))?;
        u32::from_str_radix(line.trim(), 8).ok()
    });
    let rights = 0o666 & !mask.unwrap_or(0o022);
    file.as_file().set_permissions(std::fs::Permissions::from_mode(rights))
}

#[cfg(not(unix))]
fn open_to_others(_: &NamedTempFile) -> io::Result<()> {
    Ok(())
}
