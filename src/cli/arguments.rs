//! What can be typed. Help, man page and completions all come from these definitions.

use std::num::NonZero;
use std::path::{Path, PathBuf};

use clap::{Args, Parser, Subcommand};

pub(super) use super::formats::Format;

use crate::case::WorkDone;
use crate::sources;

use super::output_options::OutputOptions;
use crate::fleet::cores;
use crate::report::Extent;

/// Proves from a server's SMBIOS listing that its memory is fitted as planned.
///
/// A listing is the text that `dmidecode` prints as root on the server; plain or gzip, `-` for standard
/// input. A plan is a YAML file that says which module belongs in which slot.
#[derive(Debug, Parser)]
#[command(
    name = "asfitted",
    version,
    max_term_width = 100,
    after_help = "Exit codes: 0 as planned, 1 deviates from the plan, 2 could not be done, 3 nothing deviates but \
                  something the plan demands is unproven."
)]
pub struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,

    #[command(flatten)]
    pub(super) common: Common,
}

/// Options of every command.
#[derive(Debug, Args)]
pub(super) struct Common {
    /// Format of the result.
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,

    /// Write the result to FILE instead of standard output. `fleet --format html` takes a new folder too, and writes a
    /// page for each host into it.
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Audit the built-in demo server; needs no file.
    Demo {
        /// Write the demo's listing and plan into this folder instead, to try the other commands on.
        #[arg(long, value_name = "FOLDER")]
        files: Option<PathBuf>,
        #[command(flatten)]
        screen: Screen,
    },
    /// Show what a listing proves to be fitted, and what it cannot tell.
    Show {
        #[command(flatten)]
        listing: Listing,
        #[command(flatten)]
        board: BoardChoice,
    },
    /// Compare a listing with a plan; name what deviates, by which lines, and what to do next.
    Audit(AuditArguments),
    /// Find where the memory of a server that shows too little is lost, and which slots are suspect.
    Diagnose(DiagnoseArguments),
    /// On the running server, as root: write everything it says about its memory into one file.
    ///
    /// The file holds the SMBIOS table, the operating system's view of memory, the kernel's command line and its
    /// error counters. Every command that takes a listing takes it.
    Capture {
        /// Leave out serial numbers, asset tags and what else tells this machine from others of its kind.
        #[arg(long, conflicts_with = "events")]
        redact: bool,
        /// Read from the files of a system that is mounted here.
        #[arg(long, value_name = "FOLDER", default_value = "/")]
        root: PathBuf,
        /// Add the event log of the management controller, as text.
        #[arg(long, value_name = "FILE")]
        events: Option<PathBuf>,
    },
    /// Audit many servers at once and account for every module.
    Fleet(FleetArguments),
    /// Make and check plans.
    #[command(subcommand)]
    Plan(PlanCommand),
    /// Compare two listings of one machine, or a plan and a listing, slot by slot.
    Compare {
        /// The listing or plan to start from.
        before: PathBuf,
        /// The listing to compare it with.
        after: PathBuf,
    },
    /// List, print and derive board descriptions.
    #[command(subcommand)]
    Boards(BoardsCommand),
    /// Say what modules' part numbers say of them.
    #[command(subcommand)]
    Parts(PartsCommand),
    /// Write completions for a shell, or the man page.
    #[command(subcommand)]
    Generate(Generate),
}

impl Command {
    /// Its word in the table of formats: what is typed, with the option that makes another result of it.
    pub(super) fn word(&self) -> &'static str {
        match self {
            Self::Demo { files: None, .. } => "demo",
            Self::Demo { files: Some(_), .. } => "demo --files",
            Self::Show { .. } => "show",
            Self::Audit(_) => "audit",
            Self::Diagnose(_) => "diagnose",
            Self::Capture { .. } => "capture",
            Self::Fleet(_) => "fleet",
            Self::Plan(PlanCommand::From { .. }) => "plan from",
            Self::Plan(PlanCommand::Place { .. }) => "plan place",
            Self::Plan(PlanCommand::Check { .. }) => "plan check",
            Self::Compare { .. } => "compare",
            Self::Boards(BoardsCommand::List) => "boards list",
            Self::Boards(BoardsCommand::Print { .. }) => "boards print",
            Self::Boards(BoardsCommand::Derive(_)) => "boards derive",
            Self::Parts(PartsCommand::Explain { .. }) => "parts explain",
            Self::Generate(_) => "generate",
        }
    }

    /// Files that the command writes with its result.
    pub(super) fn results(&self) -> Vec<&Path> {
        match self {
            Self::Audit(AuditArguments { machine, .. })
            | Self::Diagnose(DiagnoseArguments { machine, .. }) => {
                machine.work.as_deref().into_iter().collect()
            }
            Self::Fleet(FleetArguments { outputs, .. }) => outputs.iter().map(|(_, path)| path).collect(),
            _ => Vec::new(),
        }
    }
}

/// One machine, and what is said of it.
#[derive(Debug, Args)]
pub(super) struct Machine {
    #[command(flatten)]
    pub(super) listing: Listing,
    #[command(flatten)]
    pub(super) board: BoardChoice,
    #[command(flatten)]
    pub(super) others: Others,
    /// Also write the work order to FILE as plain text, to be printed: steps with boxes to tick, cautions, map.
    #[arg(long, value_name = "FILE")]
    pub(super) work: Option<PathBuf>,
    #[command(flatten)]
    pub(super) screen: Screen,
}

/// How much is said as text; other formats say everything.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct Screen {
    /// As text: verdict, work and map only.
    #[arg(long, conflicts_with = "verbose")]
    brief: bool,
    /// As text: every finding with all its evidence and causes.
    #[arg(long)]
    verbose: bool,
}

impl Screen {
    pub(super) fn extent(self) -> Extent {
        match self {
            Self { brief: true, .. } => Extent::Brief,
            Self { verbose: true, .. } => Extent::Full,
            Self { .. } => Extent::Usual,
        }
    }
}

/// What an audit is made from.
#[derive(Debug, Args)]
pub(super) struct AuditArguments {
    #[command(flatten)]
    pub(super) machine: Machine,
    /// The plan, a YAML file; see docs/plan.md.
    #[arg(long, value_name = "PLAN")]
    pub(super) plan: PathBuf,
}

/// What a diagnosis is made from.
#[derive(Debug, Args)]
pub(super) struct DiagnoseArguments {
    #[command(flatten)]
    pub(super) machine: Machine,
    /// What was fitted: `12 x 32GB 4Rx4 PC3L-10600R`, once for each kind, or a total such as `384 GiB`.
    #[arg(long, value_name = "MODULES|TOTAL")]
    pub(super) fitted: Vec<String>,
    /// The plan, if there is one.
    #[arg(long, value_name = "PLAN")]
    pub(super) plan: Option<PathBuf>,
    /// A listing of the same machine from before: what was seen then, and the firmware's version.
    #[arg(long, value_name = "LISTING")]
    pub(super) earlier: Option<PathBuf>,
    /// What was done since all was seen: `firmware` or `module`; may be given several times.
    #[arg(long, value_name = "WHAT", value_parser = work_done)]
    pub(super) after: Vec<WorkDone>,
}

fn work_done(text: &str) -> Result<WorkDone, String> {
    let known = WorkDone::ALL.iter().copied().find(|done| done.word() == text);
    let rows = || WorkDone::ALL.iter().map(|done| format!("`{}` ({})", done.word(), done.info().meaning));
    known.ok_or_else(|| format!("expected {}", rows().collect::<Vec<_>>().join(" or ")))
}

#[derive(Debug, Subcommand)]
pub(super) enum PlanCommand {
    /// Write the plan that a listing fulfils exactly, as YAML.
    From {
        #[command(flatten)]
        listing: Listing,
        /// Leave out all serial numbers, so that the plan serves every machine that is fitted alike.
        #[arg(long)]
        any_serial: bool,
    },
    /// Turn an order (so many of these modules) into slots, in the best way the board's rules allow.
    Place {
        /// What is to be fitted, such as `12 x 32GB 4Rx4 PC3L-10600R`, once for each kind; or a plan with an `order`, a
        /// YAML file.
        #[arg(value_name = "ORDER", required = true)]
        orders: Vec<String>,
        #[command(flatten)]
        board: BoardChoice,
        /// Write the reason for every choice above the plan.
        #[arg(long)]
        why: bool,
        /// Where not all of it fits, write the plan of the largest part that does.
        #[arg(long)]
        partial: bool,
    },
    /// Check a plan against the rules of its board; say what total, speed and bandwidth to expect.
    Check {
        /// The plan, a YAML file; see docs/plan.md.
        #[arg(value_name = "PLAN")]
        plan: PathBuf,
        #[command(flatten)]
        board: BoardChoice,
    },
}

/// Which board description to use.
#[derive(Debug, Args)]
pub(super) struct BoardChoice {
    /// A platform class of the library (see `boards list`) or a board file; see docs/boards.md.
    #[arg(long = "board", value_name = "NAME|FILE")]
    pub(super) name: Option<String>,
}

/// What a fleet is made of, and where its results go.
#[derive(Debug, Args)]
pub(super) struct FleetArguments {
    /// Folders with listings, files, archives (tar, also with gzip or zstd), or JSON Lines
    /// `{"host": …, "listing": …}`; `-` for standard input.
    #[arg(value_name = "PATH", required = true)]
    pub(super) paths: Vec<PathBuf>,
    /// Folders with plans (`*.yaml`); each listing finds its own by the manifest, by the plan's `machine`, or by the
    /// name of its file.
    #[arg(long, value_name = "FOLDER", required = true)]
    pub(super) plans: Vec<PathBuf>,
    /// Which plan is for which host: a table with the columns `host` and `plan`.
    #[arg(long, value_name = "FILE")]
    pub(super) manifest: Option<PathBuf>,
    /// Only some of the planned hosts are meant: those without a listing are left out.
    #[arg(long)]
    pub(super) subset: bool,
    /// The stock of modules: a table with the column `serial`, and `part`, `label`, `host` if there are.
    #[arg(long, value_name = "FILE")]
    pub(super) stock: Option<PathBuf>,
    /// A board description for all plans that name none.
    #[arg(long, value_name = "NAME|FILE")]
    pub(super) board: Option<String>,
    /// How many listings to audit at the same time; all cores if left out.
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZero<usize>>,
    /// Name and write only what is new or different since an earlier run, by its JSON Lines.
    #[arg(long, value_name = "FILE")]
    pub(super) baseline: Option<PathBuf>,
    #[command(flatten)]
    pub(super) outputs: OutputOptions,
}

impl FleetArguments {
    /// How many threads there are.
    pub(super) fn jobs(&self) -> NonZero<usize> {
        self.jobs.or(NonZero::new(cores())).unwrap_or(NonZero::<usize>::MIN)
    }
}

/// Evidence from other sources than the listing.
#[derive(Debug, Args)]
pub(super) struct Others {
    #[arg(long = "with", value_name = "FILE", alias = "meminfo", help = with_help())]
    pub(super) files: Vec<PathBuf>,
}

/// The help of `--with`, which names the sources by the table of readers.
fn with_help() -> String {
    let known: Vec<&str> = sources::readers().filter_map(|reader| reader.help).collect();
    format!(
        "Other evidence of the same machine: {}, or a capture; recognised by content, may be given several times. See docs/diagnosis.md",
        known.join(", ")
    )
}

#[derive(Debug, Subcommand)]
pub(super) enum BoardsCommand {
    /// List the platform classes of the library.
    List,
    /// Print a class or board file with all its rules, as YAML.
    Print {
        /// A platform class or a board file.
        #[arg(value_name = "NAME|FILE")]
        board: String,
    },
    /// Write a first board description from a listing's own labels; what they do not prove is marked.
    Derive(Listing),
}

#[derive(Debug, Subcommand)]
pub(super) enum PartsCommand {
    /// Explain part numbers code by code, with the source of each.
    ///
    /// Ends with 3 if no known layout fits one of them.
    Explain {
        /// Part numbers, as on the sticker or in a listing.
        #[arg(value_name = "PART", required_unless_present = "list")]
        parts: Vec<String>,
        /// Also those of a list, one in each line; `-` for standard input.
        #[arg(long, value_name = "FILE")]
        list: Option<PathBuf>,
    },
}

/// One listing.
#[derive(Debug, Args)]
pub(super) struct Listing {
    /// The listing; `-` for standard input. Left out: this machine, which takes Linux and root.
    #[arg(value_name = "LISTING")]
    pub(super) path: Option<PathBuf>,
    /// Instead of this machine, read the files of a system that is mounted here.
    #[arg(long, value_name = "FOLDER", default_value = "/", conflicts_with = "path", hide = true)]
    pub(super) root: PathBuf,
    /// Which listing to take from a file that holds several, counted from 1.
    #[arg(long, value_name = "N")]
    pub(super) nth: Option<usize>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Generate {
    /// Completions for a shell.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// The man page.
    Man,
    /// The JSON Schema of plans or results.
    #[cfg(feature = "schema")]
    Schema {
        /// Which one.
        #[arg(value_enum)]
        of: SchemaOf,
    },
}

#[cfg(feature = "schema")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum SchemaOf {
    /// Plan files.
    Plan,
    /// Results of `audit`.
    Audit,
    /// Results of `show`.
    Population,
    /// Results of `compare`.
    Comparison,
    /// Board descriptions.
    Board,
    /// Results of `capture --format json`.
    Capture,
    /// The last line of `fleet --format json`.
    Fleet,
    /// The line of a host that could not be audited.
    NotAudited,
    /// Results of `plan check`.
    PlanCheck,
    /// Results of `diagnose`.
    Diagnosis,
    /// Results of `parts explain`.
    Parts,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_definition_is_sound() {
        Arguments::command().debug_assert();
    }
}
