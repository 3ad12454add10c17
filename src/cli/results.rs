//! Where the results of a command go: none of them may take the place of an input, nor of another result.

use std::path::{Path, PathBuf};

use super::CliError;
use super::paths::is_same_file;

/// The files that results go to.
#[derive(Debug)]
pub(super) struct Results<'c>(Vec<&'c Path>);

impl<'c> Results<'c> {
    pub(super) fn new(files: Vec<&'c Path>) -> Self {
        Self(files)
    }

    pub(super) fn paths(&self) -> impl Iterator<Item = &'c Path> {
        self.0.iter().copied()
    }

    /// Whether a result would take the place of `input`, a file that is about to be read.
    pub(super) fn replace(&self, input: &Path) -> bool {
        self.0.iter().any(|result| is_same_file(input, result))
    }

    /// The same for all inputs at once, before anything is read: also those that are found in folders on the way.
    ///
    /// # Errors
    /// A result is one of `inputs`, or is in a folder of them, or has the place of another result.
    pub(super) fn keep_apart(&self, inputs: &[&PathBuf]) -> Result<(), CliError> {
        let folders: Vec<PathBuf> =
            inputs.iter().filter(|path| path.is_dir()).filter_map(|path| path.canonicalize().ok()).collect();
        let places: Vec<PathBuf> = self.paths().map(place).collect();
        for (number, result) in self.0.iter().enumerate() {
            let is_file = result.is_file();
            let inside = is_file && folders.iter().any(|folder| places[number].starts_with(folder));
            if inside || (is_file && inputs.iter().any(|input| is_same_file(input, result))) {
                return Err(CliError::OutputIsInput { path: result.display().to_string() });
            }
            if places[..number].contains(&places[number]) {
                return Err(CliError::TwoResults { path: result.display().to_string() });
            }
        }
        Ok(())
    }
}

/// The one name of a file that can be written in many ways, also of one that is not there yet.
fn place(path: &Path) -> PathBuf {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let real = |path: &Path| path.canonicalize().ok();
    real(path).or_else(|| Some(real(folder)?.join(path.file_name()?))).unwrap_or_else(|| path.to_owned())
}
