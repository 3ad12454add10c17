//! Writing a file so that it is there as a whole or not at all: next to its place first, then renamed.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Stdout, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::CliError;
use crate::report::fleet::Scratch;

/// A file that takes its name when it is done. Dropped before that, it leaves nothing.
pub(super) struct OutputFile {
    path: PathBuf,
    file: Target,
}

/// Where it is written meanwhile.
enum Target {
    /// A file next to the place.
    Renamed(BufWriter<NamedTempFile>),
    /// What is not a file, such as a pipe or a terminal, is written to as it is and never replaced.
    Direct(BufWriter<File>),
}

impl OutputFile {
    pub(super) fn create(path: &Path) -> Result<Self, CliError> {
        // A link stays, and what it leads to is written.
        let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        if path.exists() && !path.is_file() {
            #[expect(clippy::disallowed_methods, reason = "this is the place")]
            let file = OpenOptions::new().write(true).open(&path);
            let file = file.map_err(|reason| explained(failed(&path, reason)))?;
            return Ok(Self { path, file: Target::Direct(BufWriter::new(file)) });
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let made = create_in(folder, &path);
        let file = made.map_err(|reason| explained(failed(&path, reason)))?;
        Ok(Self { path, file: Target::Renamed(BufWriter::with_capacity(256 << 10, file)) })
    }

    fn out(&mut self) -> &mut dyn Write {
        match &mut self.file {
            Target::Renamed(file) => file,
            Target::Direct(file) => file,
        }
    }

    /// Gives the file its name.
    pub(super) fn finish(self) -> Result<(), CliError> {
        let Self { path, file } = self;
        let done = match file {
            Target::Direct(mut file) => file.flush(),
            Target::Renamed(file) => match file.into_inner() {
                Ok(file) => file.persist(&path).map(drop).map_err(|error| error.error),
                Err(error) => Err(error.into_error()),
            },
        };
        done.map_err(|reason| explained(failed(&path, reason)))
    }
}

impl Write for OutputFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.out().write(bytes).map_err(|reason| failed(&self.path, reason))
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.out().write_all(bytes).map_err(|reason| failed(&self.path, reason))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out().flush().map_err(|reason| failed(&self.path, reason))
    }
}

/// A file that must not be there yet.
#[expect(clippy::disallowed_methods, reason = "this is the place")]
pub(super) fn create_new(path: &Path) -> io::Result<File> {
    File::create_new(path)
}

/// An error that names the file which cannot be written, so that it can pass through what knows of no files.
pub(super) fn failed(path: &Path, reason: io::Error) -> io::Error {
    io::Error::new(reason.kind(), CliError::Write { path: path.display().to_string(), reason })
}

/// The error for people: that of [`failed`], if it is one.
pub(super) fn explained(error: io::Error) -> CliError {
    error.downcast().unwrap_or_else(CliError::Output)
}

/// Standard output. A reader that has seen enough closes the pipe; that is no error of ours, and nobody wants the rest.
#[derive(Debug)]
pub(super) struct StandardOutput {
    out: Stdout,
    closed: bool,
}

impl StandardOutput {
    pub(super) fn new(out: Stdout) -> Self {
        Self { out, closed: false }
    }

    /// What `write` says, or `done` where nobody reads any more.
    fn unless_closed<T>(
        &mut self,
        done: T,
        write: impl FnOnce(&mut Stdout) -> io::Result<T>,
    ) -> io::Result<T> {
        if self.closed {
            return Ok(done);
        }
        match write(&mut self.out) {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.closed = true;
                Ok(done)
            }
            written => written,
        }
    }
}

impl Write for StandardOutput {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.unless_closed(bytes.len(), |out| out.write(bytes))
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.unless_closed((), |out| out.write_all(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.unless_closed((), Write::flush)
    }
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
pub(super) fn scratch() -> io::Result<Box<dyn Scratch>> {
    match tempfile::tempfile() {
        Ok(file) => Ok(Box::new(file)),
        Err(reason) => Err(failed(&std::env::temp_dir(), reason)),
    }
}
