//! Nearness to what is fitted now: of equally good placements, the one that changes the fewest slots.

use super::order::Order;
use crate::base::assignment::{Costs, assign};
use crate::board::Board;
use crate::plan::agreement::could_be;
use crate::population::Population;

/// What is in the slots of a channel now: `None` for nothing, else for each kind of the order whether the module
/// that is there could be of it.
pub(super) type NowInChannel = Vec<Option<Vec<bool>>>;

/// What is fitted now, channel by channel in the order of the board.
#[derive(Debug)]
pub(super) struct Fitted {
    pub(super) channels: Vec<NowInChannel>,
}

impl Fitted {
    pub(super) fn new(board: &Board, order: &Order, population: &Population<'_>) -> Self {
        let now = |name: &String| {
            let module = population.slot(name).and_then(|(_, slot)| slot.module())?;
            Some(order.kinds.iter().map(|(wanted, _)| could_be(wanted, module)).collect())
        };
        let channels = board.channels().map(|(_, channel)| channel.slots.iter().map(now).collect()).collect();
        Self { channels }
    }
}

/// The order of a content's modules in which the fewest slots hold something else now, and how many those are.
/// Only modules with equal ranks change places, which no rule sees.
pub(super) fn nearest(order: &Order, content: &[usize], now: &NowInChannel) -> (usize, Vec<usize>) {
    let ranks = |at: usize| order.kinds[content[at]].1.ranks;
    let fits =
        |at: usize, kind: usize| now.get(at).and_then(Option::as_ref).is_some_and(|fits| fits[content[kind]]);
    let costs = Costs::new(content.len(), content.len(), |at, kind| {
        if ranks(at) == ranks(kind) { i64::from(!fits(at, kind)) } else { 1_000_000 }
    });
    let nearest: Vec<usize> = assign(&costs).into_iter().map(|kind| content[kind]).collect();
    let differs = |(at, now): (usize, &Option<Vec<bool>>)| match (nearest.get(at), now) {
        (Some(kind), Some(fits)) => !fits[*kind],
        (None, None) => false,
        _ => true,
    };
    let distance = now.iter().enumerate().filter(|(at, now)| differs((*at, now))).count();
    (distance, nearest)
}
