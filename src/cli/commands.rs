//! One function per command: read, compute in the library, write.

use std::path::Path;

use clap::CommandFactory;

use super::arguments::{
    Arguments, BoardChoice, BoardsCommand, Command, Common, Format, Generate, Listing, Others, PlanCommand,
    WorkFile,
};
use super::{CliError, Outcome, input, output};
use crate::board::Board;
use crate::diagnose::{self, DiagnosisInput, FittedClaim, Flow, Suspicion};
use crate::evidence::Text;
use crate::place::Placed;
use crate::plan::Plan;
use crate::report::{self, AuditReport, DiagnosisReport, Subject};
use crate::sources::Sources;
use crate::units::Bytes;
use crate::{audit, board, check, compare, demo, place, plan, population, records};

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, CliError> {
    let common = &arguments.common;
    // Before anything is read or done.
    if common.format == Format::Html && !has_page(&arguments.command) {
        return Err(CliError::NoPage);
    }
    match &arguments.command {
        Command::Demo { files: None } => demo_audit(common),
        Command::Demo { files: Some(folder) } => demo_files(folder, common),
        Command::Show { listing, board } => show(listing, board, common),
        Command::Audit { listing, plan, board, others, work } => {
            if input::is_standard_input(&listing.path) && input::is_standard_input(plan) {
                return Err(CliError::TwiceStandardInput);
            }
            let board = board.name.as_deref().map(|name| input::board(name, None)).transpose()?;
            let path = plan;
            let plan = input::plan(path)?;
            let board = match (board, plan.board.as_deref()) {
                (None, Some(name)) => Some(input::board(name, Some(path))?),
                (board, _) => board,
            };
            let text = input::text(&listing.path)?;
            let sources = input::sources(&text, &others.files)?;
            let beside = Beside { board: board.as_ref(), sources: &sources, work };
            audit_text(&text, listing.nth, plan, &beside, common)
        }
        Command::Diagnose { listing, fitted, plan, board, others, work } => {
            let inputs = DiagnoseInputs { listing, fitted, plan: plan.as_deref(), board, others, work };
            diagnose_listing(&inputs, common)
        }
        Command::Fleet(arguments) => super::fleet::fleet(arguments, common),
        Command::Capture { redact, root, events } => {
            super::capture::capture(root, *redact, events.as_deref(), common)
        }
        Command::Plan(PlanCommand::From { listing, any_serial }) => plan_from(listing, *any_serial, common),
        Command::Plan(PlanCommand::Check { plan, board }) => plan_check(plan, board, common),
        Command::Plan(PlanCommand::Place { plan, board, why }) => plan_place(plan, board, *why, common),
        Command::Boards(BoardsCommand::List) => boards_list(common),
        Command::Boards(BoardsCommand::Print { board }) => boards_print(board, common),
        Command::Boards(BoardsCommand::Derive(listing)) => boards_derive(listing, common),
        Command::Compare { before, after } => compare_inputs(before, after, common),
        Command::Generate(what) => generate(what, common),
    }
}

/// Whether the command has a form for a browser.
fn has_page(command: &Command) -> bool {
    match command {
        Command::Demo { files } => files.is_none(),
        Command::Show { .. }
        | Command::Audit { .. }
        | Command::Diagnose { .. }
        | Command::Fleet(_)
        | Command::Compare { .. } => true,
        Command::Capture { .. } | Command::Plan(_) | Command::Boards(_) | Command::Generate(_) => false,
    }
}

fn demo_audit(common: &Common) -> Result<Outcome, CliError> {
    let text = Text::from_bytes(demo::LISTING_NAME, demo::LISTING.as_bytes().to_vec())?;
    let plan = plan::read(demo::PLAN_NAME, demo::PLAN)?;
    let beside = Beside { board: None, sources: &Sources::default(), work: &WorkFile { file: None } };
    audit_text(&text, None, plan, &beside, common)
}

fn demo_files(folder: &Path, common: &Common) -> Result<Outcome, CliError> {
    let failed = |reason| CliError::Write { path: folder.display().to_string(), reason };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let (listing, plan) = (folder.join("listing.txt"), folder.join("plan.yaml"));
    // Both are looked at first, so that a refusal leaves nothing behind.
    if let Some(there) = [&listing, &plan].into_iter().find(|path| path.exists()) {
        return Err(CliError::Exists { path: there.display().to_string() });
    }
    output::new_file(&listing, demo::LISTING.as_bytes())?;
    output::new_file(&plan, demo::PLAN.as_bytes())?;
    let text = format!("{}\n{}\n", listing.display(), plan.display());
    let files = [listing, plan];
    output::result(common, || files, |out| out.write_all(text.as_bytes()))?;
    Ok(Outcome::AsPlanned)
}

/// What an audit is given besides listing and plan.
struct Beside<'c> {
    board: Option<&'c Board>,
    sources: &'c Sources,
    work: &'c WorkFile,
}

fn audit_text(
    text: &Text,
    nth: Option<usize>,
    plan: Plan,
    beside: &Beside<'_>,
    common: &Common,
) -> Result<Outcome, CliError> {
    let Beside { board, sources, work } = *beside;
    let listing = input::listing(text, nth)?;
    let mut population = population::rebuild(&listing);
    let board = board.map(|board| board::adapt(board, &population)).transpose()?;
    if let Some(board) = &board {
        board::place_on(&mut population, board);
    }
    let (plan, placed) = place::near_to_fitted(plan, board.as_ref(), &population)?;
    let plan = audit::as_listed(&plan, &listing, &population);
    let mut audit = audit::audit_with(&listing, &population, &plan, board.as_ref(), sources)?;
    audit.notes.extend(placed);
    let subject = Subject { name: text.name(), listing: &listing, population: &population };
    let report = AuditReport { subject, plan: &plan, audit: &audit, board: board.as_ref(), sources };
    write_work(&report, work)?;
    output::result_with_page(
        common,
        || report::audit_json(&report),
        |out| report::write_audit(&report, out),
        || report::audit_page(&report),
    )?;
    Ok(audit.verdict.into())
}

fn write_work(report: &AuditReport<'_, '_>, work: &WorkFile) -> Result<(), CliError> {
    let Some(path) = &work.file else { return Ok(()) };
    let mut made = Vec::new();
    report::write_work(report, &mut made)?;
    output::unstyled_file(path, &made)
}

fn show(listing: &Listing, board: &BoardChoice, common: &Common) -> Result<Outcome, CliError> {
    let board = board.name.as_deref().map(|name| input::board(name, None)).transpose()?;
    let text = input::text(&listing.path)?;
    let listing = input::listing(&text, listing.nth)?;
    let mut population = population::rebuild(&listing);
    let board = board.map(|board| board::adapt(&board, &population)).transpose()?;
    if let Some(board) = &board {
        board::place_on(&mut population, board);
    }
    let subject = Subject { name: text.name(), listing: &listing, population: &population };
    output::result_with_page(
        common,
        || report::population_json(subject),
        |out| report::write_population(subject, out),
        || report::population_page(subject),
    )?;
    Ok(Outcome::AsPlanned)
}

/// The plan, and the board that it or the command line names.
fn plan_and_board(path: &Path, board: &BoardChoice) -> Result<(Plan, Board), CliError> {
    let plan = input::plan(path)?;
    let board = match (&board.name, &plan.board) {
        (Some(name), _) => input::board(name, None)?,
        (None, Some(name)) => input::board(name, Some(path))?,
        (None, None) => return Err(CliError::NoBoard { plan: plan.source.clone() }),
    };
    Ok((plan, board))
}

fn plan_place(path: &Path, board: &BoardChoice, why: bool, common: &Common) -> Result<Outcome, CliError> {
    let (plan, board) = plan_and_board(path, board)?;
    let (placement, outcome) = match place::place(&plan, &board)? {
        Placed::All(placement) => (Some(*placement), Outcome::AsPlanned),
        Placed::Refused(refusal) => {
            for rule in &refusal.rules {
                output::warn(&format!("the order does not fit: {rule}"));
            }
            match &refusal.largest {
                Some(_) => output::warn("the largest part that fits is placed"),
                None if refusal.too_large => output::warn(
                    "the largest part that fits was not looked for: too many different modules for an exact search. Split the order",
                ),
                None => output::warn("no part of it could be placed"),
            }
            (refusal.largest, Outcome::Deviates)
        }
    };
    let Some(placement) = placement else { return Ok(outcome) };
    match common.format {
        Format::Text | Format::Html => {
            let comments = if why { placement.reasons } else { Vec::new() };
            output::plain(common, plan::to_yaml(&placement.plan, &comments).as_bytes())?;
        }
        Format::Json => output::result(common, || plan::to_json(&placement.plan), |_| Ok(()))?,
    }
    Ok(outcome)
}

fn plan_check(path: &Path, board: &BoardChoice, common: &Common) -> Result<Outcome, CliError> {
    let (plan, board) = plan_and_board(path, board)?;
    let check = check::check_plan(&plan, &board)?;
    output::result(
        common,
        || report::plan_check_json(&plan, &board, &check),
        |out| report::write_plan_check(&plan, &board, &check, out),
    )?;
    Ok(check.verdict.into())
}

struct DiagnoseInputs<'c> {
    listing: &'c Listing,
    fitted: &'c [String],
    plan: Option<&'c Path>,
    board: &'c BoardChoice,
    others: &'c Others,
    work: &'c WorkFile,
}

/// What `--fitted` says.
fn told(fitted: &[String]) -> Result<Option<FittedClaim>, CliError> {
    let mut modules = Vec::new();
    for text in fitted {
        let bad = |found: String| CliError::Fitted { text: text.clone(), found };
        if let (Some(total), 1) = (Bytes::parse(text), fitted.len()) {
            return Ok(Some(FittedClaim::Total(total)));
        }
        let split = text.split_once(['x', 'X', '×']);
        let count = split
            .and_then(|(count, _)| count.trim().parse::<u32>().ok())
            .filter(|count| (1..=4096).contains(count));
        let (Some(count), Some((_, sticker))) = (count, split) else {
            return Err(bad("no count".to_owned()));
        };
        let wanted = plan::parse_sticker(sticker.trim()).map_err(|error| bad(error.to_string()))?;
        modules.push((count, wanted));
    }
    Ok(if modules.is_empty() { None } else { Some(FittedClaim::Modules(modules)) })
}

fn diagnose_listing(inputs: &DiagnoseInputs<'_>, common: &Common) -> Result<Outcome, CliError> {
    let told = told(inputs.fitted)?;
    let text = input::text(&inputs.listing.path)?;
    let listing = input::listing(&text, inputs.listing.nth)?;
    let mut population = population::rebuild(&listing);
    let own_plan = inputs.plan.map(input::plan).transpose()?;
    let sources = input::sources(&text, &inputs.others.files)?;
    let by_plan = own_plan.as_ref().and_then(|plan| plan.board.as_deref());
    let named = match (inputs.board.name.as_deref(), by_plan) {
        (Some(name), _) => Some(input::board(name, None)?),
        (None, Some(name)) => Some(input::board(name, inputs.plan)?),
        (None, None) => None,
    };
    let named = named.map(|board| board::adapt(&board, &population)).transpose()?;
    let derived = board::from_population("labels", &population);
    let board = named.clone().or_else(|| derived.complete.then_some(derived.board));
    if let Some(board) = &named {
        board::place_on(&mut population, board);
    }
    let (own_plan, placed) = match own_plan {
        Some(plan) => {
            let (plan, placed) = place::near_to_fitted(plan, named.as_ref(), &population)?;
            (Some(plan), placed)
        }
        None => (None, None),
    };
    let plan_given = own_plan.is_some();
    let planned = own_plan.as_ref().and_then(Plan::planned_total);
    // With a plan, what is missing is known, and nothing need be guessed.
    let suspicion = told.as_ref().filter(|_| own_plan.is_none()).map(|told| {
        let missing = diagnose::missing(told, &population, &listing);
        match &board {
            Some(board) => diagnose::suspects(board, &population, missing),
            None => Suspicion { missing, ways: Vec::new(), open: true },
        }
    });
    // Without a plan, what is detected and the most plausible rest stand in for it.
    let plan = own_plan.unwrap_or_else(|| diagnose::assumed_plan(&listing, &population, suspicion.as_ref()));
    let plan = audit::as_listed(&plan, &listing, &population);
    let mut audit = audit::audit_with(&listing, &population, &plan, named.as_ref(), &sources)?;
    audit.notes.extend(placed);
    let input = DiagnosisInput { audit: &audit, population: &population, plan: &plan, sources: &sources };
    let told = told.as_ref().and_then(FittedClaim::total);
    let stages = diagnose::waterfall(&Flow { told, planned, input });
    let subject = Subject { name: text.name(), listing: &listing, population: &population };
    let report = DiagnosisReport {
        audit: AuditReport { subject, plan: &plan, audit: &audit, board: named.as_ref(), sources: &sources },
        stages: &stages,
        suspicion: suspicion.as_ref(),
        plan_given,
        board_known: board.is_some(),
    };
    write_work(&report.audit, inputs.work)?;
    output::result_with_page(
        common,
        || report::diagnosis_json(&report),
        |out| report::write_diagnosis(&report, out),
        || report::diagnosis_page(&report),
    )?;
    Ok(if report.loses() { Outcome::Deviates } else { audit.verdict.into() })
}

fn boards_list(common: &Common) -> Result<Outcome, CliError> {
    let names: Vec<&str> = board::CLASSES.iter().map(|class| class.name).collect();
    output::result(
        common,
        || &names,
        |out| {
            for class in board::CLASSES {
                let about = board::class(class.name).and_then(|board| board.about).unwrap_or_default();
                let (sockets, channels, slots) = class.form;
                writeln!(out, "{:<12} {sockets} x {channels} x {slots}  {about}", class.name)?;
            }
            Ok(())
        },
    )?;
    Ok(Outcome::AsPlanned)
}

fn boards_print(name: &str, common: &Common) -> Result<Outcome, CliError> {
    let mut board = input::board(name, None)?;
    // All rules are wanted, also those that come with the class.
    board.class = None;
    output::plain(common, board::to_yaml(&board, &[]).as_bytes())?;
    Ok(Outcome::AsPlanned)
}

fn boards_derive(listing: &Listing, common: &Common) -> Result<Outcome, CliError> {
    let text = input::text(&listing.path)?;
    let listing = input::listing(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    let product = listing.boards.first().and_then(|board| board.product.get());
    let derived = board::from_population(product.unwrap_or("board"), &population);
    for doubt in &derived.board.unproven {
        output::warn(&format!("not proved: {doubt}"));
    }
    let comments = vec![
        format!("Derived from the labels in {}.", text.name()),
        "Compare it with the diagram in the lid: slots in the order of filling, first slot first.".to_owned(),
    ];
    output::plain(common, board::to_yaml(&derived.board, &comments).as_bytes())?;
    Ok(Outcome::AsPlanned)
}

fn plan_from(listing: &Listing, any_serial: bool, common: &Common) -> Result<Outcome, CliError> {
    let text = input::text(&listing.path)?;
    let listing = input::listing(&text, listing.nth)?;
    let population = population::rebuild(&listing);
    if population.slots.is_empty() {
        return Err(CliError::NoSlots { path: text.name().to_owned() });
    }
    let derived = plan::from_population(&listing, &population, any_serial);
    if !derived.plan.demands_anything() {
        return Err(CliError::NothingToPlan { path: text.name().to_owned() });
    }
    for caution in &derived.cautions {
        output::warn(caution);
    }
    let mut comments = vec![format!("Derived from {}; the listing fulfils this plan exactly.", text.name())];
    comments.extend(derived.cautions);
    let yaml = plan::to_yaml(&derived.plan, &comments);
    match common.format {
        Format::Text | Format::Html => output::plain(common, yaml.as_bytes())?,
        Format::Json => output::result(common, || plan::to_json(&derived.plan), |_| Ok(()))?,
    }
    Ok(Outcome::AsPlanned)
}

fn compare_inputs(before: &Path, after: &Path, common: &Common) -> Result<Outcome, CliError> {
    if input::is_standard_input(before) && input::is_standard_input(after) {
        return Err(CliError::TwiceStandardInput);
    }
    let (first, second) = (input::text(before)?, input::text(after)?);
    let after_listing = input::listing(&second, None)?;
    let after = population::rebuild(&after_listing);
    // A plan is recognised by its content: it holds no record.
    let is_plan = records::read(&first).iter().all(records::Listing::is_empty);
    let mut notes = Vec::new();
    let comparison = if is_plan {
        compare::plan_with(&plan::read(first.name(), first.as_str())?, &after)
    } else {
        let before = input::listing(&first, None)?;
        notes.extend(compare::other_machine(&before, &after_listing));
        compare::populations(&population::rebuild(&before), &after)
    };
    for note in &notes {
        output::warn(note);
    }
    let (a, b) = (first.name(), second.name());
    output::result_with_page(
        common,
        || report::comparison_json(a, b, &comparison, &notes),
        |out| report::write_comparison(a, b, &comparison, &notes, out),
        || report::comparison_page(a, b, &comparison, &notes, &after),
    )?;
    Ok(if comparison.changes.is_empty() { Outcome::AsPlanned } else { Outcome::Deviates })
}

fn generate(what: &Generate, common: &Common) -> Result<Outcome, CliError> {
    let mut command = Arguments::command();
    let mut bytes = Vec::new();
    match what {
        Generate::Completions { shell } => {
            clap_complete::generate(*shell, &mut command, "asfitted", &mut bytes);
        }
        Generate::Man => clap_mangen::Man::new(command).render(&mut bytes)?,
        #[cfg(feature = "schema")]
        Generate::Schema { of } => {
            use super::arguments::SchemaOf;
            let schema = match of {
                SchemaOf::Plan => plan::schema(),
                SchemaOf::Audit => schemars::schema_for!(report::AuditJson).to_value(),
                SchemaOf::Population => schemars::schema_for!(report::PopulationJson).to_value(),
                SchemaOf::Board => board::schema(),
                SchemaOf::Diagnosis => schemars::schema_for!(report::DiagnosisJson).to_value(),
                SchemaOf::Capture => schemars::schema_for!(report::CaptureJson).to_value(),
                SchemaOf::Fleet => schemars::schema_for!(report::FleetJson).to_value(),
                SchemaOf::NotAudited => schemars::schema_for!(report::NotAuditedJson).to_value(),
                SchemaOf::PlanCheck => schemars::schema_for!(report::PlanCheckJson).to_value(),
                SchemaOf::Comparison => schemars::schema_for!(report::ComparisonJson).to_value(),
            };
            serde_json::to_writer_pretty(&mut bytes, &schema).map_err(std::io::Error::from)?;
            bytes.push(b'\n');
        }
    }
    output::plain(common, &bytes)?;
    Ok(Outcome::AsPlanned)
}
