//! Why an order does not fit: the rules that stop it.

use std::cell::Cell;

use super::order::{Kind, Order};
use super::search::best;
use crate::board::{Board, ChannelLoad, Fitting, RuleKind, check};

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
            names.push(format!(
                "at most {} ranks in a channel ({})",
                limit.value,
                board.source_text(&limit.source)
            ));
        }
    }
    for (index, limit) in board.rules.channel_limits.iter().enumerate() {
        let mut without = board.clone();
        without.rules.channel_limits.remove(index);
        if fits(&without) {
            names.push(format!(
                "at most {} modules in a channel ({})",
                limit.most,
                board.source_text(&limit.source)
            ));
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
    let mut limits = Vec::new();
    if let Some(limit) = &board.rules.ranks_per_channel {
        let ranks: Option<usize> = order
            .kinds
            .iter()
            .zip(&order.counts)
            .map(|((_, load), count)| Some(usize::from(load.ranks?) * count))
            .sum();
        let ordered = ranks.map_or_else(String::new, |ranks| format!(", {ranks} ranks ordered"));
        let channels = board.channels().count();
        limits.push(format!(
            "at most {} ranks in each of {channels} channels{ordered} ({})",
            limit.value,
            board.source_text(&limit.source)
        ));
    }
    for limit in &board.rules.channel_limits {
        let is_ordered = order.kinds.iter().any(|(_, load)| {
            load.ranks.is_some_and(|ranks| ranks >= limit.ranks_from)
                && (limit.kinds.is_empty() || load.kind.is_some_and(|kind| limit.kinds.contains(&kind)))
        });
        if is_ordered {
            let ranks = if limit.ranks_from > 1 {
                format!(" of {} ranks or more", limit.ranks_from)
            } else {
                String::new()
            };
            limits.push(format!(
                "at most {} modules{ranks} in a channel ({})",
                limit.most,
                board.source_text(&limit.source)
            ));
        }
    }
    limits.push(format!("{} modules for {} slots", order.total(), board.slots().count()));
    format!("several rules together: {}", limits.join("; "))
}
