//! The exact search.
//!
//! First the best contents for every use of one socket are found channel by channel, then the best uses of all
//! sockets, socket by socket. Costs are compared lexicographically and add up term by term, so the best part
//! belongs to the best whole.

use std::cell::Cell;
use std::cmp::Reverse;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use thiserror::Error;

use super::content::{Content, Contents};
use super::layer::{Cost, Filling, Layer, add, at};
use super::near::{Fitted, NowInChannel, nearest};
use super::order::Order;
use crate::board::{Board, BoardSocket, ChannelLimit, concerns};
use crate::units::TransferRate;

/// More uses than this are not searched.
const MOST_USES: usize = 4_000_000;

/// More cells than this are not kept: with everything that goes with them they take less than 256 MiB.
const MOST_CELLS: usize = 2_000_000;

/// More steps than this are not taken.
const MOST_STEPS: usize = 600_000_000;

/// The search would take too long or too much room.
#[derive(Debug, Clone, Copy, Error, PartialEq, Eq)]
#[error("the search would be too large")]
pub(super) struct TooLarge;

/// The contents of all channels for the best placement: of the whole order, or of the largest part that fits.
/// `None` means that nothing fits.
pub(super) fn best(
    board: &Board,
    order: &Order,
    processors: &[&str],
    whole: bool,
    near: Option<&Fitted>,
) -> Result<Option<Vec<Vec<usize>>>, TooLarge> {
    let (weights, uses) = order.radix().filter(|(_, uses)| *uses <= MOST_USES).ok_or(TooLarge)?;
    let contents = Contents { board, order, processors, weights };
    let search = Search { board, order, contents, uses, near, cells: Cell::new(0) };
    let count = |contents: &Vec<Vec<usize>>| contents.iter().map(Vec::len).sum::<usize>();
    // The largest part is what fits with no demand on the speed; among parts of that size, the fastest. Mostly
    // it fills all slots, which leaves little to look at.
    let wanted = if whole {
        order.total()
    } else {
        let all = order.total().min(board.slots().count());
        match search.place(None, false, all)? {
            Some(found) => count(&found),
            None => search.place(None, false, 0)?.as_ref().map_or(0, count),
        }
    };
    if wanted == 0 {
        return Ok(None);
    }
    for least in search.speeds() {
        if let Some(found) = search.place(least, whole, wanted)?
            && count(&found) == wanted
        {
            return Ok(Some(found));
        }
    }
    Ok(None)
}

struct Search<'s> {
    board: &'s Board,
    order: &'s Order,
    contents: Contents<'s>,
    /// Number of uses.
    uses: usize,
    near: Option<&'s Fitted>,
    /// Number of cells that are kept now.
    cells: Cell<usize>,
}

/// The best contents of one socket for each use, as a chain from channel to channel.
struct Table {
    /// Per channel: the contents that lead to each use.
    layers: Vec<Layer>,
    contents: Vec<Content>,
}

/// All tables of a socket, with the best one for each use that it can take.
#[derive(Default)]
struct Socket {
    tables: Vec<Table>,
    best: BTreeMap<usize, (Cost, usize)>,
}

impl Search<'_> {
    /// Speeds that contents allow, fastest first, then no demand on the speed at all. What lies above the
    /// slowest module's rating makes no difference.
    fn speeds(&self) -> Vec<Option<TransferRate>> {
        let rating = self.order.kinds.iter().filter_map(|(_, load)| load.rated).min();
        let mut speeds: Vec<TransferRate> = self
            .forms()
            .iter()
            .flat_map(|form| form.iter().copied())
            .collect::<BTreeSet<usize>>()
            .into_iter()
            .flat_map(|slots| self.contents.of(slots))
            .filter_map(|content| content.speed)
            .map(|speed| rating.map_or(speed, |rating| speed.min(rating)))
            .collect();
        speeds.sort_unstable();
        speeds.dedup();
        speeds.into_iter().rev().map(Some).chain([None]).collect()
    }

    /// Slots per channel of each socket.
    fn forms(&self) -> Vec<Vec<usize>> {
        let form = |socket: &BoardSocket| socket.channels.iter().map(|c| c.slots.len()).collect();
        self.board.sockets.iter().map(form).collect()
    }

    /// The best placement of at least `wanted` modules in which every channel allows at least `least`.
    fn place(
        &self,
        least: Option<TransferRate>,
        whole: bool,
        wanted: usize,
    ) -> Result<Option<Vec<Vec<usize>>>, TooLarge> {
        let forms = self.forms();
        self.cells.set(0);
        // Sockets of one layout are alike, unless they differ in what is fitted.
        let mut tables: BTreeMap<(Vec<usize>, &[NowInChannel]), Socket> = BTreeMap::new();
        let mut first = 0;
        let mut keys = Vec::new();
        for form in &forms {
            let now = self.near.map_or(&[][..], |near| &near.channels[first..first + form.len()]);
            first += form.len();
            keys.push((form.clone(), now));
            if let Entry::Vacant(entry) = tables.entry((form.clone(), now)) {
                entry.insert(self.socket(form, now, least)?);
            }
        }
        let sockets: Vec<&Socket> = keys.iter().filter_map(|key| tables.get(key)).collect();
        let Some(chosen) = self.combine(&sockets, &forms, whole, wanted)? else { return Ok(None) };
        let mut contents: Vec<Vec<Vec<usize>>> =
            sockets.iter().zip(chosen).map(|(table, usage)| table.unwind(usage)).collect();
        let Some(near) = self.near else {
            for (socket, form) in contents.iter_mut().zip(&forms) {
                first_ones_first(socket, form, |content| (Reverse(content.len()), content.clone()));
            }
            let modules = |socket: &Vec<Vec<usize>>| socket.iter().map(Vec::len).sum::<usize>();
            first_ones_first(&mut contents, &forms, |socket| (Reverse(modules(socket)), socket.clone()));
            return Ok(Some(contents.into_iter().flatten().collect()));
        };
        // The channels differ in what is fitted, so none may change places.
        let all = contents.into_iter().flatten().zip(&near.channels);
        Ok(Some(all.map(|(content, now)| nearest(self.order, &content, now).1).collect()))
    }

    /// The best contents of one socket for every use.
    fn socket(
        &self,
        form: &[usize],
        now: &[NowInChannel],
        least: Option<TransferRate>,
    ) -> Result<Socket, TooLarge> {
        let limits: Vec<&ChannelLimit> =
            self.board.rules.channel_limits.iter().filter(|l| l.whole_socket && l.source.binds()).collect();
        let mut socket = Socket::default();
        // Each limit that one module puts on the whole socket either holds, or no such module is there.
        for active in 0..1u32 << limits.len().min(8) {
            let allowed = |content: &Content| {
                let loads = || content.modules.iter().map(|kind| &self.order.kinds[*kind].1);
                let kept = limits.iter().enumerate().all(|(bit, limit)| {
                    if active & (1 << bit) == 0 {
                        !loads().any(|load| concerns(limit, load))
                    } else {
                        content.modules.len() <= usize::from(limit.most)
                    }
                });
                let fast = content.speed.is_none_or(|speed| least.is_none_or(|least| !speed.below(least)));
                kept && fast
            };
            let (table, reachable) = self.table(form, now, &allowed)?;
            for (usage, cost) in reachable {
                let number = socket.tables.len();
                let entry = socket.best.entry(usage).or_insert((cost, number));
                if cost < entry.0 {
                    *entry = (cost, number);
                }
            }
            socket.tables.push(table);
        }
        Ok(socket)
    }

    /// The best contents of one socket out of those that are allowed, and the uses it can take.
    fn table(
        &self,
        form: &[usize],
        now: &[NowInChannel],
        allowed: &dyn Fn(&Content) -> bool,
    ) -> Result<(Table, Vec<(usize, Cost)>), TooLarge> {
        let most = form.iter().copied().max().unwrap_or(0);
        let contents: Vec<Content> =
            self.contents.of(most).into_iter().filter(|content| allowed(content)).collect();
        let mut layers: Vec<Layer> = Vec::with_capacity(form.len());
        let mut filling = Filling::new(self.uses);
        let start: Layer = vec![(0, (0, 0, 0, 0), 0)];
        for (channel, slots) in form.iter().enumerate() {
            let distances: Vec<usize> = contents
                .iter()
                .map(|content| now.get(channel).map_or(0, |now| nearest(self.order, &content.modules, now).0))
                .collect();
            let before = layers.last().unwrap_or(&start);
            if before.len().saturating_mul(contents.len()) > MOST_STEPS {
                return Err(TooLarge);
            }
            for (usage, cost, _) in before {
                for (number, content) in contents.iter().enumerate() {
                    if content.modules.len() > *slots || !self.order.adds(*usage, content.usage) {
                        continue;
                    }
                    let unused = usize::from(content.modules.is_empty());
                    let own = (0, content.mebibytes.pow(2), unused, distances[number]);
                    let number = u32::try_from(number).unwrap_or(u32::MAX);
                    filling.offer(usage + content.usage, add(*cost, own), number);
                }
                self.has_room(filling.layer.len())?;
            }
            layers.push(self.keep(filling.take()));
        }
        let states = layers.last().unwrap_or(&start).iter().map(|(usage, cost, _)| (*usage, *cost)).collect();
        Ok((Table { layers, contents }, states))
    }

    /// The use of each socket in the best placement of at least `wanted` modules.
    fn combine(
        &self,
        sockets: &[&Socket],
        forms: &[Vec<usize>],
        whole: bool,
        wanted: usize,
    ) -> Result<Option<Vec<usize>>, TooLarge> {
        let all = self.order.total();
        let room: Vec<usize> = forms.iter().map(|form| form.iter().sum()).collect();
        let mut layers: Vec<Layer> = Vec::new();
        let mut filling = Filling::new(self.uses);
        let start: Layer = vec![(0, (0, 0, 0, 0), 0)];
        for (index, table) in sockets.iter().enumerate() {
            let later: usize = room[index + 1..].iter().sum();
            let choices: Vec<(usize, usize, Cost)> = table
                .best
                .iter()
                .map(|(usage, (cost, _))| {
                    (
                        *usage,
                        self.order.modules_in(*usage),
                        add((self.order.mebibytes_in(*usage).pow(2), 0, 0, 0), *cost),
                    )
                })
                .collect();
            let before = layers.last().unwrap_or(&start);
            if before.len().saturating_mul(choices.len()) > MOST_STEPS {
                return Err(TooLarge);
            }
            for (usage, cost, _) in before {
                let modules = self.order.modules_in(*usage);
                for (own, count, own_cost) in &choices {
                    // What the sockets that follow cannot hold must be placed by now.
                    if modules + count + later < wanted
                        || modules + count > all
                        || !self.order.adds(*usage, *own)
                    {
                        continue;
                    }
                    let choice = u32::try_from(*own).unwrap_or(u32::MAX);
                    filling.offer(usage + own, add(*cost, *own_cost), choice);
                }
                self.has_room(filling.layer.len())?;
            }
            layers.push(self.keep(filling.take()));
        }
        let last = layers.last().unwrap_or(&start);
        let end = if whole {
            let full = self.uses - 1;
            at(last, full).map(|_| full)
        } else {
            let better = |state: &&(usize, Cost, u32)| {
                (self.order.modules_in(state.0), self.order.mebibytes_in(state.0), Reverse(state.1))
            };
            last.iter().max_by_key(better).map(|(usage, ..)| *usage)
        };
        Ok(end.and_then(|usage| chosen(&layers, usage)))
    }

    /// Refuses `more` cells if there would be too many together with those that are kept.
    fn has_room(&self, more: usize) -> Result<(), TooLarge> {
        if self.cells.get() + more <= MOST_CELLS { Ok(()) } else { Err(TooLarge) }
    }

    fn keep(&self, layer: Layer) -> Layer {
        self.cells.set(self.cells.get() + layer.len());
        layer
    }
}

/// The use of each socket on the way to `usage` in the last layer.
fn chosen(layers: &[Layer], mut usage: usize) -> Option<Vec<usize>> {
    let mut chosen = Vec::new();
    for layer in layers.iter().rev() {
        let own = at(layer, usage)? as usize;
        chosen.push(own);
        usage -= own;
    }
    chosen.reverse();
    Some(chosen)
}

/// Puts what holds most first. Channels of one socket and sockets of one layout are alike, so that any order of
/// their contents is as good; people look for the first ones first.
fn first_ones_first<T, F: PartialEq, K: Ord>(items: &mut [T], forms: &[F], key: impl Fn(&T) -> K) {
    for at in 0..items.len() {
        let alike = (at..items.len()).filter(|other| forms.get(*other) == forms.get(at));
        if let Some(first) = alike.min_by_key(|other| key(&items[*other])) {
            items.swap(at, first);
        }
    }
}

impl Socket {
    /// The contents of the socket's channels for a use.
    fn unwind(&self, usage: usize) -> Vec<Vec<usize>> {
        let table = self.best.get(&usage).and_then(|(_, number)| self.tables.get(*number));
        let Some(table) = table else { return Vec::new() };
        let mut usage = usage;
        let mut contents = Vec::new();
        for layer in table.layers.iter().rev() {
            let Some(number) = at(layer, usage) else { break };
            let content = &table.contents[number as usize];
            contents.push(content.modules.clone());
            usage -= content.usage;
        }
        contents.reverse();
        contents
    }
}
