//! The order of checks where neither pattern nor evidence decides between causes.
//!
//! Makers' guides give the order; the tally of public cases only breaks ties, and whatever it decides says so.

use super::{Cause, CauseKind, Likelihood};

/// The place of a check in the makers' order; what is not named comes last. Each step with the guide that asks for it
/// at that place.
const ORDER: &[(CauseKind, u8)] = &[
    // HP, System memory troubleshooting best practices (ProLiant): whether newer firmware covers it, before parts.
    (CauseKind::Firmware, 1),
    // IBM/Lenovo, tip H213780: mend the slot order first, judge the module after that. Cisco UCS, Troubleshoot DIMM
    // memory issues: placement against the guide is the first step.
    (CauseKind::RuleLockOut, 2),
    // Lenovo, Flex System x240, Installing a DIMM: enable the modules in setup once the total was verified, before any
    // swap; IBM, tip H195188; Oracle, SPARC T5-4 service manual: set the component back to Enabled.
    (CauseKind::Disabled, 3),
    // Cisco, field notice 72368: where a new module is not healthy at its first boot, check its seating.
    (CauseKind::NotSeated, 4),
    // HP, as above: isolate the single module, not the whole bank. Which of these it is, the swap tells.
    (CauseKind::BadModule, 5),
    (CauseKind::BadSlot, 5),
    (CauseKind::GroupDisabled, 5),
    // ASUS (distributor's FAQ, sockets 1155, 1156 and 1366): a channel that stays dead with every module.
    (CauseKind::ChannelDown, 6),
    (CauseKind::ProcessorDown, 6),
];

/// Solved public cases of servers and workstations that came to a cause, of [`TALLIED`].
///
/// Count over 108 public cases of memory that was missed, 48 of them solved and of servers or workstations; what is
/// told in public is no random sample of faults.
const TALLY: &[(CauseKind, u8)] = &[
    // Dead modules, with those that the firmware left out.
    (CauseKind::BadModule, 9),
    (CauseKind::ListingWrong, 8),
    // Training, reading of the modules' tables, and other defects of firmware.
    (CauseKind::Firmware, 5),
    // Slot or board, with dirty contacts.
    (CauseKind::BadSlot, 3),
    (CauseKind::GroupDisabled, 2),
    (CauseKind::Disabled, 1),
    (CauseKind::DifferentTimes, 0),
];

const TALLIED: u8 = 48;

fn step(kind: CauseKind) -> u8 {
    ORDER.iter().find(|(own, _)| *own == kind).map_or(u8::MAX, |(_, step)| *step)
}

fn tallied(kind: CauseKind) -> Option<u8> {
    TALLY.iter().find(|(own, _)| *own == kind).map(|(_, count)| *count)
}

/// What the tally says of a kind, with its mark.
pub(super) fn tally(kind: CauseKind) -> Option<String> {
    tallied(kind)
        .map(|count| format!("{count} of {TALLIED} solved cases (tally of public cases, not failure rates)"))
}

/// Brings the causes that are only possible into the order of checks, behind those that are likely.
pub(super) fn arrange(causes: &mut [Cause]) {
    causes.sort_by_key(|cause| match cause.likelihood {
        Likelihood::Likely => (Likelihood::Likely, 0, 0),
        Likelihood::Possible => {
            let count = tallied(cause.kind).unwrap_or(0);
            (Likelihood::Possible, step(cause.kind), u8::MAX - count)
        }
    });
    let steps: Vec<Option<u8>> = causes
        .iter()
        .map(|cause| (cause.likelihood == Likelihood::Possible).then(|| step(cause.kind)))
        .collect();
    for (cause, own) in causes.iter_mut().zip(&steps) {
        let tied =
            own.is_some_and(|own| own < u8::MAX) && steps.iter().filter(|other| *other == own).count() > 1;
        if let Some(tally) = tally(cause.kind).filter(|_| tied) {
            cause.why = format!("{}; {tally}", cause.why);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(kinds: &[(CauseKind, Likelihood)]) -> Vec<(CauseKind, bool)> {
        let cause =
            |(kind, likelihood): &(CauseKind, Likelihood)| Cause::new(*kind, *likelihood, "", "w", "");
        let mut causes: Vec<Cause> = kinds.iter().map(cause).collect();
        arrange(&mut causes);
        causes.iter().map(|cause| (cause.kind, cause.why.contains("not failure rates"))).collect()
    }

    /// The guides decide first, the tally only among equals, and only there it leaves its mark.
    #[test]
    fn the_tally_only_breaks_ties() {
        use CauseKind::{BadModule, BadSlot, ChannelDown, Disabled, Firmware, NotSeated};
        use Likelihood::{Likely, Possible};
        assert_eq!(
            order(&[(BadSlot, Possible), (BadModule, Possible), (Disabled, Possible), (NotSeated, Likely)]),
            [(NotSeated, false), (Disabled, false), (BadModule, true), (BadSlot, true)]
        );
        // Firmware has fewer cases than dead modules and is looked at first all the same.
        assert_eq!(
            order(&[(BadModule, Possible), (Firmware, Possible)]),
            [(Firmware, false), (BadModule, false)]
        );
        // What the pattern made likely stays as it is.
        assert_eq!(
            order(&[(ChannelDown, Likely), (BadModule, Likely)]),
            [(ChannelDown, false), (BadModule, false)]
        );
    }
}
