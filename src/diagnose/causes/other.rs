//! Causes of the remaining findings.

use super::{Cause, CauseKind, DiagnosisInput, Likelihood, checks, missing};
use crate::audit::{Detail, Finding, FindingKind, Severity};
use crate::base::words::short_list;
use crate::plan::DemandField;
use crate::plan::agreement::{contradicted_fields, describe_wanted};
use crate::population::{CheckBits, Population};
use crate::sources::EventKind;
use crate::units::Bytes;

pub(super) fn wrong_slot(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let (Some(here), Some(there)) = (finding.slot.as_deref(), finding.other_slot.as_deref()) else {
        return Vec::new();
    };
    let swapped = input.audit.findings.iter().any(|f| {
        f.kind == FindingKind::WrongSlot
            && f.slot.as_deref() == Some(there)
            && f.other_slot.as_deref() == Some(here)
    });
    let (what, check) = if swapped {
        ("two modules are swapped", format!("swap the modules of {here} and {there}"))
    } else {
        ("the module was put into the wrong slot", format!("move it from {here} to {there}"))
    };
    let mut result = vec![Cause::likely(
        CauseKind::Misplaced,
        what,
        "the planned module is there, in a different slot",
        check,
    )];
    result.extend(other_size(here, input));
    result.push(Cause::possible(
        CauseKind::OtherNames,
        "the slot names in the plan do not follow the board's labels",
        "some boards number slots against the order in which they are filled",
        "compare the names with the diagram inside the lid before moving anything",
    ));
    result
}

/// A second reading where the module of `name` was taken for one planned elsewhere: but for its size it could be the one
/// planned here, which is detected nowhere.
pub(super) fn other_size(name: &str, input: &DiagnosisInput<'_, '_>) -> Option<Cause> {
    let (_, wanted) = input.plan.modules().find(|(planned, _)| planned.slot == name)?;
    let module = input.population.slot(name)?.1.fitted()?;
    let lost = |finding: &Finding| {
        finding.kind == FindingKind::Missing && finding.slots.iter().any(|slot| slot == name)
    };
    let only_size = contradicted_fields(wanted, module) == [DemandField::Size.word()];
    (only_size && input.audit.findings.iter().any(lost)).then(|| {
        Cause::possible(
            CauseKind::OtherModule,
            "or another size is fitted here than planned, or half of the module is not seen",
            format!(
                "its size alone keeps the module in {name} from being the one planned there ({}), which is detected nowhere",
                describe_wanted(wanted)
            ),
            format!("read the sticker of the module in {name} before it is moved; if it is the planned one, reseat it there"),
        )
    })
}

/// From this many slots on that differ in the same fields, and three in four of all planned ones, a plan is doubted
/// before the modules (common practice, no source).
const MANY_ALIKE: usize = 4;

/// Whether nearly every planned slot contradicts the plan in the fields of `finding`.
fn nearly_all_differ(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> bool {
    let alike = input
        .audit
        .findings
        .iter()
        .filter(|other| other.kind == FindingKind::WrongModule && other.fields == finding.fields);
    let slots: usize = alike.map(|other| other.slots.len()).sum();
    slots >= MANY_ALIKE && slots * 4 >= input.plan.modules().count() * 3
}

pub(super) fn wrong_module(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let Some(name) = finding.slot.as_deref() else { return Vec::new() };
    let population = input.population;
    let mut result = Vec::new();
    let module = population.slot(name).and_then(|(_, slot)| slot.fitted());
    let only = |field| finding.fields == [field];
    if only(DemandField::Rated)
        && let Some(module) = module
        && module.rated.is_some()
        && module.rated == module.configured
    {
        result.push(Cause::possible(
            CauseKind::FirmwareHabit,
            "the firmware states the running speed in place of the rated one",
            "both speeds of this module are the same",
            format!("read the sticker of the module in {name}"),
        ));
    }
    if only(DemandField::Voltage) {
        result.push(Cause::possible(
            CauseKind::FirmwareHabit,
            "the firmware states a default in place of the module's voltage",
            "many firmwares fill this field with a constant",
            format!("read the sticker of the module in {name}"),
        ));
    }
    result.insert(0, other_module(finding, name));
    if nearly_all_differ(finding, input) {
        result.insert(
            0,
            Cause::likely(
                CauseKind::OtherPlan,
                "the plan does not describe this machine: it is another machine's, or wrong throughout",
                "nearly every planned slot differs from it in the same way",
                "compare the plan's machine and order with this one before any module is touched",
            ),
        );
    }
    result
}

/// Something else was fitted than planned.
fn other_module(finding: &Finding, name: &str) -> Cause {
    let (cause, why, check) = if finding.slots.len() > 1 {
        (
            "modules other than the planned ones were fitted",
            "their own identity shows it",
            format!(
                "read the stickers of the modules in {}; fit the planned ones, or correct the plan",
                short_list(&finding.slots)
            ),
        )
    } else {
        (
            "a module other than the planned one was fitted",
            "its own identity shows it",
            format!("read the sticker of the module in {name}; fit the planned one, or correct the plan"),
        )
    };
    Cause::likely(CauseKind::OtherModule, cause, why, check)
}

pub(super) fn unplanned() -> Vec<Cause> {
    vec![Cause::likely(
        CauseKind::LeftIn,
        "a module was left in from before, or the plan does not list it",
        "the slot is not planned to be filled",
        "take it out, or add it to the plan",
    )]
}

pub(super) fn rank_limit(finding: &Finding) -> Vec<Cause> {
    broken_rule(
        finding,
        "more modules or ranks than a channel drives",
        "take a module out, or use modules with fewer ranks; see the population rules in the service manual",
    )
}

pub(super) fn slot_order(finding: &Finding) -> Vec<Cause> {
    broken_rule(
        finding,
        "a slot was skipped, or modules are in the wrong order",
        "move the module to the channel's first free slot, those with more ranks first",
    )
}

pub(super) fn mixed_kinds(finding: &Finding) -> Vec<Cause> {
    broken_rule(
        finding,
        "modules of different kinds were put together",
        "use modules of one kind that the board takes",
    )
}

pub(super) fn uneven(finding: &Finding) -> Vec<Cause> {
    broken_rule(
        finding,
        "the number of modules does not divide evenly over the channels",
        "use one module, or the same number, in every channel",
    )
}

fn broken_rule(finding: &Finding, what: &str, check: &str) -> Vec<Cause> {
    vec![Cause::likely(CauseKind::BrokenRule, what, finding.expected.clone(), check)]
}

pub(super) fn ecc_off(population: &Population<'_>) -> Vec<Cause> {
    let mut result = Vec::new();
    let plain: Vec<String> = population
        .fitted()
        .filter(|(_, module)| module.check_bits == CheckBits::None)
        .map(|(slot, _)| slot.name.to_string())
        .collect();
    if !plain.is_empty() {
        result.push(Cause::likely(
            CauseKind::NoCheckBits,
            "a module without check bits turns correction off for all",
            format!("no check bits in {}", short_list(&plain)),
            "replace it with an ECC module",
        ));
    }
    result.push(Cause::possible(
        CauseKind::Setting,
        "correction is switched off, the processor cannot do it, or the firmware reports it wrongly",
        "modules with check bits are there",
        "look at the ECC setting in the firmware setup and at the processor's data sheet",
    ));
    result
}

pub(super) fn duplicate_serial() -> Vec<Cause> {
    vec![
        Cause::likely(
            CauseKind::OtherModule,
            "one of the two is not what it says: its contents were copied from the other, or its label was",
            "a maker gives each module a serial number of its own",
            "compare the serial numbers on both stickers; put a module aside whose sticker says another one",
        ),
        Cause::possible(
            CauseKind::FirmwareHabit,
            "the firmware states the serial number of one module for both",
            "some firmware copies what it read from another slot",
            "exchange one of the two with a third module, start the machine and print the listing again",
        ),
    ]
}

pub(super) fn unproven(finding: &Finding) -> Vec<Cause> {
    match &finding.detail {
        Detail::Visible(_) => planned_mode(),
        Detail::CutCapture => cut_capture(),
        Detail::None | Detail::Reported { .. } => not_stated(finding.fields.first().copied()),
    }
}

fn planned_mode() -> Vec<Cause> {
    vec![Cause::likely(
        CauseKind::RankSparing,
        "the planned mode keeps part of the memory back",
        "how much is only known by the ranks in each channel",
        "name the board with `--board`, or look at the memory mode in the firmware setup",
    )]
}

fn cut_capture() -> Vec<Cause> {
    vec![Cause::likely(
        CauseKind::Damage,
        "the file was cut while copying, or changed",
        "a capture ends with its end line, and each of its sections can be read",
        "take it again on the server: `asfitted capture`",
    )]
}

fn not_stated(field: Option<DemandField>) -> Vec<Cause> {
    let (why, check) = match field {
        Some(DemandField::Width) => (
            "SMBIOS has no field for the chip width",
            "read it off the stickers, demand the part number as well, or write `waive: [width]` into the plan",
        ),
        Some(DemandField::Speed) => (
            "the field exists since SMBIOS 2.7",
            "read the memory speed in the firmware setup, or write `waive: [speed]` into the plan",
        ),
        Some(DemandField::Presence) => (
            "the listing is damaged, or says nothing of the slot",
            "print the listing again, or inspect the slot",
        ),
        Some(DemandField::Machine) => (
            "the firmware prints no such mark, or it was scrubbed",
            "read it off the machine, or write `waive: [machine]` into the plan",
        ),
        Some(DemandField::Kind) => (
            "firmware often leaves out whether a module is registered or load-reduced",
            "read the sticker, or write `waive: [kind]` into the plan",
        ),
        Some(DemandField::Serial | DemandField::Part | DemandField::Maker) => (
            "the firmware prints no identity, or it was scrubbed",
            "read the sticker, or print the listing again on the machine itself",
        ),
        _ => (
            "the firmware is old or leaves the field unstated",
            "read the sticker or the firmware setup, or waive the field in the plan",
        ),
    };
    vec![Cause::likely(CauseKind::NotStated, "the listing does not state it", why, check)]
}

pub(super) fn damage() -> Vec<Cause> {
    vec![Cause::likely(
        CauseKind::Damage,
        "the table in the firmware is malformed, or the file was cut while copying",
        "dmidecode stopped early or announced more than it printed",
        "print the listing again as root into a fresh file; if it breaks at the same line, update the firmware",
    )]
}

/// More corrected errors than this of one module within a day are a reason to replace it: Sun Fire X4140, X4240 and
/// X4440 Servers Diagnostics Guide, "DIMM Fault".
const CORRECTED_LET_PASS: u64 = 24;

/// Whether the errors call for another module at once. Any entry of the limit or beyond what can be corrected does:
/// IBM, Troubleshooting memory issues (System x), the first step.
fn is_repeated(finding: &Finding) -> bool {
    let grave = [EventKind::LoggingLimit, EventKind::UncorrectableEcc, EventKind::UnrecoverableFailure];
    finding.severity() == Severity::Fault
        || finding.events().iter().any(|event| grave.contains(event))
        || finding.corrected() > CORRECTED_LET_PASS
}

/// Whether nothing is known but that something about memory was logged or counted.
fn is_unread(finding: &Finding) -> bool {
    finding.severity() == Severity::Unproven
        && finding.fields.is_empty()
        && finding.events().is_empty()
        && finding.state().is_none()
        && finding.corrected() == 0
}

fn contact(place: &str, likelihood: Likelihood) -> Cause {
    let check = match likelihood {
        Likelihood::Likely => format!(
            "save the log, clear it and the counters, run a memory test and watch {place}; if errors return, reseat it and look at its contacts"
        ),
        Likelihood::Possible => format!("reseat {place}, look at its contacts and those of its slot"),
    };
    Cause::new(
        CauseKind::Contact,
        likelihood,
        "poor contact: the module is not fully seated, or there is dirt on its contacts or in the slot",
        "on a module that was just fitted this shows first as corrected errors",
        check,
    )
}

pub(super) fn memory_errors(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let place = finding.slot.as_deref().unwrap_or("the module");
    let hot = [EventKind::Throttled, EventKind::CriticalOvertemperature];
    let mut result: Vec<Cause> = missing::refused(finding, input).into_iter().collect();
    if finding.events().iter().any(|event| hot.contains(event)) {
        result.push(Cause::likely(
            CauseKind::Setting,
            "the module runs too hot",
            "the event log states it",
            "look for missing air shrouds and blanking panels, and for fans that do not turn",
        ));
    }
    if is_unread(finding) {
        result.push(Cause::likely(
            CauseKind::NotStated,
            "what the row or the counter means is not known here",
            "it is about memory, and nothing says that it is harmless",
            "read it where it comes from: in the management controller's own log, with the maker's list of events",
        ));
        result.push(contact(place, Likelihood::Possible));
    } else if is_repeated(finding) {
        result.push(Cause::likely(
            CauseKind::BadModule,
            "the module is defective",
            "errors that could not be corrected, or more of them than makers let pass",
            format!(
                "save the log, then replace the module in {place}; if the errors come back, it is the slot or its channel"
            ),
        ));
        result.push(contact(place, Likelihood::Possible));
    } else {
        result.push(contact(place, Likelihood::Likely));
        result.push(Cause::possible(
            CauseKind::BadModule,
            "the module is defective",
            "errors that return after the counters were cleared stay with the module",
            "swap it with another module: if the errors follow it, it is the module; if they stay, it is the slot",
        ));
    }
    if !finding.events().is_empty() {
        result.push(Cause::possible(
            CauseKind::DifferentTimes,
            "the entries are from before the module was fitted",
            "a log is kept when modules are replaced",
            "compare their dates with the day of fitting; save the log, clear it and look again after a memory test",
        ));
    }
    result
}

pub(super) fn contradiction(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let mut result = vec![
        Cause::likely(
            CauseKind::DifferentTimes,
            "the inputs are of different machines or times",
            finding.summary.clone(),
            "take all of them again in one go: `asfitted capture`",
        ),
        Cause::possible(
            CauseKind::ModuleUnused,
            "a module is listed and not used, or used and not listed",
            "the sums differ by more than rounding",
            "compare the modules that each of them lists, one by one",
        ),
    ];
    if let Detail::Visible(seen) = finding.detail
        && input.population.totals.detected.is_some_and(|listed| listed < seen)
    {
        result.insert(0, unlisted(seen, input));
    }
    result
}

/// More is used than is listed. Where nothing says how much was meant, the tally decides against inputs that do not
/// belong together.
fn unlisted(seen: Bytes, input: &DiagnosisInput<'_, '_>) -> Cause {
    let listed = input.population.totals.detected_at_least;
    let tally = checks::tally(CauseKind::ListingWrong).unwrap_or_default();
    Cause::likely(
        CauseKind::ListingWrong,
        "the listing is wrong: it leaves out modules that are there and are used",
        format!("the operating system sees {seen}, more than the {listed} that are listed; {tally}"),
        "keep the lid closed; count the modules in the management controller or the firmware setup, and update the firmware that makes the list",
    )
}
