//! An option for each output that goes to a file of its own: they follow from the table of outputs.

use std::path::{Path, PathBuf};

use clap::{Arg, ArgMatches, Args, Command, FromArgMatches, value_parser};

use crate::report::fleet::{OUTPUTS, OutputInfo};

/// The outputs that were asked for, with their files, in the order of the table.
#[derive(Debug)]
pub(super) struct OutputOptions(Vec<(&'static OutputInfo, PathBuf)>);

impl OutputOptions {
    pub(super) fn iter(&self) -> impl Iterator<Item = (&'static OutputInfo, &Path)> {
        self.0.iter().map(|(output, path)| (*output, path.as_path()))
    }
}

impl Args for OutputOptions {
    fn augment_args(command: Command) -> Command {
        command.args(OUTPUTS.iter().map(|output| {
            Arg::new(output.name)
                .long(output.name)
                .value_name("FILE")
                .value_parser(value_parser!(PathBuf))
                .help(format!("Also write {}", output.about))
        }))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for OutputOptions {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = |output: &'static OutputInfo| {
            matches.get_one::<PathBuf>(output.name).map(|path| (output, path.clone()))
        };
        Ok(Self(OUTPUTS.iter().filter_map(given).collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}
