//! The table of output formats: which command has which. Help, refusals and a test of all pairs follow from it.

use std::io;

use clap::ValueEnum;
use clap::builder::PossibleValue;

use super::CliError;
use crate::report::{self, Layout, Output, Report};

/// One format.
#[derive(Debug)]
struct FormatInfo {
    /// Its word on the command line.
    word: &'static str,
    /// What help says of it.
    about: &'static str,
    /// What a result in it is called.
    result: &'static str,
    /// The commands that have it, by their words; `None` for all. A command whose result is a file for this tool or
    /// for a shell writes that file in any format that all commands have.
    commands: Option<&'static [&'static str]>,
    /// Lays a result out; `None` for a result that it does not have.
    lay_out: fn(&Report<'_>, Layout) -> io::Result<Option<Output>>,
}

/// Makes the formats and their table from one list.
macro_rules! formats {
    ($($format:ident { $($key:ident: $value:expr),* $(,)? })*) => {
        /// Formats of results.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(super) enum Format {
            $(#[doc = concat!("See the row of `", stringify!($format), "`.")] $format),*
        }

        const FORMATS: &[FormatInfo] = &[$(FormatInfo { $($key: $value),* }),*];

        impl Format {
            fn info(self) -> &'static FormatInfo {
                &FORMATS[self as usize]
            }
        }

        impl ValueEnum for Format {
            fn value_variants<'a>() -> &'a [Self] {
                &[$(Self::$format),*]
            }

            fn to_possible_value(&self) -> Option<PossibleValue> {
                Some(PossibleValue::new(self.info().word).help(self.info().help()))
            }
        }
    };
}

formats! {
    Text {
        word: "text",
        about: "For a person at a terminal",
        result: "text",
        commands: None,
        lay_out: report::as_text,
    }
    Json {
        word: "json",
        about: "For machines; see docs/json.md",
        result: "JSON",
        commands: None,
        lay_out: |report, _| report::as_json(report),
    }
    Html {
        word: "html",
        about: "A page for a browser, with the board drawn and a work order to print",
        result: "page",
        commands: Some(&["audit", "demo", "diagnose", "show", "compare", "fleet"]),
        lay_out: |report, _| report::as_html(report),
    }
}

impl FormatInfo {
    fn has(&self, command: &str) -> bool {
        self.commands.is_none_or(|commands| commands.contains(&command))
    }

    /// What help says of it, with the commands that have it.
    fn help(&self) -> String {
        let Some(commands) = self.commands else { return self.about.to_owned() };
        let words: Vec<String> = commands.iter().map(|word| format!("`{word}`")).collect();
        let words = match words.as_slice() {
            [most @ .., last] if !most.is_empty() => format!("{} and {last}", most.join(", ")),
            words => words.concat(),
        };
        format!("{}: {words}", self.about)
    }
}

impl Format {
    /// Refuses a format that the command of that word does not have.
    pub(super) fn check(self, command: &str) -> Result<(), CliError> {
        if self.info().has(command) { Ok(()) } else { Err(self.refused()) }
    }

    /// Lays a result out; only text has a layout of its own.
    pub(super) fn lay_out(self, report: &Report<'_>, layout: Layout) -> Result<Output, CliError> {
        (self.info().lay_out)(report, layout)?.ok_or_else(|| self.refused())
    }

    fn refused(self) -> CliError {
        CliError::NoFormat { format: self.info().word, result: self.info().result }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::fs;
    use std::path::Path;

    use clap::{CommandFactory, Parser};

    use super::*;
    use crate::cli::arguments::Arguments;
    use crate::cli::command;
    use crate::demo;

    /// Each command by its word, with what it takes; `NEW` is a name that is still free.
    const COMMANDS: &[(&str, &[&str])] = &[
        ("audit", &["listing.txt", "--plan", "plans/plan.yaml"]),
        ("boards derive", &["listing.txt"]),
        ("boards list", &[]),
        ("boards print", &["ddr3-2x3x3"]),
        ("capture", &["--root", "no-system"]),
        ("compare", &["listing.txt", "listing.txt"]),
        ("demo", &[]),
        ("demo --files", &["NEW"]),
        ("diagnose", &["listing.txt"]),
        ("fleet", &["listing.txt", "--plans", "plans"]),
        ("generate", &["man"]),
        ("parts explain", &["M393A4K40CB2-CTD"]),
        ("plan check", &["placed.yaml", "--board", "ddr3-2x3x3"]),
        ("plan from", &["listing.txt"]),
        ("plan place", &["order.yaml", "--board", "ddr3-2x3x3"]),
        ("show", &["listing.txt"]),
    ];

    fn bench(folder: &Path) {
        fs::create_dir(folder.join("plans")).unwrap();
        fs::write(folder.join("listing.txt"), demo::LISTING).unwrap();
        fs::write(folder.join("plans/plan.yaml"), demo::PLAN).unwrap();
        fs::write(folder.join("order.yaml"), "order: [12 x 32GB 4Rx4 PC3L-10600R]\n").unwrap();
        fs::write(folder.join("placed.yaml"), "fit:\n  - module: 32GB\n    slots: [1a1, 2a1]\n").unwrap();
    }

    /// Runs a command with its result in `output`.
    fn run(
        folder: &Path,
        (word, rest): (&str, &[&str]),
        format: &str,
        output: &Path,
    ) -> Result<crate::cli::Outcome, CliError> {
        let fixed = word.split(' ').map(ToOwned::to_owned);
        let rest = rest.iter().map(|argument| {
            let path = folder.join(if *argument == "NEW" { format } else { argument });
            let is_file = path.exists() || ["NEW", "no-system"].contains(argument);
            if is_file { path.display().to_string() } else { (*argument).to_owned() }
        });
        let output = output.display().to_string();
        let more = ["--format", format, "--output", &output].map(ToOwned::to_owned);
        let line = ["asfitted".to_owned()].into_iter().chain(fixed).chain(rest).chain(more);
        let arguments = Arguments::try_parse_from(line).unwrap();
        assert_eq!(arguments.command.word(), word);
        command::run(&arguments)
    }

    /// What the table says of a command and a format is true.
    #[test]
    fn every_command_has_its_formats_and_refuses_the_others() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        bench(folder);
        for (at, command) in COMMANDS.iter().enumerate() {
            let word = command.0;
            let mut results = Vec::new();
            for info in FORMATS {
                // The name of a page keeps the fleet from making a folder.
                let output = folder.join(format!("{at}-{}.html", info.word));
                let made = run(folder, *command, info.word, &output);
                if info.has(word) {
                    assert!(made.is_ok(), "{word} --format {}: {made:?}", info.word);
                    results.push(fs::read(output).unwrap());
                    // A format of some commands is a format of its own.
                    let is_own = info.commands.is_none()
                        || !results[..results.len() - 1].contains(&results[results.len() - 1]);
                    assert!(is_own, "{word} --format {}", info.word);
                } else {
                    let refused =
                        matches!(made, Err(CliError::NoFormat { format, .. }) if format == info.word);
                    assert!(refused && !output.exists(), "{word} --format {}", info.word);
                }
            }
            assert!(results.iter().all(|made| !made.is_empty()), "{word}");
        }
    }

    /// What is printed without the option needs no name.
    #[test]
    fn the_documentation_names_every_format_that_must_be_asked_for() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let files = fs::read_dir(root.join("docs")).unwrap().map(|file| file.unwrap().path());
        let files = files.filter(|path| path.extension().is_some_and(|end| end == "md"));
        let texts: Vec<String> =
            files.chain([root.join("README.md")]).map(|path| fs::read_to_string(path).unwrap()).collect();
        for format in FORMATS.iter().skip(1) {
            let option = format!("--format {}", format.word);
            assert!(texts.iter().any(|text| text.contains(&option)), "{option}");
        }
    }

    #[test]
    fn the_table_names_commands() {
        let known: BTreeSet<&str> = COMMANDS.iter().map(|(word, _)| *word).collect();
        for info in FORMATS {
            for command in info.commands.unwrap_or_default() {
                assert!(known.contains(command), "{}: {command}", info.word);
            }
        }
        // And each command is tried above.
        for command in Arguments::command().get_subcommands() {
            let name = command.get_name();
            let whole = || command.get_subcommands().map(|own| format!("{name} {}", own.get_name()));
            let is_known = known.contains(name)
                || whole().next().is_some() && whole().all(|own| known.contains(own.as_str()));
            assert!(is_known, "{name}");
        }
    }
}
