//! Steps of the work: what hands do.

/// What is known of a kind of step.
#[derive(Debug, Clone, Copy)]
pub struct StepInfo {
    /// Its kind in JSON, which says what is done and to what.
    pub kind: &'static str,
    /// Its older and coarser word in JSON.
    pub word: &'static str,
    /// Whether the lid must be open.
    pub hands: bool,
    /// Hand movements that it takes; a module that is pressed in again counts as one.
    pub movements: u32,
}

table! {
    /// Kinds of steps.
    #[non_exhaustive]
    pub enum StepKind: StepInfo {
        /// Take a module out for good.
        Remove { kind: "remove", word: "remove", hands: true, movements: 1 },
        /// Move a module to its slot, which is free.
        Move { kind: "move", word: "move", hands: true, movements: 1 },
        /// Swap the modules of two slots.
        Swap { kind: "swap", word: "swap", hands: true, movements: 3 },
        /// Take a module out and lay it on the mat, from where it is placed soon after.
        Pull { kind: "pull", word: "pull", hands: true, movements: 1 },
        /// Put the module that waits on the mat into its slot.
        Place { kind: "place", word: "place", hands: true, movements: 1 },
        /// Replace a module with the planned one.
        Replace { kind: "replace", word: "exchange", hands: true, movements: 2 },
        /// Take a module out and press it in again.
        Reseat { kind: "reseat", word: "reseat", hands: true, movements: 1 },
        /// Fit a module that is not there.
        Fit { kind: "fit", word: "fit", hands: true, movements: 1 },
        /// Look at something under the lid: a socket, a slot, a module that stays where it is.
        Inspect { kind: "inspect", word: "check", hands: true, movements: 0 },
        /// Look something up: a manual, the plan, what a finding says of a module that stays.
        Check { kind: "inspect", word: "check", hands: false, movements: 0 },
        /// Look at a setting of the firmware, or change one.
        Setting { kind: "setting", word: "check", hands: false, movements: 0 },
        /// Something done on the running system.
        Command { kind: "command", word: "check", hands: false, movements: 0 },
        /// Run a test and watch the counters.
        Measure { kind: "measure", word: "check", hands: false, movements: 0 },
    }
}

impl StepKind {
    /// The older word of the step.
    pub const fn word(self) -> &'static str {
        self.info().word
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub kind: StepKind,
    /// The slot.
    pub slot: Option<String>,
    /// The other slot of a move, a swap or a module that waits on the mat.
    pub other_slot: Option<String>,
    /// All slots that it is about.
    pub slots: Vec<String>,
    /// The findings that it mends or looks into: their places in the audit, counted from 0.
    pub findings: Vec<usize>,
    /// Hand movements.
    pub movements: u32,
    /// The module to bring, where one from the box is needed or may be.
    pub brings: Option<String>,
    /// The step as a sentence.
    pub text: String,
}

impl Step {
    pub(super) fn new(kind: StepKind, slot: Option<&str>, other_slot: Option<&str>, text: String) -> Self {
        let owned = |name: &str| name.to_owned();
        Self {
            kind,
            slot: slot.map(owned),
            other_slot: other_slot.map(owned),
            slots: slot.into_iter().chain(other_slot).map(owned).collect(),
            findings: Vec::new(),
            movements: kind.info().movements,
            brings: None,
            text,
        }
    }

    /// A step about several slots, or about none.
    pub(super) fn about(kind: StepKind, slots: &[String], text: String) -> Self {
        let first = slots.first().map(String::as_str);
        Self { slots: slots.to_vec(), ..Self::new(kind, first, None, text) }
    }

    /// Whether the lid must be open for it.
    pub fn hands(&self) -> bool {
        self.kind.info().hands
    }
}

/// Whether any of the steps needs an open lid.
pub fn needs_hands(steps: &[Step]) -> bool {
    steps.iter().any(Step::hands)
}

/// The modules to bring for all steps, each kind once with its number.
pub fn to_bring(steps: &[Step]) -> Vec<(u32, &str)> {
    let mut parts: Vec<(u32, &str)> = Vec::new();
    for part in steps.iter().filter_map(|step| step.brings.as_deref()) {
        match parts.iter_mut().find(|(_, own)| *own == part) {
            Some((count, _)) => *count += 1,
            None => parts.push((1, part)),
        }
    }
    parts
}

/// Hand movements of all steps together.
pub fn movements(steps: &[Step]) -> u32 {
    steps.iter().map(|step| step.movements).sum()
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn kinds_have_distinct_words_and_only_hands_move_modules() {
        let told = |kind: &StepKind| (kind.info().kind, kind.info().hands);
        let words: HashSet<(&str, bool)> = StepKind::ALL.iter().map(told).collect();
        assert_eq!(words.len(), StepKind::ALL.len());
        assert!(StepKind::ALL.iter().all(|kind| kind.info().hands || kind.info().movements == 0));
    }

    #[test]
    fn parts_to_bring_are_counted_by_kind() {
        let fit = |slot, part: &str| Step {
            brings: Some(part.to_owned()),
            ..Step::new(StepKind::Fit, Some(slot), None, String::new())
        };
        let steps = [fit("a", "16GB"), fit("b", "8GB"), fit("c", "16GB")];
        assert_eq!(to_bring(&steps), [(2, "16GB"), (1, "8GB")]);
    }
}
