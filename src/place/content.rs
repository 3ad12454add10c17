//! Contents: what one channel can take, a multiset of module kinds in the order of filling.

use super::order::Order;
use crate::board::{Board, ChannelLoad, Load, channel_is_legal, channel_speed};
use crate::units::{Bytes, TransferRate};

/// What one channel can take.
#[derive(Debug)]
pub(super) struct Content {
    pub(super) modules: Vec<usize>,
    pub(super) usage: usize,
    pub(super) mebibytes: u128,
    pub(super) speed: Option<TransferRate>,
}

/// Finds the contents that the rules allow.
pub(super) struct Contents<'s> {
    pub(super) board: &'s Board,
    pub(super) order: &'s Order,
    pub(super) processors: &'s [&'s str],
    /// The weight of each kind in a use.
    pub(super) weights: Vec<usize>,
}

impl Contents<'_> {
    /// All legal contents of a channel with so many slots, the empty one first.
    pub(super) fn of(&self, slots: usize) -> Vec<Content> {
        let mut all = Vec::new();
        let mut modules = Vec::new();
        self.extend(slots, 0, &mut modules, &mut all);
        all
    }

    fn extend(&self, slots: usize, from: usize, modules: &mut Vec<usize>, all: &mut Vec<Content>) {
        let loads: Vec<Option<Load>> =
            (0..slots).map(|at| modules.get(at).map(|kind| self.order.kinds[*kind].1)).collect();
        let channel = ChannelLoad {
            socket: 0,
            channel: String::new(),
            slots: loads.into_iter().map(|load| (String::new(), load)).collect(),
        };
        // Rules only get stricter with more modules, so an illegal content has no legal extension.
        if !channel_is_legal(self.board, &channel) {
            return;
        }
        let size: Bytes = channel.loads().filter_map(|load| load.size).sum();
        all.push(Content {
            modules: modules.clone(),
            usage: modules.iter().map(|kind| self.weights[*kind]).sum(),
            mebibytes: u128::from(size.0 / Bytes::MIB),
            speed: if modules.is_empty() {
                None
            } else {
                channel_speed(self.board, &channel, self.processors)
            },
        });
        if modules.len() == slots {
            return;
        }
        for kind in from..self.order.kinds.len() {
            let taken = modules.iter().filter(|other| **other == kind).count();
            if taken < self.order.counts[kind] {
                modules.push(kind);
                self.extend(slots, kind, modules, all);
                modules.pop();
            }
        }
    }
}
