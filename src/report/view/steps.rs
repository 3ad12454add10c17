//! What to do: cautions, steps, and what comes after them.

use super::findings::Group;
use super::words::{count_of, sentence};
use crate::diagnose::{
    Diagnosis, Step, cautions, cautions_in_short, holds_persistent, movements, needs_hands, to_bring,
};

/// Comes before the amount of work.
pub(crate) const WORK: &str = "work";

/// Comes before the modules to bring.
pub(crate) const BRING: &str = "bring";

/// What is filled in by hand when the work is done.
pub(crate) const SIGNED: [&str; 3] = ["name", "date", "result"];

const NOTHING: &str = "no physical repair needed";

/// What to do.
#[derive(Debug)]
pub(crate) struct Order<'d> {
    /// What to mind before anything else.
    pub(crate) cautions: Vec<&'static str>,
    /// The same in one sentence.
    pub(crate) mind: String,
    pub(crate) work: Work<'d>,
    /// Modules to bring, each kind with its number.
    pub(crate) bring: Vec<String>,
    /// What is done once all steps are done.
    pub(crate) afterwards: [&'static str; 4],
}

/// What there is to do.
#[derive(Debug)]
pub(crate) enum Work<'d> {
    /// Nothing.
    Nothing,
    /// Findings call for no hand movement by themselves: what to look into, one line for each.
    Checks(Vec<String>),
    /// Steps, in this order.
    Steps {
        steps: &'d [Step],
        /// Hand movements of all together.
        movements: String,
        /// How many steps there are.
        number: String,
        /// The title of steps that have no lead.
        title: String,
        /// The last step where what comes after the steps has no list of its own.
        closing: String,
    },
}

impl<'d> Order<'d> {
    pub(super) fn new(diagnosis: &'d Diagnosis<'_>, groups: &[Group<'_>]) -> Self {
        let steps = diagnosis.steps.as_slice();
        let work = match (steps, groups) {
            ([], []) => Work::Nothing,
            ([], groups) => Work::Checks(groups.iter().map(Group::to_check).collect()),
            (steps, _) => {
                // The lid is open only where hands have something to do.
                let lid = if needs_hands(steps) { "close the lid, " } else { "" };
                let again = if diagnosis.case.is_planned() { "audit" } else { "diagnose" };
                let movements = hand_movements(movements(steps));
                Work::Steps {
                    steps,
                    title: format!("Work, in this order: {movements}"),
                    movements,
                    number: count_of(steps.len(), "step", "steps"),
                    closing: format!("{lid}boot, take a new listing and {again} again"),
                }
            }
        };
        let bring = to_bring(steps).into_iter().map(|(count, part)| format!("{count} x {part}")).collect();
        let (hands, persistent) = (needs_hands(steps), holds_persistent(&diagnosis.case.population));
        let (cautions, mind) = (cautions(hands, persistent), cautions_in_short(hands, persistent));
        Self { cautions, mind, work, bring, afterwards: afterwards(diagnosis.case.is_planned()) }
    }
}

impl Work<'_> {
    /// How much it is, as a fact.
    pub(crate) fn amount(&self) -> String {
        match self {
            Self::Nothing => format!("none: {NOTHING}"),
            Self::Checks(_) => "none that follows from the evidence alone".to_owned(),
            Self::Steps { movements, number, .. } => format!("{movements} in {number}"),
        }
    }

    /// Leads to the steps or to what is to be checked; where there are none, all that is to be said.
    pub(crate) fn lead(&self) -> String {
        match self {
            Self::Nothing => sentence(NOTHING),
            Self::Checks(_) => "No hand movement follows from the evidence; inspect".to_owned(),
            Self::Steps { .. } => format!("{}, in this order", self.amount()),
        }
    }
}

/// The last of it goes by whether there is a plan.
fn afterwards(plan_given: bool) -> [&'static str; 4] {
    [
        "see that all latches are closed and nothing lies in the machine; close the lid",
        "connect the mains, boot, and let the memory be trained; the first start can take long",
        "take a new listing as root: `dmidecode > FILE`, or `asfitted capture`",
        if plan_given {
            "audit it against the same plan; it should end as planned"
        } else {
            "diagnose it again with the same `--fitted`"
        },
    ]
}

fn hand_movements(count: u32) -> String {
    match count {
        0 => "no hand movement".to_owned(),
        1 => "1 hand movement".to_owned(),
        _ => format!("{count} hand movements"),
    }
}
