//! `demo`: the built-in server against its plan, or its files.

use std::path::Path;

use super::audit;
use crate::cli::arguments::Common;
use crate::cli::{CliError, Outcome, output};
use crate::evidence::Text;
use crate::report::{Extent, Report};
use crate::sources::Sources;
use crate::{demo, plan};

pub(super) fn run(files: Option<&Path>, extent: Extent, common: &Common) -> Result<Outcome, CliError> {
    match files {
        None => show(extent, common),
        Some(folder) => write_files(folder, common),
    }
}

fn show(extent: Extent, common: &Common) -> Result<Outcome, CliError> {
    let text = Text::from_bytes(demo::LISTING_NAME, demo::LISTING.as_bytes().to_vec())?;
    let plan = plan::read(demo::PLAN_NAME, demo::PLAN)?;
    let inputs = audit::Inputs {
        text: &text,
        nth: None,
        plan: &plan,
        board: None,
        sources: Sources::default(),
        work: None,
        extent,
    };
    audit::write(inputs, common)
}

fn write_files(folder: &Path, common: &Common) -> Result<Outcome, CliError> {
    let failed = |reason| CliError::Write { path: folder.display().to_string(), reason };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let (listing, plan) = (folder.join("listing.txt"), folder.join("plan.yaml"));
    // Both are looked at first, so that a refusal leaves nothing behind.
    if let Some(there) = [&listing, &plan].into_iter().find(|path| path.exists()) {
        return Err(CliError::Exists { path: there.display().to_string() });
    }
    output::new_file(&listing, demo::LISTING.as_bytes())?;
    output::new_file(&plan, demo::PLAN.as_bytes())?;
    output::report(common, &Report::Files(&[listing, plan]))?;
    Ok(Outcome::AsPlanned)
}
