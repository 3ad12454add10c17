//! What paths lead to.

use std::path::Path;

/// Whether the path means standard input.
pub(super) fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Whether both paths lead to one file, by whatever links.
pub(super) fn is_same_file(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let a = if is_standard_input(a) { Path::new("/dev/stdin") } else { a };
        if let (Ok(a), Ok(b)) = (a.metadata(), b.metadata()) {
            // Terminals and pipes can be read and written at once.
            return a.is_file() && (a.dev(), a.ino()) == (b.dev(), b.ino());
        }
    }
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}
