//! Writing a file so that it is there as a whole or not at all: beside its place first, then renamed.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use tempfile::NamedTempFile;

use super::CliError;

/// A file that takes its name when it is done. Dropped before that, it leaves nothing.
pub(super) struct OutputFile {
    path: PathBuf,
    file: Target,
}

/// Where it is written meanwhile.
enum Target {
    OutputFile(BufWriter<NamedTempFile>),
    /// What is no file, such as a pipe or a terminal, is written to as it is and never replaced.
    Direct(BufWriter<File>),
}

impl OutputFile {
    pub(super) fn create(path: &Path) -> Result<Self, CliError> {
        // A link stays, and what it leads to is written.
        let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        if path.exists() && !path.is_file() {
            let file = OpenOptions::new().write(true).open(&path).map_err(|reason| failed(&path, reason))?;
            return Ok(Self { path, file: Target::Direct(BufWriter::new(file)) });
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let made = create_in(folder, &path);
        let file = made.map_err(|reason| failed(&path, reason))?;
        Ok(Self { path, file: Target::OutputFile(BufWriter::with_capacity(256 << 10, file)) })
    }

    /// Where to write; errors are then the caller's to explain.
    pub(super) fn out(&mut self) -> &mut dyn Write {
        match &mut self.file {
            Target::OutputFile(file) => file,
            Target::Direct(file) => file,
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
            Target::Direct(mut file) => return file.flush().map_err(|reason| failed(&path, reason)),
            Target::OutputFile(file) => {
                file.into_inner().map_err(|error| failed(&path, error.into_error()))?
            }
        };
        file.persist(&path).map(drop).map_err(|error| failed(&path, error.error))
    }
}

fn failed(path: &Path, reason: io::Error) -> CliError {
    CliError::Write { path: path.display().to_string(), reason }
}

/// A file in `folder` with the rights of the one at `path`, or else with those of any new file: temporary files would
/// be their owner's alone.
fn create_in(folder: &Path, path: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".asfitted-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Less what the user masks.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let file = builder.tempfile_in(folder)?;
    if let Ok(there) = path.metadata() {
        file.as_file().set_permissions(there.permissions())?;
    }
    Ok(file)
}

/// A file for what must wait until the end of a run; nobody else sees it, and it is gone with the run.
pub(super) fn scratch() -> Result<File, CliError> {
    tempfile::tempfile().map_err(|reason| failed(&std::env::temp_dir(), reason))
}
