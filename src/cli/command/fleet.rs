//! `fleet`: many listings at once, results side by side.

use std::collections::HashMap;
use std::fs::File;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{self, BufRead, BufReader, BufWriter, IsTerminal, Seek, Write, stderr, stdout};
use std::num::NonZero;
use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Deserialize;

use crate::audit::Severity;
use crate::board::Board;
use crate::cli::arguments::{Common, FleetArguments, Format};
use crate::cli::fleet_page::PageWriter;
use crate::cli::input::Reader;
use crate::cli::output_file::{OutputFile, scratch};
use crate::cli::{CliError, Outcome, input, output};
use crate::fleet::{
    HostSummary, HostVerdict, Inputs, Limits, LoadedPlan, Manifest, Plans, Stock, Summary, audit_all,
};
use crate::population::labels;
use crate::report::{
    self, CaseCounts, Changes, FINDING_COLUMNS, FleetReport, Forms, HOST_COLUMNS, Rendered, table_head,
};

pub(super) fn run(
    arguments: &FleetArguments,
    reader: &Reader<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    keep_apart(arguments, common)?;
    // OutputFile the reading of plans and stock.
    std::thread::spawn(labels::prepare);
    let mut bad_plans = Vec::new();
    let plans = plans(arguments, reader, &mut bad_plans)?;
    let mut stock = match &arguments.stock {
        Some(path) => Stock::read(&path.display().to_string(), &reader.bytes(path)?)?,
        None => Stock::default(),
    };
    let stock_given = stock.is_given();
    let mut earlier = arguments.baseline.as_deref().map(Earlier::read).transpose()?;
    let mut writers = Writers::open(arguments, common)?;
    let mut summary = Summary::default();
    let progress = progress(arguments);
    let mut failed = None;
    let mut forms = writers.forms();
    // Hosts are compared by their lines.
    forms.json |= earlier.is_some();
    let limits = Limits::default();
    let inputs = Inputs::new(arguments.paths.clone(), &left_out(arguments, common), limits);
    let jobs = arguments.jobs.map_or_else(cores, NonZero::get);
    audit_all(
        inputs,
        &plans,
        limits,
        jobs,
        |host| report::render_host(host, forms),
        |host, rendered| {
            progress.inc(1);
            summary.add(&host);
            stock.see(&host);
            let wanted = earlier.as_mut().is_none_or(|earlier| earlier.differs(&host, &rendered.json));
            writers.see(&rendered);
            // After an error the rest is still read, so that the threads end.
            if wanted && failed.is_none() {
                failed = writers.host(&rendered).err();
            }
        },
    );
    progress.finish_and_clear();
    if let Some(error) = failed {
        return Err(error);
    }
    let stock = stock.reconcile();
    let changes = earlier.map(Earlier::changes);
    let result = FleetReport {
        summary: &summary,
        stock: &stock,
        stock_given,
        changes: changes.as_ref(),
        bad_plans: &bad_plans,
    };
    if summary.hosts == 0 {
        output::warn("found no listing below the paths, expected one at least. Check the paths");
    }
    writers.finish(&result, common)?;
    Ok(outcome(&result))
}

/// The worst of all: could not be done, deviates, unproven, as planned.
fn outcome(result: &FleetReport<'_>) -> Outcome {
    let stock = |severity| result.stock.count_of(severity) > 0;
    // Nothing audited is nothing proved.
    if result.summary.hosts == 0 {
        return Outcome::Failed;
    }
    match result.summary.worst_verdict() {
        None => Outcome::Failed,
        _ if !result.bad_plans.is_empty() => Outcome::Failed,
        Some(verdict) => match Outcome::from(verdict) {
            Outcome::Deviates => Outcome::Deviates,
            _ if stock(Severity::Fault) => Outcome::Deviates,
            Outcome::AsPlanned if stock(Severity::Unproven) => Outcome::Unproven,
            other => other,
        },
    }
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}

/// Files that this run writes.
fn results<'f>(arguments: &'f FleetArguments, common: &'f Common) -> Vec<&'f PathBuf> {
    let files = [
        &arguments.json_lines,
        &arguments.findings_table,
        &arguments.hosts_table,
        &arguments.test_report,
        &arguments.metrics,
        &common.output,
    ];
    files.into_iter().flatten().collect()
}

/// No result may take the place of an input, nor of another result.
fn keep_apart(arguments: &FleetArguments, common: &Common) -> Result<(), CliError> {
    let results = results(arguments, common);
    let inputs = [&arguments.manifest, &arguments.stock, &arguments.baseline].into_iter().flatten();
    let inputs: Vec<&PathBuf> = inputs.chain(&arguments.paths).chain(&arguments.plans).collect();
    let real = |path: &Path| path.canonicalize().ok();
    let folders: Vec<PathBuf> =
        inputs.iter().filter(|path| path.is_dir()).filter_map(|path| real(path)).collect();
    // One file can be written in many ways.
    let place = |path: &Path| {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        real(path).or_else(|| Some(real(folder)?.join(path.file_name()?))).unwrap_or_else(|| path.to_owned())
    };
    let places: Vec<PathBuf> = results.iter().map(|path| place(path)).collect();
    for (number, result) in results.iter().enumerate() {
        let is_file = result.is_file();
        let inside = is_file && folders.iter().any(|folder| places[number].starts_with(folder));
        if inside || (is_file && inputs.iter().any(|input| input::is_same_file(input, result))) {
            return Err(CliError::OutputIsInput { path: result.display().to_string() });
        }
        if places[..number].contains(&places[number]) {
            return Err(CliError::TwoResults { path: result.display().to_string() });
        }
    }
    Ok(())
}

/// Files of this run that stand among the listings and are none.
fn left_out(arguments: &FleetArguments, common: &Common) -> Vec<PathBuf> {
    let files = [&arguments.manifest, &arguments.stock, &arguments.baseline].into_iter().flatten();
    files.chain(&arguments.plans).chain(results(arguments, common)).cloned().collect()
}

/// All plans below the folders. A bad one is reported, the rest goes on.
fn plans(arguments: &FleetArguments, reader: &Reader<'_>, bad: &mut Vec<String>) -> Result<Plans, CliError> {
    let given = arguments.board.as_deref().map(|name| reader.board(name, None)).transpose()?;
    let mut paths = Vec::new();
    for root in &arguments.plans {
        std::fs::metadata(root).map_err(|reason| CliError::Read {
            path: root.display().to_string(),
            reason,
            advice: "Name a folder with plans, or one plan",
        })?;
        let walk = walkdir::WalkDir::new(root).follow_links(true).sort_by_file_name();
        for entry in walk {
            match entry {
                Ok(entry) => {
                    let path = entry.path();
                    let ends = |end: &std::ffi::OsStr| {
                        ["yaml", "yml", "json"].iter().any(|own| end.eq_ignore_ascii_case(own))
                    };
                    let is_plan = path.extension().is_some_and(ends);
                    if entry.file_type().is_file() && (is_plan || entry.depth() == 0) {
                        paths.push(path.to_owned());
                    }
                }
                Err(error) => bad.push(error.to_string()),
            }
        }
    }
    let jobs = arguments.jobs.map_or_else(cores, NonZero::get);
    let mut loaded = Vec::with_capacity(paths.len());
    let mut unread = Vec::new();
    for (path, plan) in paths.iter().zip(load_all(&paths, given.as_ref(), reader, jobs)) {
        match plan {
            Ok(plan) => loaded.push(plan),
            Err(error) => {
                bad.push(error.to_string());
                unread.push(path);
            }
        }
    }
    for reason in bad.iter() {
        output::warn(reason);
    }
    let manifest = match &arguments.manifest {
        Some(path) => Manifest::read(&path.display().to_string(), &reader.bytes(path)?)?,
        None => Manifest::default(),
    };
    let mut plans = Plans::new(loaded, manifest);
    for path in unread {
        let text = reader.bytes(path).map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
        plans.add_unread(&path.display().to_string(), &text.unwrap_or_default());
    }
    Ok(plans)
}

/// Loads plans on `jobs` threads, in the order of the paths.
fn load_all(
    paths: &[PathBuf],
    given: Option<&Board>,
    reader: &Reader<'_>,
    jobs: usize,
) -> Vec<Result<LoadedPlan, CliError>> {
    let share = paths.len().div_ceil(jobs.max(1)).max(1);
    std::thread::scope(|scope| {
        let load_share =
            |share: &[PathBuf]| share.iter().map(|path| load(path, given, reader)).collect::<Vec<_>>();
        let threads: Vec<_> =
            paths.chunks(share).map(|share| scope.spawn(move || load_share(share))).collect();
        // A thread does not panic; if it did, its plans would be missing and their hosts say so.
        threads.into_iter().flat_map(|thread| thread.join().unwrap_or_default()).collect()
    })
}

fn load(path: &Path, given: Option<&Board>, reader: &Reader<'_>) -> Result<LoadedPlan, CliError> {
    let plan = reader.plan(path)?;
    let board = reader.chosen(given.cloned(), Some((&plan, path)))?;
    Ok(LoadedPlan { plan, board })
}

/// On a terminal only: how many are done, how fast, how long it will take.
fn progress(arguments: &FleetArguments) -> ProgressBar {
    if !stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    // What comes in a stream cannot be counted beforehand.
    let countable = arguments.paths.iter().all(|path| path.is_dir());
    let files = || {
        let walks = arguments.paths.iter().flat_map(|path| walkdir::WalkDir::new(path).follow_links(true));
        walks.filter(|entry| entry.as_ref().is_ok_and(|entry| entry.file_type().is_file())).count()
    };
    let (bar, form) = if countable {
        let bar = ProgressBar::new(files() as u64);
        (bar, "{pos} of {len} hosts, {per_sec}, {eta} to go")
    } else {
        (ProgressBar::no_length(), "{pos} hosts, {per_sec}, {elapsed}")
    };
    bar.set_draw_target(ProgressDrawTarget::stderr_with_hz(4));
    if let Ok(style) = ProgressStyle::with_template(form) {
        bar.set_style(style);
    }
    bar
}

/// All outputs of one run.
struct Writers {
    main: Main,
    json_lines: Option<OutputFile>,
    findings_table: Option<OutputFile>,
    hosts_table: Option<OutputFile>,
    /// The cases wait beside until the head can be written, which counts them.
    test_report: Option<(OutputFile, File, CaseCounts)>,
    metrics: Option<OutputFile>,
}

/// Where the result itself goes.
enum Main {
    /// The summary, at the end.
    Text,
    /// Lines of JSON to standard output.
    Lines,
    /// Lines of JSON to a file.
    File(OutputFile),
    /// A page, or a folder of them.
    Page(Box<PageWriter>),
    /// Standard output was closed: nobody wants the rest.
    Closed,
}

impl Writers {
    fn open(arguments: &FleetArguments, common: &Common) -> Result<Self, CliError> {
        let beside = |path: &Option<PathBuf>| path.as_deref().map(OutputFile::create).transpose();
        let table = |path: &Option<PathBuf>, columns: &[&str]| -> Result<Option<OutputFile>, CliError> {
            let mut file = beside(path)?;
            if let Some(file) = &mut file {
                file.write(&table_head(columns))?;
            }
            Ok(file)
        };
        let test_report = match &arguments.test_report {
            Some(path) => Some((OutputFile::create(path)?, scratch()?, CaseCounts::default())),
            None => None,
        };
        Ok(Self {
            json_lines: beside(&arguments.json_lines)?,
            findings_table: table(&arguments.findings_table, FINDING_COLUMNS)?,
            hosts_table: table(&arguments.hosts_table, HOST_COLUMNS)?,
            test_report,
            metrics: beside(&arguments.metrics)?,
            // Last, since a folder is seen at once, and whatever else fails must leave none.
            main: match (common.format, &common.output) {
                (Format::Text, _) => Main::Text,
                (Format::Json, Some(path)) => Main::File(OutputFile::create(path)?),
                (Format::Json, None) => Main::Lines,
                (Format::Html, path) => Main::Page(Box::new(PageWriter::open(path.as_deref())?)),
            },
        })
    }

    fn forms(&self) -> Forms {
        Forms {
            json: self.json_lines.is_some() || matches!(self.main, Main::File(_) | Main::Lines),
            findings_table: self.findings_table.is_some(),
            hosts_table: self.hosts_table.is_some(),
            test_case: self.test_report.is_some(),
            page_row: matches!(self.main, Main::Page(_)),
            own_page: matches!(&self.main, Main::Page(page) if page.own_pages()),
        }
    }

    /// Takes note of what concerns the whole fleet, also of hosts that are not written.
    fn see(&mut self, rendered: &Rendered) {
        if let Main::Page(page) = &mut self.main {
            page.see(&rendered.page);
        }
    }

    fn host(&mut self, rendered: &Rendered) -> Result<(), CliError> {
        self.line(&rendered.json)?;
        if let Some(file) = &mut self.findings_table {
            file.write(&rendered.findings_table)?;
        }
        if let Some(file) = &mut self.hosts_table {
            file.write(&rendered.hosts_table)?;
        }
        if let Some((_, cases, counts)) = &mut self.test_report {
            cases.write_all(rendered.test_case.as_bytes())?;
            counts.add(&rendered.test_case);
        }
        if let Main::Page(page) = &mut self.main {
            page.host(&rendered.page)?;
        }
        Ok(())
    }

    fn line(&mut self, line: &[u8]) -> Result<(), CliError> {
        if let Some(file) = &mut self.json_lines {
            file.write(line)?;
        }
        match &mut self.main {
            Main::File(file) => file.write(line),
            Main::Lines => match stdout().lock().write_all(line) {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                    self.main = Main::Closed;
                    Ok(())
                }
                done => Ok(done?),
            },
            Main::Text | Main::Page(_) | Main::Closed => Ok(()),
        }
    }

    fn finish(mut self, result: &FleetReport<'_>, common: &Common) -> Result<(), CliError> {
        let last = report::fleet_json(result);
        if let Some(file) = &mut self.json_lines {
            file.write_json(&last)?;
        }
        match &mut self.main {
            Main::File(file) => file.write_json(&last)?,
            Main::Lines => last_line(&last)?,
            Main::Text | Main::Page(_) | Main::Closed => {}
        }
        if matches!(self.main, Main::Text) {
            output::result(common, || (), |out| report::write_fleet(result, out))?;
        }
        if let Some(file) = &mut self.findings_table {
            for finding in result.stock.findings() {
                file.write(&report::stock_row(&finding))?;
            }
        }
        for file in [self.json_lines, self.findings_table, self.hosts_table].into_iter().flatten() {
            file.finish()?;
        }
        if let Some((mut file, mut cases, mut counts)) = self.test_report {
            let tail = report::tests_tail(result);
            counts.add(&tail);
            cases.rewind()?;
            file.write(report::tests_head(counts).as_bytes())?;
            io::copy(&mut cases, file.out())?;
            file.write(tail.as_bytes())?;
            file.finish()?;
        }
        if let Some(mut file) = self.metrics {
            file.write(report::fleet_metrics(result).as_bytes())?;
            file.finish()?;
        }
        // Last, so that a folder is there only if all the rest is.
        match self.main {
            Main::File(file) => file.finish(),
            Main::Page(page) => page.finish(result),
            Main::Text | Main::Lines | Main::Closed => Ok(()),
        }
    }
}

/// The line of the fleet to standard output, without making it up in memory.
fn last_line(last: &report::FleetJson<'_>) -> Result<(), CliError> {
    let mut out = BufWriter::new(stdout().lock());
    let written = serde_json::to_writer(&mut out, last).map_err(io::Error::from);
    output::ended(written.and_then(|()| out.write_all(b"\n")).and_then(|()| out.flush()))
}

/// An earlier run: what each host came to, as a number.
struct Earlier {
    hosts: HashMap<String, (u64, bool)>,
    changes: Changes,
}

/// The parts of a line of JSON by which hosts are found again.
#[derive(Debug, Deserialize)]
struct EarlierLine {
    format: String,
    listing: Option<EarlierName>,
}

#[derive(Debug, Deserialize)]
struct EarlierName {
    name: String,
}

/// A line as a number: whatever an audit says of a host is in it.
fn digest(line: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    line.trim_ascii().hash(&mut hasher);
    hasher.finish()
}

impl Earlier {
    fn read(path: &Path) -> Result<Self, CliError> {
        let name = path.display().to_string();
        let unread = |reason| CliError::Read { path: name.clone(), reason, advice: "Check the path" };
        // One line at a time: the results of a large fleet are larger than memory should be.
        let reader = BufReader::new(File::open(path).map_err(unread)?);
        let mut hosts = HashMap::new();
        for (number, line) in (1u32..).zip(reader.split(b'\n')) {
            let line = line.map_err(unread)?;
            if line.trim_ascii().is_empty() {
                continue;
            }
            let read: EarlierLine = serde_json::from_slice(&line).map_err(|error| CliError::Baseline {
                path: name.clone(),
                line: number,
                reason: error.to_string(),
            })?;
            let Some(listing) = read.listing.filter(|_| read.format != "asfitted.fleet") else { continue };
            hosts.insert(listing.name, (digest(&line), false));
        }
        Ok(Self { hosts, changes: Changes { since: name, ..Changes::default() } })
    }

    /// Whether a host came out otherwise than before; notes it.
    fn differs(&mut self, host: &HostSummary, line: &[u8]) -> bool {
        let word = match &host.verdict {
            HostVerdict::Audited(verdict) => verdict.word(),
            HostVerdict::NotDone(_) => "not-audited",
        };
        match self.hosts.get_mut(&host.name) {
            Some((before, seen)) => {
                *seen = true;
                if *before == digest(line) {
                    return false;
                }
                self.changes.changed.push((host.name.clone(), word));
            }
            None => self.changes.new.push((host.name.clone(), word)),
        }
        true
    }

    fn changes(self) -> Changes {
        let mut changes = self.changes;
        let gone = self.hosts.into_iter().filter(|(_, (_, seen))| !seen);
        changes.gone = gone.map(|(name, _)| name).collect();
        changes.gone.sort_unstable();
        changes
    }
}
