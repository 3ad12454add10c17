//! The plans of a fleet.

use std::num::NonZero;
use std::path::{Path, PathBuf};

use crate::board::Board;
use crate::cli::arguments::FleetArguments;
use crate::cli::input::Reader;
use crate::cli::{CliError, output};
use crate::fleet::{LoadedPlan, Manifest, Plans};

/// All plans below the folders. A bad one is reported, the rest goes on.
pub(super) fn plans(
    arguments: &FleetArguments,
    reader: &Reader<'_>,
    bad: &mut Vec<String>,
) -> Result<Plans, CliError> {
    let given = arguments.board.as_deref().map(|name| reader.board(name, None)).transpose()?;
    let paths = files(&arguments.plans, bad)?;
    let mut loaded = Vec::with_capacity(paths.len());
    let mut unread = Vec::new();
    for (path, plan) in paths.iter().zip(load_all(&paths, given.as_ref(), reader, arguments.jobs())) {
        match plan {
            Ok(plan) => loaded.push(plan),
            Err(error) => {
                bad.push(error.to_string());
                unread.push(path);
            }
        }
    }
    for reason in bad.iter() {
        output::warn(reason);
    }
    let manifest = match &arguments.manifest {
        Some(path) => Manifest::read(&path.display().to_string(), &reader.bytes(path)?)?,
        None => Manifest::default(),
    };
    let mut plans = Plans::new(loaded, manifest);
    for path in unread {
        let text = reader.bytes(path).map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
        plans.add_unread(&path.display().to_string(), &text.unwrap_or_default());
    }
    Ok(plans)
}

/// The files of plans below `roots`, in the order of their names.
fn files(roots: &[PathBuf], bad: &mut Vec<String>) -> Result<Vec<PathBuf>, CliError> {
    let mut paths = Vec::new();
    for root in roots {
        std::fs::metadata(root).map_err(|reason| CliError::Read {
            path: root.display().to_string(),
            reason,
            advice: "Name a folder with plans, or one plan",
        })?;
        let walk = walkdir::WalkDir::new(root).follow_links(true).sort_by_file_name();
        for entry in walk {
            match entry {
                Ok(entry) => {
                    let path = entry.path();
                    let ends = |end: &std::ffi::OsStr| {
                        ["yaml", "yml", "json"].iter().any(|own| end.eq_ignore_ascii_case(own))
                    };
                    let is_plan = path.extension().is_some_and(ends);
                    if entry.file_type().is_file() && (is_plan || entry.depth() == 0) {
                        paths.push(path.to_owned());
                    }
                }
                Err(error) => bad.push(error.to_string()),
            }
        }
    }
    Ok(paths)
}

/// Loads plans on `jobs` threads, in the order of the paths.
fn load_all(
    paths: &[PathBuf],
    given: Option<&Board>,
    reader: &Reader<'_>,
    jobs: NonZero<usize>,
) -> Vec<Result<LoadedPlan, CliError>> {
    let share = paths.len().div_ceil(jobs.get()).max(1);
    std::thread::scope(|scope| {
        let load_share =
            |share: &[PathBuf]| share.iter().map(|path| load(path, given, reader)).collect::<Vec<_>>();
        let threads: Vec<_> =
            paths.chunks(share).map(|share| scope.spawn(move || load_share(share))).collect();
        // A thread does not panic; if it did, its plans would be missing and their hosts say so.
        threads.into_iter().flat_map(|thread| thread.join().unwrap_or_default()).collect()
    })
}

fn load(path: &Path, given: Option<&Board>, reader: &Reader<'_>) -> Result<LoadedPlan, CliError> {
    let plan = reader.plan(path)?;
    let board = reader.chosen(given.cloned(), Some((&plan, path)))?;
    Ok(LoadedPlan { plan, board })
}
