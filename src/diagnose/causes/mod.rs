//! Causes of findings with the next check for each.
//!
//! One file per family of findings; [`CauseKind`] names them all.

mod before;
mod checks;
mod group;
mod loss;
mod missing;
mod other;
mod persistent;
mod speed;

pub(super) use loss::visible;
pub use loss::visible_loss;
pub(super) use missing::is_worn;

use super::guarded::Guarded;
use crate::audit::{Audit, Finding, FindingKind};
use crate::case::{Case, History};
use crate::plan::Plan;
use crate::population::Population;
use crate::records::Listing;
use crate::sources::Sources;

table! {
    /// How likely a cause is, judged by the pattern of the findings alone.
    pub enum Likelihood {
        /// Check this first.
        Likely = "likely",
        /// Check this next.
        Possible = "possible",
    }
}

/// What a kind of cause is called and means.
#[derive(Debug, Clone, Copy)]
pub struct CauseInfo {
    /// Its word in JSON.
    pub word: &'static str,
    /// Its meaning, as docs/findings.md has it.
    pub meaning: &'static str,
}

table! {
    /// The kinds of causes.
    #[non_exhaustive]
    pub enum CauseKind: CauseInfo {
        /// A module is not fully seated, or was not fitted.
        NotSeated { word: "not-seated", meaning: "a module is not fully seated, or was not fitted" },
        /// A module is defective.
        BadModule { word: "bad-module", meaning: "a module is defective" },
        /// A slot is defective, or its channel.
        BadSlot { word: "bad-slot", meaning: "a slot is defective, or its channel" },
        /// A whole channel does not work: contacts or pins at the processor socket, or the board.
        ChannelDown { word: "channel-down", meaning: "a whole channel does not work: contacts or pins at the processor socket, or the board" },
        /// One module takes those behind it, or its whole channel, out of use.
        BlockingModule { word: "blocking-module", meaning: "one module takes those behind it, or its whole channel, out of use" },
        /// A processor does not reach its memory.
        ProcessorDown { word: "processor-down", meaning: "a processor does not reach its memory" },
        /// A processor is not there.
        NoProcessor { word: "no-processor", meaning: "a processor is not there" },
        /// One bad module takes its group out of use.
        GroupDisabled { word: "group-disabled", meaning: "one bad module takes its group out of use: a pair, a quad, a card, or all of a processor" },
        /// The firmware does not start the memory as it should.
        Firmware { word: "firmware", meaning: "the firmware does not start all of the memory, since it was changed or by a defect" },
        /// What is missing changes from start to start.
        Unsteady { word: "unsteady", meaning: "what is missing changes from start to start: poor contact, or modules that are read too early" },
        /// The rules of the platform keep slots or modules out of use.
        RuleLockOut { word: "rule-lock-out", meaning: "the rules of the platform keep slots or modules out of use" },
        /// A module answers and is half seated, or failed its training.
        FailedTraining { word: "failed-training", meaning: "a module answers and is half seated, or failed its training" },
        /// The firmware has taken the module out of use.
        Disabled { word: "disabled", meaning: "the firmware has taken the module out of use" },
        /// Modules were put into the wrong slots.
        Misplaced { word: "misplaced", meaning: "modules were put into the wrong slots" },
        /// The plan's slot names are not the board's.
        OtherNames { word: "other-names", meaning: "the plan's slot names are not the board's" },
        /// A module other than the planned one was fitted.
        OtherModule { word: "other-module", meaning: "a module other than the planned one was fitted" },
        /// The plan is another machine's, or wrong throughout.
        OtherPlan { word: "other-plan", meaning: "the plan is another machine's, or wrong throughout" },
        /// The firmware states something other than the module's property.
        FirmwareHabit { word: "firmware-habit", meaning: "the firmware states something other than the module's property" },
        /// A module was left in, or the plan does not list it.
        LeftIn { word: "left-in", meaning: "a module was left in, or the plan does not list it" },
        /// A slower module sets the speed of all.
        SlowModule { word: "slow-module", meaning: "a slower module sets the speed of all" },
        /// The processor limits the speed.
        ProcessorSpeed { word: "processor-speed", meaning: "the processor limits the speed" },
        /// The number of modules per channel limits the speed.
        ModulesPerChannel { word: "modules-per-channel", meaning: "the number of modules per channel limits the speed" },
        /// A setting of the firmware.
        Setting { word: "setting", meaning: "a setting of the firmware" },
        /// Every byte is held twice.
        Mirroring { word: "mirroring", meaning: "every byte is held twice" },
        /// Ranks are kept in reserve.
        RankSparing { word: "rank-sparing", meaning: "ranks are kept in reserve" },
        /// The kernel was started with less memory than there is.
        CommandLine { word: "command-line", meaning: "the kernel was started with less memory than there is" },
        /// The system cannot address more.
        ThirtyTwoBit { word: "32-bit", meaning: "the system cannot address more" },
        /// The system has only a share of the machine.
        Share { word: "share", meaning: "the system has only a share of the machine: a guest, or the control domain of a hypervisor" },
        /// Memory was found bad and taken out of use.
        BadMemory { word: "bad-memory", meaning: "memory was found bad and taken out of use" },
        /// A module is detected and not used.
        ModuleUnused { word: "module-unused", meaning: "a module is detected and not used" },
        /// The plan does not add up.
        PlanSum { word: "plan-sum", meaning: "the plan does not add up" },
        /// A module has no check bits.
        NoCheckBits { word: "no-check-bits", meaning: "a module has no check bits" },
        /// The fitting or the plan breaks a rule of the platform.
        BrokenRule { word: "broken-rule", meaning: "the fitting or the plan breaks a rule of the platform" },
        /// The listing does not state it.
        NotStated { word: "not-stated", meaning: "the listing does not state it" },
        /// The table in the firmware, or the file, is damaged.
        Damage { word: "damage", meaning: "the table in the firmware, or the file, is damaged" },
        /// Poor contact or dirt.
        Contact { word: "contact", meaning: "poor contact or dirt" },
        /// The listing leaves out what is there.
        ListingWrong { word: "listing-wrong", meaning: "the listing leaves out modules that the operating system uses" },
        /// Two inputs are of different machines or times.
        DifferentTimes { word: "different-times", meaning: "two inputs are of different machines or times" },
    }
}

impl CauseKind {
    /// The kind's word.
    pub const fn word(self) -> &'static str {
        self.info().word
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
    /// What in the evidence supports it.
    pub why: String,
    /// What to do or to look at in order to know.
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

/// Comes first whatever is done.
const STAFF: &str =
    "The maker's service manual and local rules come first; leave the work to qualified staff.";

/// Before a lid is opened.
const OPEN: [&str; 4] = [
    "Shut down, switch off and pull every mains plug; wait for the board's standby light to go out.",
    "Wear an earthed ESD strap; hold modules by their edges and keep them in ESD bags.",
    "Heat sinks and modules can be hot after running: let them cool.",
    "Mind the key notch, never force a module; press until both latches click.",
];

/// A module with a battery or capacitors of its own still saves its contents after the mains are off.
const OWN_ENERGY: &str = "Persistent modules may have energy of their own: wait until their lights and their battery's say that they are done, as their manual describes.";

/// The usual cautions before the work: those of an opened machine only where `hands` are needed, those of modules with
/// energy of their own only where some are `persistent`. They do not replace the maker's instructions.
pub fn cautions(hands: bool, persistent: bool) -> Vec<&'static str> {
    let mut cautions = vec![STAFF];
    if hands {
        cautions.push(OPEN[0]);
        cautions.extend(persistent.then_some(OWN_ENERGY));
        cautions.extend(&OPEN[1..]);
    }
    cautions
}

/// The same where a line or two must do.
pub fn cautions_in_short(hands: bool, persistent: bool) -> String {
    let staff = "the maker's service manual and local rules first, by qualified staff";
    if !hands {
        return staff.to_owned();
    }
    let energy = if persistent { ", lights of persistent modules out" } else { "" };
    format!(
        "{staff}: mains plugs out and standby light off{energy}, earthed ESD strap on, heat sinks cool, no force"
    )
}

/// What causes are judged by.
#[derive(Debug, Clone, Copy)]
pub struct DiagnosisInput<'s, 'a> {
    /// All findings.
    pub audit: &'s Audit,
    /// What is fitted.
    pub population: &'s Population<'a>,
    /// What is planned.
    pub plan: &'s Plan,
    /// The other sources of evidence.
    pub sources: &'s Sources,
    /// The records.
    pub listing: &'s Listing<'s>,
    /// What is known of the time before.
    pub history: &'s History<'s>,
}

impl<'s> DiagnosisInput<'s, 's> {
    /// What is judged of a machine and its audit.
    pub fn new(case: &'s Case<'s>, audit: &'s Audit) -> Self {
        Self {
            audit,
            population: &case.population,
            plan: &case.plan,
            sources: case.sources,
            listing: case.listing,
            history: &case.history,
        }
    }
}

/// Possible causes of `finding`, the likeliest first, given the whole audit. Names every kind, so that one that is
/// added does not compile before it has its causes.
pub fn causes(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    let mut causes = of_kind(finding, input);
    persistent::spare(finding, &Guarded::new(input.population, input.plan), &mut causes);
    causes
}

fn of_kind(finding: &Finding, input: &DiagnosisInput<'_, '_>) -> Vec<Cause> {
    match finding.kind {
        FindingKind::Missing => missing::missing(finding, input),
        FindingKind::NotRunning => missing::not_running(finding, input),
        FindingKind::NoCpu => missing::no_cpu(),
        FindingKind::WrongSlot => other::wrong_slot(finding, input),
        FindingKind::WrongModule => other::wrong_module(finding, input),
        FindingKind::Unplanned => other::unplanned(),
        FindingKind::DuplicateSerial => other::duplicate_serial(),
        FindingKind::ClockedDown => speed::clocked_down(input),
        FindingKind::RankLimit => other::rank_limit(finding),
        FindingKind::SlotOrder => other::slot_order(finding),
        FindingKind::MixedKinds => other::mixed_kinds(finding),
        FindingKind::Uneven => other::uneven(finding),
        FindingKind::ShortTotal => loss::short_total(finding, input),
        FindingKind::EccOff => other::ecc_off(input.population),
        FindingKind::MemoryErrors => other::memory_errors(finding, input),
        FindingKind::Contradiction => other::contradiction(finding, input),
        FindingKind::Unproven => other::unproven(finding),
        FindingKind::ListingDamaged => other::damage(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The compiler cannot see a kind that no cause has, since `ALL` names it.
    #[test]
    fn every_kind_is_given_to_a_cause() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/diagnose/causes");
        let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let code: String = files.map(|path| std::fs::read_to_string(path).unwrap()).collect();
        for kind in CauseKind::ALL {
            assert!(code.contains(&format!("CauseKind::{kind:?},")), "no cause is of the kind {kind:?}");
        }
    }
}
