//! Fifth stage: the population against the plan. One cause gives one finding; causes are not guessed at here.

mod assignment;
mod board;
mod differences;
mod finding;
mod machine;
mod matching;
mod names;
mod placement;
mod sources;

pub use crate::evidence::Evidence;
pub(crate) use assignment::{Costs, assign};
pub(crate) use differences::{describe_found, describe_wanted};
pub(crate) use finding::list;
pub use finding::{Detail, Finding, FindingInfo, FindingKind, Severity, Verdict};
pub(crate) use matching::distance;

pub use board::{processors, violation_finding};
pub use names::as_listed;

use crate::board::{Board, Prediction, Raise};
use crate::evidence::{Place, Source};
use crate::plan::{ModuleSpec, Plan, PlannedSlot};
use crate::population::{Module, Population, identity};
use crate::records::{Listing, MemoryDevice};
use crate::sources::Sources;
use crate::yaml::{FileError, did_you_mean};

/// The fields in which a found module differs from a planned one or leaves a demand open, by their words.
pub(crate) fn differing_fields(wanted: &ModuleSpec, found: &Module<'_>) -> Vec<&'static str> {
    differences::compare(wanted, found).into_iter().map(|(field, _)| field.word()).collect()
}

/// Whether nothing that the listing states about a module contradicts the demand.
pub(crate) fn could_be(wanted: &ModuleSpec, found: &Module<'_>) -> bool {
    differences::agrees(&differences::compare(wanted, found))
}

/// What all checks look at.
struct Context<'c, 'a> {
    listing: &'c Listing<'a>,
    population: &'c Population<'a>,
    plan: &'c Plan,
    board: Option<&'c Board>,
    sources: &'c Sources,
}

impl<'c, 'a> Context<'c, 'a> {
    fn name(&self, slot: usize) -> String {
        self.population.slots[slot].name.to_string()
    }

    fn device(&self, slot: usize) -> &'c MemoryDevice<'a> {
        &self.listing.devices[self.population.slots[slot].device]
    }

    /// Slots with a module that gives memory, by index.
    fn fitted(&self) -> impl Iterator<Item = (usize, &'c Module<'a>)> {
        self.population
            .slots
            .iter()
            .enumerate()
            .filter_map(|(index, slot)| slot.fitted().map(|module| (index, module)))
    }

    fn evidence(&self, places: impl IntoIterator<Item = Option<Place>>) -> Vec<Evidence> {
        let line = |place: Place| Evidence {
            source: Source::Listing,
            line: place.line,
            text: self.listing.line(place).to_owned(),
        };
        places.into_iter().flatten().map(line).collect()
    }
}

/// The result of comparing a population with a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Audit {
    /// The verdict that the findings give.
    pub verdict: Verdict,
    /// What deviates or stays open, in the order of [`FindingKind`], then of the slots on the board.
    pub findings: Vec<Finding>,
    /// What the board's rules lead to expect of what is fitted; `None` without a board.
    pub prediction: Option<Prediction>,
    /// Single changes that would let what is fitted run faster; empty without a board.
    pub lifts: Vec<Raise>,
    /// Things to know that decide nothing.
    pub notes: Vec<String>,
}

impl Audit {
    /// The number of findings of one severity.
    pub fn count(&self, severity: Severity) -> usize {
        self.findings.iter().filter(|finding| finding.severity() == severity).count()
    }
}

/// Compares `population`, rebuilt from `listing`, with `plan`.
///
/// # Errors
/// [`FileError`] where the plan cannot belong to this listing: it names a slot that the listing does not have,
/// or another machine.
pub fn audit(listing: &Listing<'_>, population: &Population<'_>, plan: &Plan) -> Result<Audit, FileError> {
    audit_with(listing, population, plan, None, &Sources::default())
}

/// As [`audit`], with a board whose slots are those of the listing (see [`crate::board::adapt`]): its rules
/// are checked and its speeds expected.
///
/// # Errors
/// As [`audit`].
pub fn audit_on(
    listing: &Listing<'_>,
    population: &Population<'_>,
    plan: &Plan,
    board: Option<&Board>,
) -> Result<Audit, FileError> {
    audit_with(listing, population, plan, board, &Sources::default())
}

/// As [`audit_on`], with other sources of evidence.
///
/// # Errors
/// As [`audit`].
pub fn audit_with(
    listing: &Listing<'_>,
    population: &Population<'_>,
    plan: &Plan,
    board: Option<&Board>,
    sources: &Sources,
) -> Result<Audit, FileError> {
    if !plan.order.is_empty() {
        return Err(FileError {
            file: plan.source.clone(),
            line: None,
            found: "an `order` without slots".to_owned(),
            expected: "modules in slots".to_owned(),
            advice: "Name its board (`--board NAME|FILE`, or `board` in the plan), or turn it into slots: `asfitted plan place PLAN`.".to_owned(),
        });
    }
    check_machine(listing, plan)?;
    let plan = &*as_listed(plan, listing, population);
    check_slots(listing, population, plan)?;
    let context = Context { listing, population, plan, board, sources };
    let matching = matching::match_modules(plan, population);
    let mut findings = placement::findings(&context, &matching);
    let placed = findings.is_empty();
    findings.extend(machine::clocked_down(&context));
    findings.extend(machine::short_total(&context, &matching));
    findings.extend(machine::ecc_off(&context));
    findings.extend(machine::damaged(&context));
    findings.extend(machine::unproven(&context, &matching));
    let mut notes = Vec::new();
    let (mut prediction, mut lifts) = (None, Vec::new());
    if let Some(board) = board {
        findings.extend(board::broken_rules(&context, board, placed));
        let expected = board::expectation(board, population);
        if plan.expect.speed.is_none() {
            findings.extend(board::clocked_down(&context, &expected));
        }
        notes.extend(expected.notes.iter().cloned());
        lifts = board::lifts_of(board, population);
        prediction = Some(expected);
    } else if plan.expect.speed.is_none() {
        notes.extend(not_judged(population));
    }
    sources::add(&context, &mut findings);
    notes.extend(limited(sources));
    notes.extend(sources.not_read.iter().map(|line| format!("not captured: {line}")));
    sort(&mut findings, population);
    Ok(Audit { verdict: Verdict::of(&findings), findings, prediction, lifts, notes })
}

/// A limit on the kernel's command line, where no other source says what came of it.
fn limited(sources: &Sources) -> Option<String> {
    let (parameter, _) = sources.command_line.as_ref()?.limit()?;
    sources.meminfo.is_none().then(|| format!("the kernel was started with `{}`", parameter.text))
}

/// Modules below their rating, where neither plan nor board say what to expect.
fn not_judged(population: &Population<'_>) -> Option<String> {
    let below = |module: &Module<'_>| {
        module.configured.zip(module.rated).is_some_and(|(runs, rated)| runs.below(rated))
    };
    let count = population.fitted().filter(|(_, module)| below(module)).count();
    (count > 0).then(|| {
        format!(
            "{count} of {} modules run below their rating; no board description, so not judged",
            population.totals.fitted
        )
    })
}

fn sort(findings: &mut [Finding], population: &Population<'_>) {
    if findings.len() < 2 {
        return;
    }
    let order = population.in_board_order();
    let rank = |finding: &Finding| {
        let slot = finding.slot.as_deref().and_then(|name| population.slot(name)).map(|(index, _)| index);
        (finding.kind, slot.and_then(|slot| order.iter().position(|index| *index == slot)))
    };
    findings.sort_by_cached_key(rank);
}

/// A plan for another machine must not judge this one.
fn check_machine(listing: &Listing<'_>, plan: &Plan) -> Result<(), FileError> {
    let system = listing.systems.first();
    let board = listing.boards.first();
    let marks = [
        ("serial", &plan.machine.serial, vec![system.map(|s| s.serial), board.map(|b| b.serial)]),
        ("asset_tag", &plan.machine.asset_tag, vec![board.map(|b| b.asset_tag)]),
        ("product", &plan.machine.product, vec![system.map(|s| s.product), board.map(|b| b.product)]),
    ];
    for (key, wanted, fields) in marks {
        let Some(wanted) = wanted else { continue };
        let stated: Vec<_> = fields
            .into_iter()
            .flatten()
            .filter_map(|field| Some((identity::clean(field.get()?)?, field.place()?)))
            .collect();
        let Some((found, place)) = stated.first() else { continue };
        if !stated
            .iter()
            .any(|(text, _)| identity::collapse(text).eq_ignore_ascii_case(&identity::collapse(wanted)))
        {
            return Err(FileError {
                file: plan.source.clone(),
                line: None,
                found: format!("`machine: {key}: {wanted}`"),
                expected: format!("`{found}`, which the listing states in line {}", place.line),
                advice: "Take the plan of this machine, or the listing of the other one.".to_owned(),
            });
        }
    }
    Ok(())
}

/// Every slot that the plan names must be one of the listing, unless the listing can explain its absence:
/// damage, a socket whose slots it does not list at all, or a firmware that gives an empty slot no label.
fn check_slots(listing: &Listing<'_>, population: &Population<'_>, plan: &Plan) -> Result<(), FileError> {
    let mut nameless = population.slots.iter().filter(|slot| slot.is_nameless()).count();
    for planned in &plan.slots {
        if population.slot(&planned.slot).is_some()
            || listing.may_miss_records()
            || on_an_unlisted_socket(population, planned)
        {
            continue;
        }
        if nameless == 0 {
            return Err(no_such_slot(population, plan, planned));
        }
        nameless -= 1;
    }
    Ok(())
}

/// Whether the slot belongs, by analogy with the listed slots, to a socket of which the listing shows none.
/// Firmware often lists no slots for a socket without a processor.
fn on_an_unlisted_socket(population: &Population<'_>, planned: &PlannedSlot) -> bool {
    let mut listed: Vec<u16> = population.slots.iter().filter_map(|slot| slot.location.socket).collect();
    listed.sort_unstable();
    listed.dedup();
    population.sockets.len() > listed.len()
        && socket_by_analogy(population, &planned.slot).is_some_and(|socket| !listed.contains(&socket))
}

/// The socket of a slot that the listing does not have: where in all listed names of the same shape the same
/// number is the socket's, that number in this name is its socket's too.
fn socket_by_analogy(population: &Population<'_>, name: &str) -> Option<u16> {
    let shape = shape(name);
    let own = numbers(name);
    let kin: Vec<(Vec<u16>, u16)> = population
        .slots
        .iter()
        .filter(|slot| self::shape(&slot.name) == shape)
        .map(|slot| slot.location.socket.map(|socket| (numbers(&slot.name), socket)))
        .collect::<Option<_>>()?;
    let is_socket = |at: &usize| kin.iter().all(|(numbers, socket)| numbers.get(*at) == Some(socket));
    let at = (0..own.len()).find(is_socket).filter(|_| !kin.is_empty())?;
    own.get(at).copied()
}

/// A name with its numbers, and the single letters before them, left open.
fn shape(name: &str) -> String {
    let mut shape = String::with_capacity(name.len());
    for c in name.chars() {
        if !c.is_ascii_digit() {
            shape.push(c);
        } else if !shape.ends_with('#') {
            if shape.ends_with(|c: char| c.is_ascii_uppercase()) {
                shape.pop();
                shape.push('@');
            }
            shape.push('#');
        }
    }
    shape
}

/// The numbers in a name.
fn numbers(name: &str) -> Vec<u16> {
    name.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok()).collect()
}

fn no_such_slot(population: &Population<'_>, plan: &Plan, planned: &PlannedSlot) -> FileError {
    let names = population.slots.iter().map(|slot| slot.name.as_ref());
    let suggestion = did_you_mean(&planned.slot, names.clone());
    let shown: Vec<&str> = names.take(8).collect();
    let more = population.slots.len().saturating_sub(shown.len());
    let expected = match (shown.len(), more) {
        (0, _) => "a slot of the listing, which has none for memory".to_owned(),
        (_, 0) => format!("one of {}", shown.join(", ")),
        _ => format!("one of {} and {more} more", shown.join(", ")),
    };
    let advice = if suggestion.is_empty() {
        "Correct the name; `asfitted show LISTING` prints all slots.".to_owned()
    } else {
        suggestion
    };
    FileError {
        file: plan.source.clone(),
        line: Some(planned.line).filter(|line| *line > 0),
        found: format!("slot `{}`", planned.slot),
        expected,
        advice,
    }
}
