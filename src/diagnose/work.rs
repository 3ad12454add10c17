//! The least work that turns what is fitted into what is planned, as steps in the order in which to do them.

use crate::audit::{Finding, FindingKind};

/// Kinds of steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StepKind {
    /// Take a module out and put it aside.
    Remove,
    /// Move a module to its slot.
    Move,
    /// Exchange the modules of two slots.
    Swap,
    /// Exchange a module for the planned one.
    Exchange,
    /// Take a module out and press it in again.
    Reseat,
    /// Fit a module that is not there.
    Fit,
    /// Look at something other than a slot.
    Check,
}

impl StepKind {
    /// The step's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Remove => "remove",
            Self::Move => "move",
            Self::Swap => "swap",
            Self::Exchange => "exchange",
            Self::Reseat => "reseat",
            Self::Fit => "fit",
            Self::Check => "check",
        }
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub kind: StepKind,
    /// The slot.
    pub slot: Option<String>,
    /// The other slot of a move or a swap.
    pub other_slot: Option<String>,
    /// The step as a sentence.
    pub text: String,
}

/// The steps that mend `findings`.
pub fn work(findings: &[Finding]) -> Vec<Step> {
    let of = |kind| findings.iter().filter(move |f: &&Finding| f.kind == kind);
    let mut steps = Vec::new();
    for f in of(FindingKind::Unplanned) {
        let slot = f.slot.clone().unwrap_or_default();
        push(
            &mut steps,
            StepKind::Remove,
            f,
            None,
            format!("take the module out of {slot}, or add it to the plan"),
        );
    }
    moves(findings, &mut steps);
    for f in of(FindingKind::WrongModule) {
        let slot = f.slot.clone().unwrap_or_default();
        push(
            &mut steps,
            StepKind::Exchange,
            f,
            None,
            format!("exchange the module in {slot} for the planned one: {}", f.expected),
        );
    }
    for f in of(FindingKind::NotRunning) {
        let slot = f.slot.clone().unwrap_or_default();
        push(&mut steps, StepKind::Reseat, f, None, format!("reseat the module in {slot}"));
    }
    for f in of(FindingKind::Missing) {
        let slot = f.slot.clone().unwrap_or_default();
        push(
            &mut steps,
            StepKind::Fit,
            f,
            None,
            format!("look into {slot}: reseat the module, or fit {}", f.expected),
        );
    }
    for kind in [FindingKind::NoCpu, FindingKind::ClockedDown, FindingKind::EccOff, FindingKind::ShortTotal] {
        for f in of(kind) {
            let what = match kind {
                FindingKind::NoCpu => format!("look into the socket: {}", f.summary),
                FindingKind::ClockedDown => {
                    format!("find out why memory runs at {} instead of {}", f.found, f.expected)
                }
                FindingKind::EccOff => "look at the ECC setting in the firmware setup".to_owned(),
                _ => format!("find the rest of the memory: {}", f.summary),
            };
            push(&mut steps, StepKind::Check, f, None, what);
        }
    }
    steps
}

fn push(steps: &mut Vec<Step>, kind: StepKind, finding: &Finding, other_slot: Option<String>, text: String) {
    steps.push(Step { kind, slot: finding.slot.clone(), other_slot, text });
}

/// Moves in an order in which each target is free when its turn comes. A ring of modules is opened by
/// exchanging two, after which one more of them is right.
fn moves(findings: &[Finding], steps: &mut Vec<Step>) {
    let mut open: Vec<(String, String)> = findings
        .iter()
        .filter(|f| f.kind == FindingKind::WrongSlot)
        .filter_map(|f| Some((f.slot.clone()?, f.other_slot.clone()?)))
        .collect();
    while !open.is_empty() {
        let free = open.iter().position(|(_, there)| !open.iter().any(|(here, _)| here == there));
        let (here, there) = open.remove(free.unwrap_or(0));
        let (kind, text) = match free {
            Some(_) => (StepKind::Move, format!("move the module from {here} to {there}")),
            None => (StepKind::Swap, format!("exchange the modules of {here} and {there}")),
        };
        // After an exchange, the module that was in `there` waits in `here`, where it may belong.
        if free.is_none() {
            open.retain(|(from, to)| !(*from == there && *to == here));
            for (from, _) in &mut open {
                if *from == there {
                    from.clone_from(&here);
                }
            }
        }
        steps.push(Step { kind, slot: Some(here), other_slot: Some(there), text });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(here: &str, there: &str) -> Finding {
        Finding {
            other_slot: Some(there.to_owned()),
            ..Finding::about(FindingKind::WrongSlot, vec![here.to_owned()])
        }
    }

    /// Does the steps on a board and says where each module ends; modules are named after their start.
    fn perform(findings: &[Finding]) -> Vec<(String, String)> {
        let mut board: Vec<(String, String)> =
            findings.iter().map(|f| (f.slot.clone().unwrap(), f.slot.clone().unwrap())).collect();
        for step in work(findings) {
            let (from, to) = (step.slot.unwrap(), step.other_slot.unwrap());
            let (a, b) =
                (board.iter().position(|(s, _)| *s == from), board.iter().position(|(s, _)| *s == to));
            match (a, b) {
                (Some(a), Some(b)) => {
                    assert_ne!(step.kind, StepKind::Move, "a move onto a module");
                    let module = board[a].1.clone();
                    board[a].1 = std::mem::replace(&mut board[b].1, module);
                }
                (Some(a), None) => board[a].0 = to,
                _ => panic!("nothing in {from}"),
            }
        }
        board.sort();
        board
    }

    #[test]
    fn every_order_of_moves_ends_as_planned() {
        let cases: [&[(&str, &str)]; 5] = [
            &[("A", "B")],
            &[("A", "B"), ("B", "A")],
            &[("A", "B"), ("B", "C")],
            &[("A", "B"), ("B", "C"), ("C", "A")],
            &[("A", "B"), ("B", "C"), ("C", "D"), ("D", "A"), ("E", "F")],
        ];
        for case in cases {
            let findings: Vec<Finding> = case.iter().map(|(a, b)| moved(a, b)).collect();
            let mut want: Vec<(String, String)> =
                case.iter().map(|(from, to)| ((*to).to_owned(), (*from).to_owned())).collect();
            want.sort();
            assert_eq!(perform(&findings), want, "{case:?}");
        }
    }
}
