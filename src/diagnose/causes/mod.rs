//! Causes of findings with the next check for each.
//!
//! One file per family of findings; [`CauseKind`] names them all.

mod loss;
mod missing;
mod other;
mod pattern;
mod speed;

pub use loss::visible_loss;
pub use pattern::Pattern;

use crate::audit::{Audit, Finding, FindingKind};
use crate::case::Case;
use crate::plan::Plan;
use crate::population::Population;
use crate::sources::Sources;

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

/// The kinds of causes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum CauseKind {
    /// A module is not fully seated, or not there.
    NotSeated,
    /// A module is defective.
    BadModule,
    /// A slot is defective, or its channel.
    BadSlot,
    /// A whole channel does not work: contacts or pins at the processor socket.
    ChannelDown,
    /// One module takes those behind it, or its whole channel, out of use.
    BlockingModule,
    /// A processor does not reach its memory.
    ProcessorDown,
    /// A processor is not there.
    NoProcessor,
    /// The rules of the platform lock slots out.
    RuleLockOut,
    /// A module answers and is half seated or failed its training.
    FailedTraining,
    /// The firmware has taken the module out of use.
    Disabled,
    /// Modules were put into the wrong slots.
    Misplaced,
    /// The plan's slot names are not the board's.
    OtherNames,
    /// Another module was fitted.
    OtherModule,
    /// The firmware states something else than the module's property.
    FirmwareHabit,
    /// A module was left in, or the plan does not list it.
    LeftIn,
    /// A slower module sets the speed.
    SlowModule,
    /// The processor limits the speed.
    ProcessorSpeed,
    /// The modules per channel limit the speed.
    ModulesPerChannel,
    /// A setting of the firmware.
    Setting,
    /// Every byte is held twice.
    Mirroring,
    /// Ranks are kept in reserve.
    RankSparing,
    /// The kernel was told to use less.
    CommandLine,
    /// The system cannot address more.
    ThirtyTwoBit,
    /// Memory was found bad and taken out of use.
    BadMemory,
    /// A module is detected and not used.
    ModuleUnused,
    /// Windows for devices, graphics, firmware.
    Windows,
    /// The plan does not add up.
    PlanSum,
    /// A module without check bits.
    NoCheckBits,
    /// A rule of the platform is broken.
    BrokenRule,
    /// The listing does not state it.
    NotStated,
    /// The table or the file is damaged.
    Damage,
    /// Poor contact or dirt.
    Contact,
    /// Two inputs are of different machines or times.
    DifferentTimes,
}

/// Kinds of causes and their words in JSON.
pub const CAUSE_KINDS: &[(CauseKind, &str)] = &[
    (CauseKind::NotSeated, "not-seated"),
    (CauseKind::BadModule, "bad-module"),
    (CauseKind::BadSlot, "bad-slot"),
    (CauseKind::ChannelDown, "channel-down"),
    (CauseKind::BlockingModule, "blocking-module"),
    (CauseKind::ProcessorDown, "processor-down"),
    (CauseKind::NoProcessor, "no-processor"),
    (CauseKind::RuleLockOut, "rule-lock-out"),
    (CauseKind::FailedTraining, "failed-training"),
    (CauseKind::Disabled, "disabled"),
    (CauseKind::Misplaced, "misplaced"),
    (CauseKind::OtherNames, "other-names"),
    (CauseKind::OtherModule, "other-module"),
    (CauseKind::FirmwareHabit, "firmware-habit"),
    (CauseKind::LeftIn, "left-in"),
    (CauseKind::SlowModule, "slow-module"),
    (CauseKind::ProcessorSpeed, "processor-speed"),
    (CauseKind::ModulesPerChannel, "modules-per-channel"),
    (CauseKind::Setting, "setting"),
    (CauseKind::Mirroring, "mirroring"),
    (CauseKind::RankSparing, "rank-sparing"),
    (CauseKind::CommandLine, "command-line"),
    (CauseKind::ThirtyTwoBit, "32-bit"),
    (CauseKind::BadMemory, "bad-memory"),
    (CauseKind::ModuleUnused, "module-unused"),
    (CauseKind::Windows, "windows"),
    (CauseKind::PlanSum, "plan-sum"),
    (CauseKind::NoCheckBits, "no-check-bits"),
    (CauseKind::BrokenRule, "broken-rule"),
    (CauseKind::NotStated, "not-stated"),
    (CauseKind::Damage, "damage"),
    (CauseKind::Contact, "contact"),
    (CauseKind::DifferentTimes, "different-times"),
];

impl CauseKind {
    /// The kind's word.
    pub fn word(self) -> &'static str {
        CAUSE_KINDS.iter().find(|(kind, _)| *kind == self).map_or("", |(_, word)| word)
    }
}

/// One possible cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cause {
    /// Its kind.
    pub kind: CauseKind,
    /// What may have happened.
    pub cause: String,
    /// How likely.
    pub likelihood: Likelihood,
    /// What in the evidence speaks for it.
    pub why: String,
    /// What to do with one's hands or eyes to know.
    pub check: String,
}

impl Cause {
    fn new(
        kind: CauseKind,
        likelihood: Likelihood,
        cause: &str,
        why: impl Into<String>,
        check: impl Into<String>,
    ) -> Self {
        Self { kind, cause: cause.to_owned(), likelihood, why: why.into(), check: check.into() }
    }

    fn likely(kind: CauseKind, cause: &str, why: impl Into<String>, check: impl Into<String>) -> Self {
        Self::new(kind, Likelihood::Likely, cause, why, check)
    }

    fn possible(kind: CauseKind, cause: &str, why: impl Into<String>, check: impl Into<String>) -> Self {
        Self::new(kind, Likelihood::Possible, cause, why, check)
    }
}

/// The usual cautions before a machine is opened. They do not replace the maker's instructions.
pub const CAUTIONS: &[&str] = &[
    "The maker's service manual and local rules come first; leave the work to qualified staff.",
    "Shut down, switch off and pull every mains plug; wait for the board's standby light to go out.",
    "Wear an earthed ESD strap; hold modules by their edges and keep them in ESD bags.",
    "Heat sinks and modules can be hot after running: let them cool.",
    "Mind the key notch, never force a module; press until both latches click.",
];

/// What causes are judged by.
#[derive(Debug, Clone, Copy)]
pub struct DiagnosisInput<'s, 'a> {
    /// All findings.
    pub audit: &'s Audit,
    /// What is fitted.
    pub population: &'s Population<'a>,
    /// What is planned.
    pub plan: &'s Plan,
    /// What others say.
    pub sources: &'s Sources,
}

impl<'s> DiagnosisInput<'s, 's> {
    /// What is judged of a machine and its audit.
    pub fn new(case: &'s Case<'s>, audit: &'s Audit) -> Self {
        Self { audit, population: &case.population, plan: &case.plan, sources: case.sources }
    }
}

/// Possible causes of `finding`, the likeliest first, given the whole audit.
pub fn causes(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    match finding.kind {
        FindingKind::Missing => missing::missing(finding, input),
        FindingKind::NotRunning => missing::not_running(finding, input),
        FindingKind::NoCpu => missing::no_cpu(),
        FindingKind::WrongSlot => other::wrong_slot(finding, &input.audit.findings),
        FindingKind::WrongModule => other::wrong_module(finding, input.population),
        FindingKind::Unplanned => other::unplanned(),
        FindingKind::ClockedDown => speed::clocked_down(input),
        FindingKind::RankLimit | FindingKind::SlotOrder | FindingKind::MixedKinds | FindingKind::Uneven => {
            other::rule(finding)
        }
        FindingKind::ShortTotal => loss::short_total(finding, input),
        FindingKind::EccOff => other::ecc_off(input.population),
        FindingKind::MemoryErrors => other::memory_errors(finding),
        FindingKind::Contradiction => other::contradiction(finding),
        FindingKind::Unproven => other::unproven(finding),
        FindingKind::ListingDamaged => other::damage(),
    }
}
