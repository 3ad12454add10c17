//! A folder with the page of a fleet and a page for each host.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::CliError;
use super::output_file::{OutputFile, failed};
use crate::report::HostPages;

/// The folder of the hosts' pages, as seen from the overview.
const HOSTS: &str = "hosts";

/// The folder and its overview, which comes last, so that it never leads to what is not there.
pub(super) struct PageFolder {
    /// Dropped before the folder, which can only be removed without it.
    index: OutputFile,
    folder: Folder,
}

/// A folder that was empty or is new. Dropped before it is done, it is left as it was.
struct Folder {
    path: PathBuf,
    is_new: bool,
    done: bool,
}

impl PageFolder {
    pub(super) fn open(path: &Path) -> Result<Self, CliError> {
        let folder = Folder::open(path)?;
        Ok(Self { index: OutputFile::create(&path.join("index.html"))?, folder })
    }

    /// Where the overview and the pages of the hosts are written.
    #[expect(
        clippy::disallowed_methods,
        reason = "the folder is new, so that no page can take the place of an input"
    )]
    pub(super) fn outs(&mut self) -> (Box<dyn Write + Send + '_>, HostPages<'_>) {
        let hosts = self.folder.hosts();
        // The folder as a whole is there or not, so that each page need not be.
        let write = move |name: &str, page: &str| {
            let path = hosts.join(name);
            std::fs::write(&path, page).map_err(|reason| failed(&path, reason))
        };
        (Box::new(&mut self.index), HostPages { folder: HOSTS, write: Box::new(write) })
    }

    pub(super) fn finish(mut self) -> Result<(), CliError> {
        self.index.finish()?;
        self.folder.done = true;
        Ok(())
    }
}

impl Folder {
    fn open(path: &Path) -> Result<Self, CliError> {
        let failed = |reason| CliError::Write { path: path.display().to_string(), reason };
        let is_new = !path.exists();
        std::fs::create_dir_all(path).map_err(failed)?;
        // Pages of an earlier run would be among the new ones without a word.
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
}

impl Drop for Folder {
    fn drop(&mut self) {
        if !self.done {
            // The run has failed already and says why; what cannot be removed either is seen in the folder.
            let _ = std::fs::remove_dir_all(self.hosts());
            if self.is_new {
                let _: io::Result<()> = std::fs::remove_dir(&self.path);
            }
        }
    }
}

/// Whether a result goes to a folder: one that is there, or a new name that does not end as a page's does.
pub(super) fn is_folder(path: &Path) -> bool {
    let page =
        path.extension().is_some_and(|end| ["html", "htm"].iter().any(|own| end.eq_ignore_ascii_case(own)));
    path.is_dir() || (!page && !path.exists())
}
