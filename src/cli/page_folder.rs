//! A folder with the page of a fleet and a page for each host.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::CliError;
use super::output_file::{OutputFile, failed};
use crate::report::HostPages;

/// The folder of the hosts' pages, as seen from the overview.
const HOSTS: &str = "hosts";

/// The overview.
const INDEX: &str = "index.html";

/// What is in it while it is written has names that start so; what a run that was killed left is no reason to refuse.
const UNFINISHED: &str = ".asfitted-";

/// The folder and its overview. All is written under another name and gets its own at once, so that of two runs into
/// one folder the later one fails and leaves the other's pages as they are.
pub(super) struct PageFolder {
    /// Dropped before the folder that it is in.
    index: OutputFile,
    folder: Folder,
}

/// A folder that was empty or is new. Dropped before it is done, it is left as it was.
struct Folder {
    path: PathBuf,
    /// Where it is written: beside its place, or in it where it is there already and may be no one's to replace.
    beside: TempDir,
    is_new: bool,
}

impl PageFolder {
    pub(super) fn open(path: &Path) -> Result<Self, CliError> {
        let folder = Folder::open(path)?;
        Ok(Self { index: OutputFile::create(&folder.beside.path().join(INDEX))?, folder })
    }

    /// Where the overview and the pages of the hosts are written.
    #[expect(
        clippy::disallowed_methods,
        reason = "the folder is new, so that no page can take the place of an input"
    )]
    pub(super) fn outs(&mut self) -> (Box<dyn Write + Send + '_>, HostPages<'_>) {
        let (hosts, shown) = (self.folder.beside.path().join(HOSTS), self.folder.path.join(HOSTS));
        // The folder as a whole is there or not, so that each page need not be.
        let write = move |name: &str, page: &str| {
            std::fs::write(hosts.join(name), page).map_err(|reason| failed(&shown.join(name), reason))
        };
        (Box::new(&mut self.index), HostPages { folder: HOSTS, write: Box::new(write) })
    }

    pub(super) fn finish(self) -> Result<(), CliError> {
        self.index.finish()?;
        self.folder.finish()
    }
}

impl Folder {
    fn open(path: &Path) -> Result<Self, CliError> {
        let failed = |reason| CliError::Write { path: path.display().to_string(), reason };
        let is_new = !path.exists();
        // Pages of an earlier run would be among the new ones without a word.
        if !is_new && in_use(path).map_err(failed)? {
            return Err(CliError::FolderInUse { path: path.display().to_string() });
        }
        let within = match path.parent() {
            _ if !is_new => path,
            Some(above) if !above.as_os_str().is_empty() => above,
            _ => Path::new("."),
        };
        std::fs::create_dir_all(within).map_err(failed)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(UNFINISHED).suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // Less what the user masks; temporary folders would be their owner's alone.
            builder.permissions(std::fs::Permissions::from_mode(0o777));
        }
        let beside = builder.tempdir_in(within).map_err(failed)?;
        std::fs::create_dir(beside.path().join(HOSTS)).map_err(failed)?;
        Ok(Self { path: path.to_owned(), beside, is_new })
    }

    /// Gives the folder its name, or what is in it.
    fn finish(self) -> Result<(), CliError> {
        let Self { path, beside, is_new } = self;
        let done = if is_new && !path.exists() {
            // Another run that makes the folder meanwhile has put its pages there, and no folder replaces those.
            std::fs::rename(beside.path(), &path).map(|()| drop(beside.keep()))
        } else if in_use(&path).is_ok_and(|used| used) {
            return Err(CliError::FolderInUse { path: path.display().to_string() });
        } else {
            let moved = |name: &str| std::fs::rename(beside.path().join(name), path.join(name));
            // The overview last, so that it never leads to what is not there.
            moved(HOSTS).and_then(|()| moved(INDEX))
        };
        done.map_err(|reason| match reason.kind() {
            io::ErrorKind::DirectoryNotEmpty | io::ErrorKind::AlreadyExists => {
                CliError::FolderInUse { path: path.display().to_string() }
            }
            _ => CliError::Write { path: path.display().to_string(), reason },
        })
    }
}

/// Whether a folder holds anything that is not on its way.
fn in_use(path: &Path) -> io::Result<bool> {
    for entry in std::fs::read_dir(path)? {
        if !entry?.file_name().as_encoded_bytes().starts_with(UNFINISHED.as_bytes()) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a result goes to a folder: one that is there, or a new name that does not end as a page's does.
pub(super) fn is_folder(path: &Path) -> bool {
    let page =
        path.extension().is_some_and(|end| ["html", "htm"].iter().any(|own| end.eq_ignore_ascii_case(own)));
    path.is_dir() || (!page && !path.exists())
}
