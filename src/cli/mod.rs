//! The command line: arguments in, exit code out. The only place that prints or reads files.

mod arguments;
mod command;
mod formats;
mod input;
mod output;
mod output_file;
mod output_options;
mod page_folder;
mod paths;
mod results;
mod system;

use std::process::ExitCode;

use clap::Parser;
use thiserror::Error;

pub use arguments::Arguments;

use crate::audit::Verdict;
use crate::evidence::EvidenceError;
use crate::fleet::{ManifestError, StockError};
use crate::plan::ORDER_FORM;
use crate::records::ChoiceError;
use crate::sources::SourceError;
use crate::yaml::FileError;

/// How the process ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// As planned, or done.
    AsPlanned,
    /// Something deviates.
    Deviates,
    /// It could not be done.
    Failed,
    /// Nothing deviates, something is not proven.
    Unproven,
}

impl Outcome {
    /// The exit code; scripts rely on these.
    pub fn code(self) -> u8 {
        match self {
            Self::AsPlanned => 0,
            Self::Deviates => 1,
            Self::Failed => 2,
            Self::Unproven => 3,
        }
    }
}

impl From<Verdict> for Outcome {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::AsPlanned => Self::AsPlanned,
            Verdict::Deviates => Self::Deviates,
            Verdict::Unproven => Self::Unproven,
        }
    }
}

/// Why a command could not be done.
#[derive(Debug, Error)]
enum CliError {
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    #[error(transparent)]
    File(#[from] FileError),
    #[error(transparent)]
    Choice(#[from] ChoiceError),
    #[error("{path}: cannot be read ({reason}). {advice}")]
    Read { path: String, reason: std::io::Error, advice: &'static str },
    #[error("{path}: cannot be written ({reason}). Name another file or folder")]
    Write { path: String, reason: std::io::Error },
    #[error(
        "{path}: found as input and as the place of a result, expected two files, since the result would replace the input. \
         Name another file for the result"
    )]
    OutputIsInput { path: String },
    #[error(
        "{path}: found a folder without error counters of a memory controller, expected /sys/devices/system/edac or a copy of it. \
         Name a file, or load the kernel's driver for the memory controller"
    )]
    NoCounters { path: String },
    #[error("{path}: found as the place of two results, expected a file for each. Name another file for one")]
    TwoResults { path: String },
    #[error(
        "--format {format}: found for a command that has no {result}. Leave it out, or take `--format json`"
    )]
    NoFormat { format: &'static str, result: &'static str },
    #[error(
        "{path}: already exists and is not empty, expected a new folder for the pages. Name another folder"
    )]
    FolderInUse { path: String },
    #[error("{path}: already exists, expected a new file. Name another folder, or remove the file")]
    Exists { path: String },
    #[error(
        "board `{name}`: found neither a class of the library nor a file, expected one. {hint}`asfitted boards list` names the classes"
    )]
    NoSuchBoard { name: String, hint: String },
    #[error(
        "{plan}: found no board, expected one to check against. Write `board: NAME` into the plan, or add `--board NAME|FILE`"
    )]
    NoBoard { plan: String },
    #[error(
        "--fitted {text}: found {found}, expected `12 x 32GB 4Rx4 PC3L-10600R` or a total such as `384 GiB`. Correct it"
    )]
    Fitted { text: String, found: String },
    #[error("order `{text}`: found {found}, expected {ORDER_FORM}, or a plan with an `order`. Correct it")]
    Order { text: String, found: String },
    #[error("{path}: found {found}, expected {expected} in YAML. This is {found}: {advice}")]
    NotYaml { path: String, found: &'static str, expected: &'static str, advice: &'static str },
    #[error("{path}: found a listing, expected a plan. This is a listing: swap the two, or name a plan")]
    ListingAsPlan { path: String },
    #[error("{path}: found a plan, expected a listing. This is a plan: swap the two, or name a listing")]
    PlanAsListing { path: String },
    #[error(
        "this machine: found no SMBIOS table that can be read ({reason}), expected one under {root}. \
         Run it as root on Linux, or name a listing"
    )]
    NotHere { root: String, reason: String },
    #[error(transparent)]
    Witness(#[from] SourceError),
    #[error(
        "{path}: line 1: found no event of an IPMI log, expected the event log of the management controller as text. Check the file"
    )]
    NoEvents { path: String },
    #[error("{path}: found no part number, expected one in each line. Check the file")]
    NoParts { path: String },
    #[error(transparent)]
    Stock(#[from] StockError),
    #[error(transparent)]
    Manifest(#[from] ManifestError),
    #[error(
        "{path}: line {line}: found {reason}, expected the JSON Lines of an earlier run. Take what `--json-lines` wrote"
    )]
    Baseline { path: String, line: u32, reason: String },
    #[error(
        "{path}: found no memory slot, expected records of type 17 to make a plan from. Print a full listing as root"
    )]
    NoSlots { path: String },
    #[error(
        "{path}: found no module and no empty slot with a name of its own, expected one to make a plan from. \
         Fit a module first, or write the plan by hand; docs/plan.md has examples"
    )]
    NothingToPlan { path: String },
    #[error("standard input: can be read only once, found `-` for both inputs. Name a file for one of them")]
    TwiceStandardInput,
    #[error(transparent)]
    Output(#[from] std::io::Error),
}

/// Runs the command of this process and gives its exit code.
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    ExitCode::from(run(&arguments).code())
}

fn run(arguments: &Arguments) -> Outcome {
    match command::run(arguments) {
        Ok(outcome) => outcome,
        Err(error) => {
            output::warn(&error.to_string());
            Outcome::Failed
        }
    }
}
