//! One file per command: read, compute in the library, write.

mod audit;
mod boards;
mod capture;
mod compare;
mod demo;
mod diagnose;
mod fleet;
mod generate;
mod parts;
mod plan;
mod show;

use super::arguments::{Arguments, Command};
use super::input::Reader;
use super::results::Results;
use super::{CliError, Outcome};

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, CliError> {
    let Arguments { command, common } = arguments;
    // Before anything is read or done.
    common.format.check(command.word())?;
    let results = command.results().into_iter().chain(common.output.as_deref());
    let reader = &Reader::new(Results::new(results.collect()));
    match command {
        Command::Demo { files, screen } => demo::run(files.as_deref(), screen.extent(), common),
        Command::Show { listing, board } => show::run(listing, board, reader, common),
        Command::Audit(arguments) => audit::run(arguments, reader, common),
        Command::Diagnose(arguments) => diagnose::run(arguments, reader, common),
        Command::Fleet(arguments) => fleet::run(arguments, reader, common),
        Command::Capture { redact, root, events } => {
            capture::run(root, *redact, events.as_deref(), reader, common)
        }
        Command::Plan(command) => plan::run(command, reader, common),
        Command::Compare { before, after } => compare::run(before, after, reader, common),
        Command::Boards(command) => boards::run(command, reader, common),
        Command::Parts(command) => parts::run(command, reader, common),
        Command::Generate(what) => generate::run(what, common),
    }
}
