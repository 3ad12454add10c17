//! Writing a file so that it is there as a whole or not at all: beside its place first, then renamed.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use tempfile::NamedTempFile;

use super::CliError;

/// A file that takes its name when it is done. Dropped before that, it leaves nothing.
pub(super) struct Beside {
    path: PathBuf,
    file: Place,
}

/// Where it is written meanwhile.
enum Place {
    Beside(BufWriter<NamedTempFile>),
    /// What is no file, such as a pipe or a terminal, is written to as it is and never replaced.
    Direct(BufWriter<File>),
}

impl Beside {
    pub(super) fn create(path: &Path) -> Result<Self, CliError> {
        // A link stays, and what it leads to is written.
        let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        if path.exists() && !path.is_file() {
            let file = OpenOptions::new().write(true).open(&path).map_err(|reason| failed(&path, reason))?;
            return Ok(Self { path, file: Place::Direct(BufWriter::new(file)) });
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let made = tempfile::Builder::new().prefix(".asfitted-").suffix(".part").tempfile_in(folder);
        let file = made.map_err(|reason| failed(&path, reason))?;
        Ok(Self { path, file: Place::Beside(BufWriter::with_capacity(256 << 10, file)) })
    }

    /// Where to write; errors are then the caller's to explain.
    pub(super) fn out(&mut self) -> &mut dyn Write {
        match &mut self.file {
            Place::Beside(file) => file,
            Place::Direct(file) => file,
        }
    }

    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), CliError> {
        self.out().write_all(bytes).map_err(|reason| failed(&self.path, reason))
    }

    /// Writes one line of JSON, without making it up in memory.
    pub(super) fn write_json(&mut self, value: &impl Serialize) -> Result<(), CliError> {
        let written = serde_json::to_writer(self.out(), value).map_err(io::Error::from);
        written.and_then(|()| self.out().write_all(b"\n")).map_err(|reason| failed(&self.path, reason))
    }

    /// Gives the file its name.
    pub(super) fn finish(self) -> Result<(), CliError> {
        let Self { path, file } = self;
        let file = match file {
            Place::Direct(mut file) => return file.flush().map_err(|reason| failed(&path, reason)),
            Place::Beside(file) => file.into_inner().map_err(|error| failed(&path, error.into_error()))?,
        };
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
