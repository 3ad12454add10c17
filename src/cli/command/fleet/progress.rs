//! How far a run is, on a terminal.

use std::io::{IsTerminal, stderr};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::cli::arguments::FleetArguments;

/// On a terminal only: how many are done, how fast, how long it will take.
pub(super) fn progress(arguments: &FleetArguments) -> ProgressBar {
    if !stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    // What comes in a stream cannot be counted beforehand.
    let countable = arguments.paths.iter().all(|path| path.is_dir());
    let files = || {
        let walks = arguments.paths.iter().flat_map(|path| walkdir::WalkDir::new(path).follow_links(true));
        walks.filter(|entry| entry.as_ref().is_ok_and(|entry| entry.file_type().is_file())).count()
    };
    let (bar, template) = if countable {
        let bar = ProgressBar::new(files() as u64);
        (bar, "{pos} of {len} hosts, {per_sec}, {eta} to go")
    } else {
        (ProgressBar::no_length(), "{pos} hosts, {per_sec}, {elapsed}")
    };
    bar.set_draw_target(ProgressDrawTarget::stderr_with_hz(4));
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
    bar
}
