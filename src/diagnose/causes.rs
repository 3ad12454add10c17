//! Causes of findings with the next check for each.

use crate::audit::{Audit, Finding, FindingKind, list};
use crate::board::{Limit, LimitKind, Prediction};
use crate::plan::{DemandField, Plan};
use crate::population::{Population, Slot};
use crate::records::enums::ProcessorStatus;
use crate::units::TransferRate;

/// How likely a cause is, judged by the pattern of the findings alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Likelihood {
    /// Check this first.
    Likely,
    /// Check this next.
    Possible,
}

impl Likelihood {
    /// The word for reports and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Likely => "likely",
            Self::Possible => "possible",
        }
    }
}

/// One possible cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cause {
    /// What may have happened.
    pub cause: String,
    /// How likely.
    pub likelihood: Likelihood,
    /// What in the evidence speaks for it.
    pub why: String,
    /// What to do with one's hands or eyes to know.
    pub check: String,
}

/// The usual cautions before a machine is opened. They do not replace the maker's instructions.
pub const CAUTIONS: &[&str] = &[
    "The maker's service manual and local rules come first; leave the work to qualified staff.",
    "Shut down, switch off and pull every mains plug; wait for the board's standby light to go out.",
    "Wear an earthed ESD strap; hold modules by their edges and keep them in ESD bags.",
    "Heat sinks and modules can be hot after running: let them cool.",
    "Mind the key notch, never force a module; press until both latches click.",
];

fn cause(likelihood: Likelihood, cause: &str, why: impl Into<String>, check: impl Into<String>) -> Cause {
    Cause { cause: cause.to_owned(), likelihood, why: why.into(), check: check.into() }
}

/// Possible causes of `finding`, the likeliest first, given the whole audit.
pub fn causes(finding: &Finding, audit: &Audit, population: &Population<'_>, plan: &Plan) -> Vec<Cause> {
    let all = &audit.findings;
    match finding.kind {
        FindingKind::Missing => missing(finding, all, population, plan),
        FindingKind::NotRunning => not_running(finding),
        FindingKind::WrongSlot => wrong_slot(finding, all),
        FindingKind::WrongModule => wrong_module(finding, population),
        FindingKind::Unplanned => unplanned(),
        FindingKind::ClockedDown => clocked_down(audit, population, plan),
        FindingKind::RankLimit | FindingKind::SlotOrder | FindingKind::MixedKinds | FindingKind::Uneven => {
            rule(finding)
        }
        FindingKind::ShortTotal => short_total(),
        FindingKind::NoCpu => no_cpu(),
        FindingKind::EccOff => ecc_off(population),
        FindingKind::Unproven => unproven(finding),
        FindingKind::ListingDamaged => vec![cause(
            Likelihood::Likely,
            "the table in the firmware is malformed, or the file was cut while copying",
            "the utility stopped early or announced more than it printed",
            "print the listing again as root into a fresh file; if it breaks at the same line, update the firmware",
        )],
    }
}

/// What is missing around a missing module.
enum Extent<'a> {
    Socket(u16),
    Channel(String),
    Alone(&'a str),
}

fn missing(finding: &Finding, all: &[Finding], population: &Population<'_>, plan: &Plan) -> Vec<Cause> {
    let name = finding.slot.as_deref().unwrap_or_default();
    let mut result = Vec::new();
    match extent(name, all, population, plan) {
        Extent::Socket(number) => {
            let status = population.sockets.iter().find(|s| s.number == Some(number)).and_then(|s| s.status);
            let disabled = status == Some(ProcessorStatus::Disabled);
            result.push(cause(
                Likelihood::Likely,
                "the processor of this socket does not reach its memory",
                if disabled {
                    format!("every planned module of socket {number} is missing and its processor is disabled")
                } else {
                    format!("every planned module of socket {number} is missing, none of another")
                },
                "look the processor up in the firmware setup and the event log; reseat it and inspect the socket for bent pins",
            ));
        }
        Extent::Channel(channel) => result.push(cause(
            Likelihood::Likely,
            "the channel is down: its first slot, the processor's contacts or the board",
            format!("every planned module of channel {channel} is missing, other channels are complete"),
            "fit one known-good module alone in the channel's first slot; if it stays unseen, reseat the processor and inspect the socket",
        )),
        Extent::Alone(name) => result.push(cause(
            Likelihood::Likely,
            "the module is not fully seated, or was not fitted",
            format!("{name} alone is empty while its neighbours are detected"),
            format!("look into {name}: if a module is there, take it out, look at its contacts and press it in until both latches click"),
        )),
    }
    result.push(cause(
        Likelihood::Possible,
        "the module or the slot is defective",
        "it is detected nowhere",
        "exchange it with a module that is detected: if the gap follows the module, it is the module; if it stays, it is the slot",
    ));
    result
}

fn extent<'n>(name: &'n str, all: &[Finding], population: &Population<'_>, plan: &Plan) -> Extent<'n> {
    let Some((_, slot)) = population.slot(name) else { return Extent::Alone(name) };
    let planned: Vec<&Slot<'_>> = plan
        .modules()
        .filter_map(|(planned, _)| population.slot(&planned.slot))
        .map(|(_, slot)| slot)
        .collect();
    let gone = |slot: &Slot<'_>| {
        all.iter().any(|f| f.kind == FindingKind::Missing && f.slot.as_deref() == Some(slot.name.as_ref()))
    };
    let group = |same: &dyn Fn(&Slot<'_>) -> bool| {
        let own: Vec<_> = planned.iter().filter(|s| same(s)).collect();
        let rest_detected = planned.iter().any(|s| !same(s) && !gone(s));
        own.len() > 1 && rest_detected && own.iter().all(|s| gone(s))
    };
    let here = slot.location;
    if let Some(socket) = here.socket
        && group(&|s| s.location.socket == Some(socket))
    {
        return Extent::Socket(socket);
    }
    if let Some(channel) = here.channel
        && group(&|s| s.location.socket == here.socket && s.location.channel == here.channel)
    {
        return Extent::Channel(channel.to_string());
    }
    Extent::Alone(name)
}

fn not_running(finding: &Finding) -> Vec<Cause> {
    let name = finding.slot.as_deref().unwrap_or_default();
    vec![
        cause(
            Likelihood::Likely,
            "the module is half seated or failed its training",
            "its identity was read over the management bus, which works with poor contact on the data lines",
            format!("reseat the module in {name}; look for dirt on its contacts and in the slot"),
        ),
        cause(
            Likelihood::Possible,
            "the firmware has disabled it after errors, or does not support it here",
            "an identity without memory is also how a mapped-out module reads",
            "read the event log for this slot and clear it; look whether the module may be mixed with its neighbours",
        ),
        cause(
            Likelihood::Possible,
            "the module or the slot is defective",
            "it gives no memory",
            format!(
                "exchange it with a running neighbour: if the fault follows the module, it is the module; if it stays in {name}, it is the slot"
            ),
        ),
    ]
}

fn wrong_slot(finding: &Finding, all: &[Finding]) -> Vec<Cause> {
    let (here, there) =
        (finding.slot.as_deref().unwrap_or_default(), finding.other_slot.as_deref().unwrap_or_default());
    let swapped = all.iter().any(|f| {
        f.kind == FindingKind::WrongSlot
            && f.slot.as_deref() == Some(there)
            && f.other_slot.as_deref() == Some(here)
    });
    let (what, check) = if swapped {
        ("two modules are swapped", format!("exchange the modules of {here} and {there}"))
    } else {
        ("the module was put into the wrong slot", format!("move it from {here} to {there}"))
    };
    vec![
        cause(Likelihood::Likely, what, "the planned module is there, in another slot", check),
        cause(
            Likelihood::Possible,
            "the slot names in the plan do not follow the board's labels",
            "some boards number slots against the order in which they are filled",
            "compare the names with the diagram inside the lid before moving anything",
        ),
    ]
}

fn wrong_module(finding: &Finding, population: &Population<'_>) -> Vec<Cause> {
    let name = finding.slot.as_deref().unwrap_or_default();
    let mut result = Vec::new();
    let module = population.slot(name).and_then(|(_, slot)| slot.fitted());
    let only = |field| finding.fields == [field];
    if only(DemandField::Rated)
        && let Some(module) = module
        && module.rated.is_some()
        && module.rated == module.configured
    {
        result.push(cause(
            Likelihood::Possible,
            "the firmware states the running speed in place of the rated one",
            "both speeds of this module are the same",
            format!("read the sticker of the module in {name}"),
        ));
    }
    if only(DemandField::Voltage) {
        result.push(cause(
            Likelihood::Possible,
            "the firmware states a default in place of the module's voltage",
            "many firmwares fill this field with a constant",
            format!("read the sticker of the module in {name}"),
        ));
    }
    result.insert(
        0,
        cause(
            Likelihood::Likely,
            "another module than planned was fitted",
            "its own identity says so",
            format!("read the sticker of the module in {name}; fit the planned one, or correct the plan"),
        ),
    );
    result
}

fn unplanned() -> Vec<Cause> {
    vec![cause(
        Likelihood::Likely,
        "a module was left in from before, or the plan does not list it",
        "the slot is not planned to be filled",
        "take it out, or add it to the plan",
    )]
}

fn clocked_down(audit: &Audit, population: &Population<'_>, plan: &Plan) -> Vec<Cause> {
    let lowest = population.fitted().filter_map(|(_, module)| module.configured).min();
    let mut result = match &audit.prediction {
        Some(prediction) => by_rules(audit, prediction, lowest, plan.expect.speed),
        None => by_rating(population, plan.expect.speed),
    };
    let rest = if result.is_empty() { Likelihood::Likely } else { Likelihood::Possible };
    if audit.prediction.is_none() {
        result.push(cause(
            rest,
            "the processor or the number of modules per channel limits the speed",
            "no module needs to be slow for this: processors have a memory speed of their own, and full channels run slower",
            "look the processor's memory speed and the population table up in the service manual, or name a board with `--board`",
        ));
    }
    result.push(cause(
        if result.is_empty() { Likelihood::Likely } else { Likelihood::Possible },
        "a setting lowers the speed",
        "power-saving profiles and fixed memory clocks do this",
        "look at the memory speed and power profile in the firmware setup; set them to automatic",
    ));
    result
}

/// The limits of the board's rules that explain the speed, the tightest first; none if it is unexplained.
fn by_rules(
    audit: &Audit,
    prediction: &Prediction,
    runs_at: Option<TransferRate>,
    planned: Option<TransferRate>,
) -> Vec<Cause> {
    let lift = audit.lifts.first().map(|lift| {
        let cost = if lift.lost.0 > 0 { format!(", {} less", lift.lost) } else { String::new() };
        format!("{}: {} instead{cost}", lift.text, lift.speed)
    });
    let binds = |limit: &&Limit| planned.is_none_or(|planned| limit.low.below(planned));
    prediction
        .limits
        .iter()
        .filter(binds)
        .filter(|limit| runs_at.is_none_or(|runs| !runs.below(limit.low)))
        .map(|limit| {
            let what = match limit.kind {
                LimitKind::Rating => "a slower module sets the speed of all",
                LimitKind::Processor => "the processor limits the memory speed",
                LimitKind::Population => "the modules per channel limit the speed",
            };
            let at =
                if limit.slots.is_empty() { String::new() } else { format!(" ({})", list(&limit.slots)) };
            let check = lift
                .clone()
                .unwrap_or_else(|| "the plan expects more than this board gives: correct it".to_owned());
            cause(Likelihood::Likely, what, format!("{}{at}", limit.text), check)
        })
        .collect()
}

fn by_rating(population: &Population<'_>, expected: Option<TransferRate>) -> Vec<Cause> {
    let slow: Vec<String> = population
        .fitted()
        .filter(|(_, m)| expected.is_some_and(|e| m.rated.is_some_and(|rated| rated.below(e))))
        .map(|(slot, _)| slot.name.to_string())
        .collect();
    let lowest: Option<TransferRate> = population.fitted().filter_map(|(_, module)| module.rated).min();
    let Some(lowest) = lowest.filter(|_| !slow.is_empty()) else { return Vec::new() };
    let check = if slow.len() == population.totals.fitted {
        "compare the stickers with the plan: all modules are rated below it".to_owned()
    } else {
        format!("exchange the slow module in {}", list(&slow))
    };
    let why = format!(
        "{} rated {lowest}; all channels run at the speed that the slowest module allows",
        list(&slow)
    );
    vec![cause(Likelihood::Likely, "a slower module sets the speed of all", why, check)]
}

fn rule(finding: &Finding) -> Vec<Cause> {
    let (what, check) = match finding.kind {
        FindingKind::RankLimit => (
            "more modules or ranks than a channel drives",
            "take a module out, or use modules with fewer ranks; see the population rules in the service manual",
        ),
        FindingKind::SlotOrder => (
            "a slot was passed over, or modules stand in the wrong order",
            "move the module to the channel's first free slot, those with more ranks first",
        ),
        FindingKind::MixedKinds => {
            ("modules of different kinds were put together", "use modules of one kind that the board takes")
        }
        _ => (
            "the number of modules does not divide evenly over the channels",
            "use one module, or the same number, in every channel",
        ),
    };
    vec![cause(Likelihood::Likely, what, finding.expected.clone(), check)]
}

fn short_total() -> Vec<Cause> {
    vec![cause(
        Likelihood::Likely,
        "the plan's total and its lines do not agree, or slots are not named in the plan",
        "every planned module is there with its planned size",
        "sum the plan's lines; name every slot that should be filled",
    )]
}

fn no_cpu() -> Vec<Cause> {
    vec![
        cause(
            Likelihood::Likely,
            "the processor is not there",
            "the firmware reports the socket as unpopulated; memory slots belong to their own processor",
            "look into the socket: fit the processor, or move the modules to the slots of one that is there",
        ),
        cause(
            Likelihood::Possible,
            "the processor is there and not seen",
            "a processor with poor contact reads as absent",
            "reseat it and inspect the socket for bent pins and dirt",
        ),
    ]
}

fn ecc_off(population: &Population<'_>) -> Vec<Cause> {
    let mut result = Vec::new();
    let plain: Vec<String> = population
        .fitted()
        .filter(|(_, module)| module.check_bits == crate::population::CheckBits::None)
        .map(|(slot, _)| slot.name.to_string())
        .collect();
    if !plain.is_empty() {
        result.push(cause(
            Likelihood::Likely,
            "a module without check bits turns correction off for all",
            format!("no check bits in {}", list(&plain)),
            "exchange it for an ECC module",
        ));
    }
    result.push(cause(
        Likelihood::Possible,
        "correction is switched off, the processor cannot do it, or the firmware reports it wrongly",
        "modules with check bits are there",
        "look at the ECC setting in the firmware setup and at the processor's data sheet",
    ));
    result
}

fn unproven(finding: &Finding) -> Vec<Cause> {
    let field = finding.fields.first().copied();
    let (why, check) = match field {
        Some(DemandField::Width) => (
            "SMBIOS has no field for the chip width",
            "read it off the stickers, demand the part number as well, or write `waive: [width]` into the plan",
        ),
        Some(DemandField::Speed) => (
            "the field exists since SMBIOS 2.7",
            "read the memory speed in the firmware setup, or write `waive: [speed]` into the plan",
        ),
        Some(DemandField::Presence) => {
            ("the listing is damaged", "print the listing again, or look into the slot")
        }
        Some(DemandField::Kind) => (
            "firmware often leaves out whether a module is registered or load-reduced",
            "read the sticker, or write `waive: [kind]` into the plan",
        ),
        Some(DemandField::Serial | DemandField::Part | DemandField::Maker) => (
            "the firmware prints no identity, or it was scrubbed",
            "read the sticker, or print the listing again on the machine itself",
        ),
        _ => (
            "the firmware is old or leaves the field open",
            "read the sticker or the firmware setup, or waive the field in the plan",
        ),
    };
    vec![cause(Likelihood::Likely, "the listing does not state it", why, check)]
}
