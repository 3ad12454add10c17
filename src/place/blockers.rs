//! Why an order does not fit: the rules that stop it.

use std::cell::Cell;

use super::order::{Kind, Order};
use super::search::best;
use crate::base::words::counted;
use crate::board::{
    Board, ChannelLimit, ChannelLoad, Fitting, RuleKind, Sourced, check, concerns, counted_ranks, most_beside,
};

/// A rule that no placement can keep: it looks at all modules together.
pub(super) fn never(board: &Board, order: &Order) -> Option<String> {
    // One module in a channel of its own breaks nothing but what concerns the bag as a whole.
    let alone = |(_, load): &Kind| ChannelLoad {
        socket: 1,
        channel: String::new(),
        slots: vec![(String::new(), Some(*load))],
    };
    let channels: Vec<ChannelLoad> = order.kinds.iter().map(alone).collect();
    let fitting = Fitting { channels };
    check(board, &fitting)
        .into_iter()
        .find(|violation| violation.fault && violation.kind == RuleKind::MixedKinds)
        .map(|violation| format!("{} ({})", violation.summary, board.source_text(&violation.source)))
}

/// Names of the rules without which the order would fit.
pub(super) fn blockers(board: &Board, order: &Order, processors: &[&str]) -> Vec<String> {
    let slots = board.slots().count();
    if order.total() > slots {
        return vec![format!("{} modules for {slots} slots", order.total())];
    }
    let mut names = Vec::new();
    let too_large = Cell::new(false);
    let fits = |board: &Board| {
        let found = best(board, order, processors, true, None);
        too_large.set(too_large.get() || found.is_err());
        found.is_ok_and(|found| found.is_some())
    };
    if let Some(limit) = &board.rules.ranks_per_channel {
        let mut without = board.clone();
        without.rules.ranks_per_channel = None;
        if fits(&without) {
            names.push(too_many_ranks(board, order, limit));
        }
    }
    for (index, limit) in board.rules.channel_limits.iter().enumerate() {
        let mut without = board.clone();
        without.rules.channel_limits.remove(index);
        if fits(&without) {
            names.push(too_many_modules(board, order, limit));
        }
    }
    if names.is_empty() && too_large.get() {
        names.push("the board's rules; the search for the one that stops it would be too large".to_owned());
    }
    if names.is_empty() {
        names.push(together(board, order));
    }
    names
}

/// All limits that stop an order together, with their numbers and with what they are reached by.
fn together(board: &Board, order: &Order) -> String {
    let mut limits: Vec<String> = Vec::new();
    if let Some(limit) = &board.rules.ranks_per_channel {
        limits.push(too_many_ranks(board, order, limit));
    }
    let ordered = |limit: &&ChannelLimit| order.kinds.iter().any(|(_, load)| concerns(limit, load));
    limits.extend(
        board.rules.channel_limits.iter().filter(ordered).map(|limit| too_many_modules(board, order, limit)),
    );
    match limits.as_slice() {
        [] => format!("{} for {} slots", counted(order.total(), "module"), board.slots().count()),
        [one] => one.clone(),
        _ => format!("several rules together: {}", limits.join("; ")),
    }
}

/// The limit of ranks in a channel, and what it comes to for this order.
fn too_many_ranks(board: &Board, order: &Order, limit: &Sourced<u8>) -> String {
    let channels = board.channels().count();
    let most = counted(usize::from(limit.value), "rank");
    let counted_as = |(_, load): &Kind| counted_ranks(board, load).map(usize::from);
    let ranks: Option<Vec<usize>> = order.kinds.iter().map(counted_as).collect();
    let comes_to = match ranks.as_deref() {
        Some([ranks]) if *ranks > 0 => {
            let each = usize::from(limit.value) / ranks;
            format!(
                ", so {} of {}; {} are ordered for {}",
                counted(each, "module"),
                counted(*ranks, "rank"),
                order.total(),
                counted(channels, "channel")
            )
        }
        Some(ranks) => {
            let sum: usize = ranks.iter().zip(&order.counts).map(|(ranks, count)| ranks * count).sum();
            format!("; {} are ordered for {}", counted(sum, "rank"), counted(channels, "channel"))
        }
        None => String::new(),
    };
    format!("at most {most} in a channel{comes_to} ({})", board.source_text(&limit.source))
}

/// A limit of modules beside one of a kind, and what is ordered.
fn too_many_modules(board: &Board, order: &Order, limit: &ChannelLimit) -> String {
    format!(
        "{}; {} are ordered for {} ({})",
        most_beside(limit),
        counted(order.total(), "module"),
        counted(board.channels().count(), "channel"),
        board.source_text(&limit.source)
    )
}
