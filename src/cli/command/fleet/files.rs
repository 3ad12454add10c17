//! Where the outputs of a run go.

use std::io::{self, Write, stdout};

use crate::cli::CliError;
use crate::cli::arguments::{Common, Format};
use crate::cli::output;
use crate::cli::output_file::{OutputFile, StandardOutput, explained, scratch};
use crate::cli::output_options::OutputOptions;
use crate::cli::page_folder::{PageFolder, is_folder};
use crate::report::FleetPages;
use crate::report::fleet::{JsonLines, OutputInfo, Outputs, SummaryText};

/// The files of a run. They take their names when all of them are done; dropped before that, they leave nothing.
pub(super) struct Files<'c> {
    also: Vec<(&'static OutputInfo, OutputFile)>,
    main: Main<'c>,
}

/// Where the result itself goes.
enum Main<'c> {
    Text(TextTarget<'c>),
    Json(Target),
    /// A page.
    Page(Target),
    /// A page, and one for each host.
    Pages(PageFolder),
}

/// Takes a text as a whole, and writes it where text goes, with styles or without.
struct TextTarget<'c>(&'c Common);

enum Target {
    StandardOutput(StandardOutput),
    File(OutputFile),
}

impl<'c> Files<'c> {
    pub(super) fn open(options: &OutputOptions, common: &'c Common) -> Result<Self, CliError> {
        let also = options.iter().map(|(output, path)| Ok((output, OutputFile::create(path)?)));
        let also = also.collect::<Result<_, CliError>>()?;
        let target = || match &common.output {
            Some(path) => OutputFile::create(path).map(Target::File),
            None => Ok(Target::StandardOutput(StandardOutput::new(stdout()))),
        };
        // Last, since a folder is seen at once, and whatever else fails must leave none.
        let main = match (common.format, &common.output) {
            (Format::Text, _) => Main::Text(TextTarget(common)),
            (Format::Json, _) => Main::Json(target()?),
            (Format::Html, Some(path)) if is_folder(path) => Main::Pages(PageFolder::open(path)?),
            (Format::Html, _) => Main::Page(target()?),
        };
        Ok(Self { also, main })
    }

    /// The outputs that write to these files.
    pub(super) fn outputs(&mut self) -> Result<Outputs<'_>, CliError> {
        let mut outputs = Outputs::default();
        let mut pages = None;
        match &mut self.main {
            Main::Text(text) => outputs.add(SummaryText::new(Box::new(text))),
            Main::Json(target) => outputs.add(JsonLines::new(target.out())),
            Main::Page(target) => pages = Some((target.out(), None)),
            Main::Pages(folder) => {
                let (index, hosts) = folder.outs();
                pages = Some((index, Some(hosts)));
            }
        }
        for (output, file) in &mut self.also {
            (output.add)(&mut outputs, Box::new(file), &scratch).map_err(explained)?;
        }
        // Last, so that it is there only if all the rest is.
        if let Some((index, hosts)) = pages {
            outputs.add(FleetPages::new(index, hosts, scratch().map_err(explained)?));
        }
        Ok(outputs)
    }

    /// Gives the files their names.
    pub(super) fn done(self) -> Result<(), CliError> {
        self.also.into_iter().try_for_each(|(_, file)| file.finish())?;
        // Last, so that a folder is there only if all the rest is.
        match self.main {
            Main::Text(_) => Ok(()),
            Main::Json(Target::File(file)) | Main::Page(Target::File(file)) => file.finish(),
            Main::Json(Target::StandardOutput(_)) | Main::Page(Target::StandardOutput(_)) => {
                output::ended(Ok(()))
            }
            Main::Pages(folder) => folder.finish(),
        }
    }
}

impl Write for TextTarget<'_> {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        output::result(self.0, || (), |out| out.write_all(text)).map_err(io::Error::other)?;
        Ok(text.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Target {
    fn out(&mut self) -> Box<dyn Write + Send + '_> {
        match self {
            Self::StandardOutput(out) => Box::new(out),
            Self::File(file) => Box::new(file),
        }
    }
}
