//! Where the outputs of a run go.

use std::io::stdout;

use crate::cli::CliError;
use crate::cli::arguments::{Common, Format};
use crate::cli::output;
use crate::cli::output_file::{OutputFile, StandardOutput, explained, scratch};
use crate::cli::output_options::OutputOptions;
use crate::cli::page_folder::{PageFolder, is_folder};
use crate::report::FleetPages;
use crate::report::fleet::{JsonLines, OutputInfo, Outputs, SummaryText};

/// The files of a run. They take their names when all of them are done; dropped before that, they leave nothing.
pub(super) struct Files {
    also: Vec<(&'static OutputInfo, OutputFile)>,
    main: Main,
}

/// Where the result itself goes.
enum Main {
    /// The summary, which is printed in the end.
    Text(Vec<u8>),
    Json(Target),
    /// A page.
    Page(Target),
    /// A page, and one for each host.
    Pages(PageFolder),
}

enum Target {
    StandardOutput(StandardOutput),
    File(OutputFile),
}

impl Files {
    pub(super) fn open(options: &OutputOptions, common: &Common) -> Result<Self, CliError> {
        let also = options.iter().map(|(output, path)| Ok((output, OutputFile::create(path)?)));
        let also = also.collect::<Result<_, CliError>>()?;
        let target = || match &common.output {
            Some(path) => OutputFile::create(path).map(Target::File),
            None => Ok(Target::StandardOutput(StandardOutput::new(stdout()))),
        };
        // Last, since a folder is seen at once, and whatever else fails must leave none.
        let main = match (common.format, &common.output) {
            (Format::Text, _) => Main::Text(Vec::new()),
            (Format::Json, _) => Main::Json(target()?),
            (Format::Html, Some(path)) if is_folder(path) => Main::Pages(PageFolder::open(path)?),
            (Format::Html, _) => Main::Page(target()?),
        };
        Ok(Self { also, main })
    }

    /// The outputs that write to these files.
    pub(super) fn outputs(&mut self) -> Result<Outputs<'_>, CliError> {
        let mut outputs = Outputs::default();
        match &mut self.main {
            Main::Text(text) => outputs.add(SummaryText::new(Box::new(text))),
            Main::Json(target) => outputs.add(JsonLines::new(target.out())),
            Main::Page(target) => {
                outputs.add(FleetPages::new(target.out(), None, scratch().map_err(explained)?));
            }
            Main::Pages(folder) => {
                let (index, hosts) = folder.outs();
                outputs.add(FleetPages::new(index, Some(hosts), scratch().map_err(explained)?));
            }
        }
        for (output, file) in &mut self.also {
            (output.add)(&mut outputs, Box::new(file), &scratch).map_err(explained)?;
        }
        Ok(outputs)
    }

    /// Prints the summary and gives the files their names.
    pub(super) fn done(self, common: &Common) -> Result<(), CliError> {
        if let Main::Text(text) = &self.main {
            output::result(common, || (), |out| out.write_all(text))?;
        }
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

impl Target {
    fn out(&mut self) -> Box<dyn std::io::Write + Send + '_> {
        match self {
            Self::StandardOutput(out) => Box::new(out),
            Self::File(file) => Box::new(file),
        }
    }
}
