//! Reading files and standard input.

use std::fs::File;
use std::io::{Read, stdin};
use std::path::{Path, PathBuf};

use super::CliError;
use super::arguments::{BoardChoice, Listing};
pub(super) use super::paths::is_standard_input;
use super::results::Results;
use super::{output, system};
use crate::base::advice;
use crate::board::{self, Board};
use crate::evidence::{EvidenceError, Text};
use crate::plan::{self, Plan};
use crate::records;
use crate::sources::Sources;
use crate::yaml::did_you_mean;

/// More than any listing, plan or stock; what is larger is refused.
const READ_LIMIT: u64 = 300 << 20;

fn name(path: &Path) -> String {
    if is_standard_input(path) { "standard input".to_owned() } else { path.display().to_string() }
}

/// What a command reads with. Every input passes through [`Reader::bytes`], so that one place can keep the results
/// from taking the place of what they are made of.
#[derive(Debug)]
pub(super) struct Reader<'c> {
    results: Results<'c>,
}

impl<'c> Reader<'c> {
    /// Reads anything but the files in `results`.
    pub(super) fn new(results: Results<'c>) -> Self {
        Self { results }
    }

    /// Where results go.
    pub(super) fn results(&self) -> &Results<'c> {
        &self.results
    }

    pub(super) fn bytes(&self, path: &Path) -> Result<Vec<u8>, CliError> {
        if self.results.replace(path) {
            return Err(CliError::OutputIsInput { path: name(path) });
        }
        let mut bytes = Vec::new();
        let read = if is_standard_input(path) {
            stdin().lock().take(READ_LIMIT).read_to_end(&mut bytes)
        } else {
            File::open(path).and_then(|file| file.take(READ_LIMIT).read_to_end(&mut bytes))
        };
        let read = match read {
            // What was cut off would be missing without a word.
            Ok(size) if size as u64 == READ_LIMIT => {
                Err(std::io::Error::new(std::io::ErrorKind::FileTooLarge, "it is larger than 300 MiB"))
            }
            read => read,
        };
        match read {
            Ok(_) => Ok(bytes),
            Err(reason) => {
                let advice = advice::on_reading(reason.kind());
                Err(CliError::Read { path: name(path), reason, advice })
            }
        }
    }

    /// The text of a listing or plan.
    pub(super) fn text(&self, path: &Path) -> Result<Text, CliError> {
        let bytes = self.bytes(path)?;
        Ok(Text::from_bytes(name(path), bytes)?)
    }

    /// The board of that name: a class of the library, a file, or a file beside `near`.
    pub(super) fn board(&self, name: &str, near: Option<&Path>) -> Result<Board, CliError> {
        if let Some(class) = board::class(name) {
            return Ok(class);
        }
        let beside =
            near.and_then(Path::parent).map(|folder| folder.join(name)).filter(|path| path.is_file());
        let path = if Path::new(name).is_file() {
            Path::new(name).to_path_buf()
        } else {
            beside.unwrap_or_else(|| name.into())
        };
        if !path.is_file() {
            let classes = board::CLASSES.iter().map(|class| class.name);
            return Err(CliError::NoSuchBoard {
                name: name.to_owned(),
                hint: hint(&did_you_mean(name, classes)),
            });
        }
        let text = self.yaml(&path, &BOARD)?;
        Ok(board::read(text.name(), text.as_str())?)
    }

    /// The board of a machine, by the rule of [`Self::chosen`].
    pub(super) fn board_for(
        &self,
        choice: &BoardChoice,
        plan: Option<(&Plan, &Path)>,
    ) -> Result<Option<Board>, CliError> {
        let given = choice.name.as_deref().map(|name| self.board(name, None)).transpose()?;
        self.chosen(given, plan)
    }

    /// The board that the command line gives, or else the one that the plan names, which may be a file beside the
    /// plan's.
    pub(super) fn chosen(
        &self,
        given: Option<Board>,
        plan: Option<(&Plan, &Path)>,
    ) -> Result<Option<Board>, CliError> {
        let by_plan = plan.and_then(|(plan, path)| Some((plan.board.as_deref()?, path)));
        match (given, by_plan) {
            (Some(board), _) => Ok(Some(board)),
            (None, Some((name, path))) => self.board(name, Some(path)).map(Some),
            (None, None) => Ok(None),
        }
    }

    /// A plan.
    pub(super) fn plan(&self, path: &Path) -> Result<Plan, CliError> {
        let text = self.yaml(path, &PLAN)?;
        plan::read(text.name(), text.as_str()).map_err(|error| {
            let path = text.name().to_owned();
            match what_else(text.as_str()) {
                _ if holds_records(&text) => CliError::ListingAsPlan { path },
                Some(found) => PLAN.not_yaml(path, found),
                None => error.into(),
            }
        })
    }

    /// The text of a file that people write in YAML.
    fn yaml(&self, path: &Path, wanted: &Yaml) -> Result<Text, CliError> {
        match Text::from_bytes(name(path), self.bytes(path)?) {
            Err(EvidenceError::OtherForm { name, found, .. }) => Err(wanted.not_yaml(name, found)),
            text => Ok(text?),
        }
    }

    /// A listing, or else this machine.
    pub(super) fn listing(&self, listing: &Listing) -> Result<Text, CliError> {
        let Some(path) = &listing.path else { return this_machine(&listing.root) };
        let text = self.text(path)?;
        if !holds_records(&text) && plan::read(text.name(), text.as_str()).is_ok() {
            return Err(CliError::PlanAsListing { path: text.name().to_owned() });
        }
        Ok(text)
    }

    /// What `--with` brings.
    pub(super) fn sources(&self, files: &[PathBuf]) -> Result<Sources, CliError> {
        let mut sources = Sources::default();
        for path in files {
            let text = if path.is_dir() { self.counters(path)? } else { self.text(path)? };
            sources.add(&text)?;
        }
        Ok(sources)
    }

    /// The error counters in a folder, the only source that is one.
    fn counters(&self, folder: &PathBuf) -> Result<Text, CliError> {
        self.results.keep_apart(&[folder])?;
        match system::counters(folder) {
            Ok(lines) => Ok(Text::from_bytes(name(folder), lines.into_bytes())?),
            Err(reason) if reason.kind() == std::io::ErrorKind::NotFound => {
                Err(CliError::NoCounters { path: name(folder) })
            }
            Err(reason) => {
                let advice = advice::on_reading(reason.kind());
                Err(CliError::Read { path: name(folder), reason, advice })
            }
        }
    }
}

/// A file that people write in YAML.
struct Yaml {
    expected: &'static str,
    advice: &'static str,
}

const PLAN: Yaml = Yaml {
    expected: "a plan",
    advice: "write what it says as docs/plan.md shows, or start from `asfitted plan from LISTING`",
};

const BOARD: Yaml = Yaml {
    expected: "a board description",
    advice: "write what it says as docs/boards.md shows, or start from `asfitted boards derive LISTING`",
};

impl Yaml {
    fn not_yaml(&self, path: String, found: &'static str) -> CliError {
        CliError::NotYaml { path, found, expected: self.expected, advice: self.advice }
    }
}

/// What a text is that people take for a plan and that is none.
fn what_else(text: &str) -> Option<&'static str> {
    let text = text.trim_start();
    let first = text.lines().next().unwrap_or_default();
    if text.starts_with('<') {
        Some("a web page")
    } else if text.starts_with('{') && text.contains("\"format\"") && text.contains("\"asfitted.") {
        Some("a result of asfitted")
    } else if (first.contains(',') || first.contains(';') || first.contains('\t')) && !text.contains(": ") {
        Some("a table")
    } else {
        None
    }
}

fn holds_records(text: &Text) -> bool {
    records::read(text).iter().any(|listing| !listing.is_empty())
}

/// What the system under `root` says of its memory, as a capture of it would hold it.
fn this_machine(root: &Path) -> Result<Text, CliError> {
    let taken = system::take(root, false, None).0;
    if !taken.has_table {
        let reason = taken.not_read.first().cloned().unwrap_or_default();
        return Err(CliError::NotHere { root: root.display().to_string(), reason });
    }
    for line in &taken.not_read {
        output::warn(&format!("not read: {line}"));
    }
    Ok(Text::from_bytes("this machine", taken.text.into_bytes())?)
}

/// A suggestion to put between two sentences.
fn hint(suggestion: &str) -> String {
    if suggestion.is_empty() { String::new() } else { format!("{suggestion} ") }
}
