//! The rules of a board on a fitting, planned or real: what breaks them, where, by which source.

use super::balance::{Balance, balance};
use super::description::{Board, ChannelLimit, Source};
use super::fitting::{ChannelLoad, Fitting, Load};
use crate::base::words::{comma_list, counted, or_list, short_list};
use crate::population::ModuleKind;
use crate::units::Bytes;

/// The rules that can be broken. Finding kinds are named after the first four.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum RuleKind {
    /// More ranks or modules in a channel than it takes.
    RankLimit,
    /// Slots of a channel filled in the wrong order.
    SlotOrder,
    /// Modules that must not be in one machine, or kinds that the board does not take.
    MixedKinds,
    /// Modules spread unevenly.
    Uneven,
}

/// One broken rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// Which rule.
    pub kind: RuleKind,
    /// Whether the machine will not work as fitted; otherwise it works less well.
    pub fault: bool,
    /// Slots it concerns.
    pub slots: Vec<String>,
    /// One sentence.
    pub summary: String,
    /// What the rule asks for.
    pub expected: String,
    /// What is there.
    pub found: String,
    /// Where the rule comes from.
    pub source: Source,
}

/// All rules that `fitting` breaks on `board`. Rules from memory give no violation; what plan or listing leave
/// unstated (a module's ranks or kind) breaks nothing.
pub fn check(board: &Board, fitting: &Fitting) -> Vec<Violation> {
    let mut violations = Vec::new();
    for channel in fitting.channels.iter().filter(|channel| channel.count() > 0) {
        violations.extend(rank_limit(board, channel));
        violations.extend(channel_limits(board, channel));
        violations.extend(slot_order(board, channel));
        violations.extend(ranks_order(board, channel));
    }
    violations.extend(socket_limits(board, fitting));
    violations.extend(kinds(board, fitting));
    violations.extend(sizes(board, fitting));
    violations.extend(generation(board, fitting));
    violations.extend(voltages(board, fitting));
    violations.extend(uneven(fitting));
    violations.retain(|violation| violation.source.binds());
    violations
}

/// Whether one channel by itself breaks no rule that makes a fault.
pub(crate) fn channel_is_legal(board: &Board, channel: &ChannelLoad) -> bool {
    let own = rank_limit(board, channel)
        .into_iter()
        .chain(channel_limits(board, channel))
        .chain(slot_order(board, channel));
    !own.into_iter().any(|violation| violation.fault && violation.source.binds())
}

/// Most package ranks of a module; more ranks are those inside stacks, which share a chip select.
const MOST_PACKAGE_RANKS: u8 = 4;

/// The ranks for which a module counts; `None` where they are not known.
///
/// Of a stacked module the package ranks count: no source says how these limits count the ranks inside stacks,
/// and boards exist that take two stacked modules of eight ranks in a channel (DDR4: population guidelines for
/// EPYC 7003, rev. 1.0; DDR5: V14 of the library), so that these prove no violation.
pub(crate) fn counted_ranks(board: &Board, load: &Load) -> Option<u8> {
    match (&board.rules.load_reduced_counts, load.kind) {
        (Some(counts), Some(ModuleKind::Lrdimm)) => {
            Some(load.ranks.map_or(counts.value, |r| r.min(counts.value)))
        }
        _ => load.package_ranks.or(load.ranks.filter(|ranks| *ranks <= MOST_PACKAGE_RANKS)),
    }
}

/// Sum of ranks in a channel against the limit; what is not known counts nothing, so a violation is sure.
fn rank_limit(board: &Board, channel: &ChannelLoad) -> Option<Violation> {
    let limit = board.rules.ranks_per_channel.as_ref()?;
    let ranks: u32 = channel.loads().filter_map(|load| counted_ranks(board, load)).map(u32::from).sum();
    if ranks <= u32::from(limit.value) {
        return None;
    }
    let each: Vec<String> = channel
        .loads()
        .filter_map(|load| counted_ranks(board, load))
        .map(|ranks| ranks.to_string())
        .collect();
    Some(Violation {
        kind: RuleKind::RankLimit,
        fault: true,
        slots: channel.filled(),
        summary: format!("{} holds {ranks} ranks, more than the {} it takes", channel.title(), limit.value),
        expected: format!("at most {} in a channel", counted(limit.value.into(), "rank")),
        found: format!("{} = {ranks} ranks", each.join(" + ")),
        source: limit.source.clone(),
    })
}

/// Whether a limit concerns a module.
pub(crate) fn concerns(limit: &ChannelLimit, load: &Load) -> bool {
    (limit.kinds.is_empty() || load.kind.is_some_and(|kind| limit.kinds.contains(&kind)))
        && (limit.ranks_from <= 1 || load.ranks.is_some_and(|ranks| ranks >= limit.ranks_from))
}

/// `at most 2 modules in a channel with a UDIMM`.
pub(crate) fn most_beside(limit: &ChannelLimit) -> String {
    let modules = counted(usize::from(limit.most), "module");
    let reach = if limit.whole_socket { "each channel of a socket" } else { "a channel" };
    format!("at most {modules} in {reach} with a {}", subject(limit))
}

/// `UDIMM` or `module with 4 or more ranks`.
fn subject(limit: &ChannelLimit) -> String {
    let kinds = if limit.kinds.is_empty() { "module".to_owned() } else { or_list(&limit.kinds) };
    if limit.ranks_from > 1 { format!("{kinds} with {} or more ranks", limit.ranks_from) } else { kinds }
}

fn channel_limits(board: &Board, channel: &ChannelLoad) -> Vec<Violation> {
    board
        .rules
        .channel_limits
        .iter()
        .filter(|limit| !limit.whole_socket)
        .filter(|limit| {
            channel.loads().any(|load| concerns(limit, load)) && channel.count() > usize::from(limit.most)
        })
        .map(|limit| Violation {
            kind: RuleKind::RankLimit,
            fault: true,
            slots: channel.filled(),
            summary: format!(
                "{} holds {} modules, at most {} go with a {}",
                channel.title(),
                channel.count(),
                limit.most,
                subject(limit)
            ),
            expected: most_beside(limit),
            found: format!("{} modules", channel.count()),
            source: limit.source.clone(),
        })
        .collect()
}

/// Limits that one module puts on every channel of its processor.
fn socket_limits(board: &Board, fitting: &Fitting) -> Vec<Violation> {
    let mut violations = Vec::new();
    for limit in board.rules.channel_limits.iter().filter(|limit| limit.whole_socket) {
        for socket in fitting.sockets() {
            let own = || fitting.channels.iter().filter(move |channel| channel.socket == socket);
            if !own().any(|channel| channel.loads().any(|load| concerns(limit, load))) {
                continue;
            }
            for channel in own().filter(|channel| channel.count() > usize::from(limit.most)) {
                violations.push(Violation {
                    kind: RuleKind::RankLimit,
                    fault: true,
                    slots: channel.filled(),
                    summary: format!(
                        "{} holds {} modules, yet a {} on socket {socket} limits each of its channels to {}",
                        channel.title(),
                        channel.count(),
                        subject(limit),
                        limit.most
                    ),
                    expected: format!("at most {} modules in each channel of socket {socket}", limit.most),
                    found: format!("{} modules", channel.count()),
                    source: limit.source.clone(),
                });
            }
        }
    }
    violations
}

/// A module behind an empty slot of the same channel.
fn slot_order(board: &Board, channel: &ChannelLoad) -> Option<Violation> {
    let rule = board.rules.first_slot_first.as_ref().filter(|_| board.order_known)?;
    let gap = channel.slots.iter().position(|(_, load)| load.is_none())?;
    let late: Vec<String> = channel.slots[gap..]
        .iter()
        .filter(|(_, load)| load.is_some())
        .map(|(name, _)| name.clone())
        .collect();
    if late.is_empty() {
        return None;
    }
    let empty = &channel.slots[gap].0;
    Some(Violation {
        kind: RuleKind::SlotOrder,
        fault: true,
        summary: format!(
            "{empty} is empty while {} behind it {} filled",
            short_list(&late),
            if late.len() == 1 { "is" } else { "are" }
        ),
        expected: format!("{empty} filled before the slots behind it"),
        found: format!("{empty} empty, {} filled", comma_list(&late)),
        slots: late,
        source: rule.source.clone(),
    })
}

/// Fewer ranks in front of more in one channel.
fn ranks_order(board: &Board, channel: &ChannelLoad) -> Option<Violation> {
    let rule = board.rules.most_ranks_first.as_ref().filter(|_| board.order_known)?;
    let ranks: Vec<(&String, u8)> =
        channel.slots.iter().filter_map(|(name, load)| Some((name, load.as_ref()?.ranks?))).collect();
    let pair = ranks.windows(2).find(|pair| pair[0].1 < pair[1].1)?;
    Some(Violation {
        kind: RuleKind::SlotOrder,
        fault: false,
        slots: vec![pair[0].0.clone(), pair[1].0.clone()],
        summary: format!("{} has fewer ranks than {} behind it", pair[0].0, pair[1].0),
        expected: "modules with more ranks in the first slots of a channel".to_owned(),
        found: format!("{} before {}", counted(pair[0].1.into(), "rank"), pair[1].1),
        source: rule.source.clone(),
    })
}

fn slots_with(fitting: &Fitting, want: impl Fn(&Load) -> bool) -> Vec<String> {
    let slots = fitting.channels.iter().flat_map(|channel| &channel.slots);
    slots.filter(|(_, load)| load.as_ref().is_some_and(&want)).map(|(name, _)| name.clone()).collect()
}

fn names(kinds: &[ModuleKind]) -> String {
    comma_list(kinds)
}

fn kinds(board: &Board, fitting: &Fitting) -> Vec<Violation> {
    let mut present: Vec<ModuleKind> = fitting.loads().filter_map(|load| load.kind).collect();
    present.sort_unstable();
    present.dedup();
    let mut violations = Vec::new();
    for rule in &board.rules.never_mix {
        let mixed: Vec<ModuleKind> =
            present.iter().copied().filter(|kind| rule.value.contains(kind)).collect();
        if mixed.len() > 1 {
            violations.push(Violation {
                kind: RuleKind::MixedKinds,
                fault: true,
                slots: slots_with(fitting, |load| load.kind.is_some_and(|kind| mixed.contains(&kind))),
                summary: format!("{} must not be in one machine", names(&mixed)),
                expected: format!("only one of {}", names(&rule.value)),
                found: names(&mixed),
                source: rule.source.clone(),
            });
        }
    }
    let strange: Vec<ModuleKind> = present
        .iter()
        .copied()
        .filter(|kind| !board.rules.kinds.is_empty() && !board.rules.kinds.contains(kind))
        .collect();
    if !strange.is_empty() {
        violations.push(Violation {
            kind: RuleKind::MixedKinds,
            fault: true,
            slots: slots_with(fitting, |load| load.kind.is_some_and(|kind| strange.contains(&kind))),
            summary: format!("the board does not take {}", names(&strange)),
            expected: names(&board.rules.kinds),
            found: names(&strange),
            source: Source::Own,
        });
    }
    violations
}

fn sizes(board: &Board, fitting: &Fitting) -> Option<Violation> {
    let largest = board.rules.largest_module.as_ref()?;
    let slots = slots_with(fitting, |load| load.size.is_some_and(|size| size > largest.value));
    let found = fitting.loads().filter_map(|load| load.size).max()?;
    if slots.is_empty() {
        return None;
    }
    Some(Violation {
        kind: RuleKind::MixedKinds,
        fault: true,
        summary: format!("a module of {found} is larger than the board takes"),
        expected: format!("at most {} in a slot", largest.value),
        found: found.to_string(),
        slots,
        source: largest.source.clone(),
    })
}

/// Modules of another generation do not even go into the slot: their key notch is elsewhere.
fn generation(board: &Board, fitting: &Fitting) -> Option<Violation> {
    let wanted = board.rules.generation?;
    let other = |load: &Load| load.memory_type.is_some_and(|own| !own.same_generation(wanted));
    let found = fitting.loads().find(|load| other(load))?.memory_type?;
    Some(Violation {
        kind: RuleKind::MixedKinds,
        fault: true,
        slots: slots_with(fitting, other),
        summary: format!(
            "the board takes {wanted} and not {found}; the key notch does not fit, never force it"
        ),
        expected: wanted.to_string(),
        found: found.to_string(),
        source: Source::Own,
    })
}

/// Modules that need a higher voltage than the board gives.
fn voltages(board: &Board, fitting: &Fitting) -> Option<Violation> {
    let most = board.rules.voltages.iter().copied().max()?;
    let slots = slots_with(fitting, |load| load.voltage.is_some_and(|voltage| voltage > most));
    let found = fitting.loads().filter_map(|load| load.voltage).max()?;
    if slots.is_empty() {
        return None;
    }
    Some(Violation {
        kind: RuleKind::MixedKinds,
        fault: true,
        summary: format!("modules for {found} on a board that gives {most} at most"),
        expected: format!("at most {most}"),
        found: found.to_string(),
        slots,
        source: Source::Own,
    })
}

/// Uneven spread costs bandwidth and breaks nothing.
fn uneven(fitting: &Fitting) -> Option<Violation> {
    if balance(fitting) != Balance::Uneven {
        return None;
    }
    let counts: Vec<String> = fitting
        .channels
        .iter()
        .filter(|channel| fitting.sockets().contains(&channel.socket))
        .map(|channel| {
            let size = channel.loads().map(|load| load.size).sum::<Option<Bytes>>();
            let size = size.map_or_else(|| "size unknown".to_owned(), |size| size.to_string());
            format!("{}:{} {} ({size})", channel.socket, channel.channel, channel.count())
        })
        .collect();
    Some(Violation {
        kind: RuleKind::Uneven,
        fault: false,
        slots: Vec::new(),
        summary: "modules are spread unevenly over the channels, which costs bandwidth".to_owned(),
        expected: "the same modules in every channel of every socket".to_owned(),
        found: format!("modules and size by socket:channel: {}", comma_list(counts)),
        source: Source::CommonPractice,
    })
}
