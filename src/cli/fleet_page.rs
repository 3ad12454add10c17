//! The page of a fleet: one file, or a folder with a page for each host.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Seek, Write, stdout};
use std::path::{Path, PathBuf};

use super::output_file::{OutputFile, scratch};
use super::{CliError, output};
use crate::report::{FleetPage, FleetReport, HostPage};

/// The folder of the hosts' pages, as seen from the overview.
const HOSTS: &str = "hosts";

/// The page while hosts come in. Their rows wait beside until all is known that stands above them.
pub(super) struct PageWriter {
    page: FleetPage,
    rows: BufWriter<File>,
    count: usize,
    place: Destination,
}

enum Destination {
    StandardOutput,
    File(OutputFile),
    Folder(Folder),
}

/// A folder that was empty or is new. Dropped before its overview is written, it is left as it was.
struct Folder {
    path: PathBuf,
    is_new: bool,
    done: bool,
}

impl Folder {
    fn open(path: &Path) -> Result<Self, CliError> {
        let failed = |reason| CliError::Write { path: path.display().to_string(), reason };
        let is_new = !path.exists();
        std::fs::create_dir_all(path).map_err(failed)?;
        // Pages of an earlier run would stand beside the new ones without a word.
        if std::fs::read_dir(path).map_err(failed)?.next().is_some() {
            return Err(CliError::FolderInUse { path: path.display().to_string() });
        }
        let folder = Self { path: path.to_owned(), is_new, done: false };
        std::fs::create_dir(folder.hosts()).map_err(failed)?;
        Ok(folder)
    }

    fn hosts(&self) -> PathBuf {
        self.path.join(HOSTS)
    }

    /// Writes the page of one host. The folder as a whole is there or not, so that each page need not be.
    fn host(&self, number: usize, page: &str) -> Result<(), CliError> {
        let path = self.hosts().join(format!("{number:06}.html"));
        std::fs::write(&path, page)
            .map_err(|reason| CliError::Write { path: path.display().to_string(), reason })
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if !self.done {
            // The run has failed already and says why; what cannot be removed either is seen in the folder.
            let _ = std::fs::remove_dir_all(self.hosts());
            if self.is_new {
                let _ = std::fs::remove_dir(&self.path);
            }
        }
    }
}

/// Whether a result goes to a folder: one that is there, or a new name that does not end as a page's does.
fn is_folder(path: &Path) -> bool {
    let page =
        path.extension().is_some_and(|end| ["html", "htm"].iter().any(|own| end.eq_ignore_ascii_case(own)));
    path.is_dir() || (!page && !path.exists())
}

impl PageWriter {
    pub(super) fn open(place: Option<&Path>) -> Result<Self, CliError> {
        let place = match place {
            None => Destination::StandardOutput,
            Some(path) if is_folder(path) => Destination::Folder(Folder::open(path)?),
            Some(path) => Destination::File(OutputFile::create(path)?),
        };
        Ok(Self { page: FleetPage::default(), rows: BufWriter::new(scratch()?), count: 0, place })
    }

    /// Whether each host gets a page of its own.
    pub(super) fn own_pages(&self) -> bool {
        matches!(self.place, Destination::Folder(_))
    }

    /// Takes note of the board of a host, whether it gets a row or not.
    pub(super) fn see(&mut self, host: &HostPage) {
        self.page.see(host);
    }

    pub(super) fn host(&mut self, host: &HostPage) -> Result<(), CliError> {
        if self.count > 0 {
            self.rows.write_all(b",\n")?;
        }
        self.count += 1;
        self.rows.write_all(&host.row)?;
        if let Destination::Folder(folder) = &self.place {
            folder.host(self.count, &host.page)?;
        }
        Ok(())
    }

    /// Writes the page itself; in a folder it comes last, so that an overview never leads to what is not there.
    pub(super) fn finish(self, report: &FleetReport<'_>) -> Result<(), CliError> {
        let Self { page, rows, place, .. } = self;
        let mut rows = rows.into_inner().map_err(io::IntoInnerError::into_error)?;
        rows.rewind()?;
        let mut rows = BufReader::new(rows);
        let mut to_file = |mut file: OutputFile, pages: Option<&str>| {
            page.write(report, pages, &mut rows, file.out())?;
            file.finish()
        };
        match place {
            Destination::File(file) => to_file(file, None),
            Destination::Folder(mut folder) => {
                to_file(OutputFile::create(&folder.path.join("index.html"))?, Some(HOSTS))?;
                folder.done = true;
                Ok(())
            }
            Destination::StandardOutput => {
                let mut out = BufWriter::new(stdout().lock());
                output::ended(page.write(report, None, &mut rows, &mut out).and_then(|()| out.flush()))
            }
        }
    }
}
