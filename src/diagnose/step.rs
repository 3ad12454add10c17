//! Steps of the work: what hands do.

/// What is known of a kind of step.
#[derive(Debug, Clone, Copy)]
pub struct StepInfo {
    /// Its word in JSON.
    pub word: &'static str,
    /// Hand movements that it takes; a module that is pressed in again counts as one.
    pub movements: u32,
}

table! {
    /// Kinds of steps.
    #[non_exhaustive]
    pub enum StepKind: StepInfo {
        /// Take a module out for good.
        Remove { word: "remove", movements: 1 },
        /// Move a module to its slot, which is free.
        Move { word: "move", movements: 1 },
        /// Swap the modules of two slots.
        Swap { word: "swap", movements: 3 },
        /// Take a module out and lay it on the mat, from where it is placed soon after.
        Pull { word: "pull", movements: 1 },
        /// Put the module that waits on the mat into its slot.
        Place { word: "place", movements: 1 },
        /// Replace a module with the planned one.
        Replace { word: "exchange", movements: 2 },
        /// Take a module out and press it in again.
        Reseat { word: "reseat", movements: 1 },
        /// Fit a module that is not there.
        Fit { word: "fit", movements: 1 },
        /// Look at something other than a slot.
        Check { word: "check", movements: 0 },
    }
}

impl StepKind {
    /// The step's word.
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
    /// Hand movements.
    pub movements: u32,
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
            movements: kind.info().movements,
            text,
        }
    }
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
    fn words_are_distinct() {
        let words: HashSet<&str> = StepKind::ALL.iter().map(|kind| kind.word()).collect();
        assert_eq!(words.len(), StepKind::ALL.len());
    }
}
