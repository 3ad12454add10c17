//! The exact search.
//!
//! A *content* is what one channel takes: a multiset of module kinds, in the order of filling. A *use* is how
//! many modules of each kind something takes, as one number in a mixed radix, so that sums of uses are sums of
//! numbers. First the best contents for every use of one socket are found channel by channel, then the best
//! uses of all sockets, socket by socket. Costs are compared like words in a dictionary and add up term by
//! term, so the best part belongs to the best whole.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::Kind;
use crate::assignment::{Costs, assign};
use crate::board::{
    Board, ChannelLimit, ChannelLoad, Load, channel_is_legal, channel_speed, check, concerns,
};
use crate::plan::ModuleSpec;
use crate::plan::agreement::could_be;
use crate::population::Population;
use crate::units::{Bytes, TransferRate};

/// What is to be placed.
#[derive(Debug)]
pub(super) struct Order {
    /// Kinds, those with more ranks first, then the larger ones: the order of filling within a channel.
    pub(super) kinds: Vec<Kind>,
    /// How many of each.
    counts: Vec<usize>,
}

impl Order {
    pub(super) fn new(order: &[(u32, ModuleSpec)]) -> Self {
        let mut kinds: Vec<(Kind, usize)> = Vec::new();
        for (count, wanted) in order {
            let count = usize::try_from(*count).unwrap_or(usize::MAX);
            match kinds.iter_mut().find(|((other, _), _)| other == wanted) {
                Some((_, old)) => *old += count,
                None => kinds.push(((wanted.clone(), Load::from(wanted)), count)),
            }
        }
        kinds.sort_by_key(|((_, load), _)| std::cmp::Reverse((load.ranks, load.size)));
        let (kinds, counts) = kinds.into_iter().unzip();
        Self { kinds, counts }
    }

    pub(super) fn total(&self) -> usize {
        self.counts.iter().sum()
    }

    /// The order without modules for which there is no slot anyway, whatever else is placed.
    pub(super) fn capped(&self, slots: usize) -> Self {
        let counts = self.counts.iter().map(|count| (*count).min(slots)).collect();
        Self { kinds: self.kinds.clone(), counts }
    }

    /// The weight of each kind in a use, and the number of uses.
    fn radix(&self) -> Option<(Vec<usize>, usize)> {
        let mut weights = Vec::new();
        let mut size = 1usize;
        for count in &self.counts {
            weights.push(size);
            size = size.checked_mul(count + 1)?;
        }
        Some((weights, size))
    }
}

/// More uses than this are not searched.
const MOST_USES: usize = 4_000_000;

/// More cells than this are not kept: with all that is beside them they take less than 256 MiB.
const MOST_CELLS: usize = 2_000_000;

/// More steps than this are not taken.
const MOST_STEPS: usize = 600_000_000;

/// Cost of a part: squares of sockets, squares of channels, channels not used, slots that hold something else
/// now. Smaller is better.
type Cost = (u128, u128, usize, usize);

fn add(a: Cost, b: Cost) -> Cost {
    (a.0 + b.0, a.1 + b.1, a.2 + b.2, a.3 + b.3)
}

/// What is in the slots of a channel now: `None` for nothing, else for each kind of the order whether the module
/// that is there could be of it.
type NowInChannel = Vec<Option<Vec<bool>>>;

/// What is fitted now, channel by channel in the order of the board.
#[derive(Debug)]
pub(super) struct Fitted {
    channels: Vec<NowInChannel>,
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

/// What one channel can take.
#[derive(Debug)]
struct Content {
    modules: Vec<usize>,
    usage: usize,
    mebibytes: u128,
    speed: Option<TransferRate>,
}

/// A rule that no placement can keep: it looks at all modules together.
pub(super) fn never(board: &Board, order: &Order) -> Option<String> {
    // One module in a channel of its own breaks nothing but what concerns the bag as a whole.
    let alone = |(_, load): &Kind| ChannelLoad {
        socket: 1,
        channel: String::new(),
        slots: vec![(String::new(), Some(*load))],
    };
    let channels: Vec<ChannelLoad> = order.kinds.iter().map(alone).collect();
    let fitting = crate::board::Fitting { channels };
    check(board, &fitting)
        .into_iter()
        .find(|violation| violation.fault && violation.kind == crate::board::RuleKind::MixedKinds)
        .map(|violation| format!("{} ({})", violation.summary, board.source_text(&violation.source)))
}

/// The contents of all channels for the best placement: of the whole order, or of the largest part that fits.
/// The outer `None` means that the search would be too large, the inner one that nothing fits.
#[expect(clippy::option_option, reason = "two different questions")]
pub(super) fn best(
    board: &Board,
    order: &Order,
    processors: &[&str],
    whole: bool,
    near: Option<&Fitted>,
) -> Option<Option<Vec<Vec<usize>>>> {
    let (weights, uses) = order.radix().filter(|(_, uses)| *uses <= MOST_USES)?;
    let search = Search { board, order, processors, weights, uses, near, cells: Cell::new(0) };
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
        return Some(None);
    }
    for least in search.speeds() {
        if let Some(found) = search.place(least, whole, wanted)?
            && count(&found) == wanted
        {
            return Some(Some(found));
        }
    }
    Some(None)
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
        too_large.set(too_large.get() || found.is_none());
        found.flatten().is_some()
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
    if names.is_empty() {
        let why = if too_large.get() {
            "the board's rules; the search for the one that stops it would be too large"
        } else {
            "several rules together"
        };
        names.push(why.to_owned());
    }
    names
}

struct Search<'s> {
    board: &'s Board,
    order: &'s Order,
    processors: &'s [&'s str],
    weights: Vec<usize>,
    uses: usize,
    near: Option<&'s Fitted>,
    /// Number of cells that are kept now.
    cells: Cell<usize>,
}

/// One step of a search: for every use that can be reached, in their order, the cost so far and the choice
/// that led there.
type Layer = Vec<(usize, Cost, u32)>;

/// The cell of a use.
fn at(layer: &Layer, usage: usize) -> Option<u32> {
    let index = layer.binary_search_by_key(&usage, |(own, ..)| *own).ok()?;
    layer.get(index).map(|(_, _, choice)| *choice)
}

/// A layer while it is filled, with the place of each use in it.
struct Filling {
    layer: Layer,
    index: Vec<u32>,
}

impl Filling {
    fn new(uses: usize) -> Self {
        Self { layer: Vec::new(), index: vec![u32::MAX; uses] }
    }

    /// Keeps the cheaper of what is there and what is offered.
    fn offer(&mut self, usage: usize, cost: Cost, choice: u32) {
        let Some(index) = self.index.get_mut(usage) else { return };
        match self.layer.get_mut(*index as usize) {
            Some((_, old, kept)) => {
                if cost < *old {
                    (*old, *kept) = (cost, choice);
                }
            }
            None => {
                *index = u32::try_from(self.layer.len()).unwrap_or(u32::MAX);
                self.layer.push((usage, cost, choice));
            }
        }
    }

    /// The layer that was filled; the next one starts empty.
    fn take(&mut self) -> Layer {
        let mut layer = std::mem::take(&mut self.layer);
        for (usage, ..) in &layer {
            self.index[*usage] = u32::MAX;
        }
        layer.sort_unstable_by_key(|(usage, ..)| *usage);
        layer
    }
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
            .collect::<std::collections::BTreeSet<usize>>()
            .into_iter()
            .flat_map(|slots| self.contents(slots))
            .filter_map(|content| content.speed)
            .map(|speed| rating.map_or(speed, |rating| speed.min(rating)))
            .collect();
        speeds.sort_unstable();
        speeds.dedup();
        speeds.into_iter().rev().map(Some).chain([None]).collect()
    }

    /// Slots per channel of each socket.
    fn forms(&self) -> Vec<Vec<usize>> {
        let form =
            |socket: &crate::board::BoardSocket| socket.channels.iter().map(|c| c.slots.len()).collect();
        self.board.sockets.iter().map(form).collect()
    }

    /// All legal contents of a channel with so many slots, the empty one first.
    fn contents(&self, slots: usize) -> Vec<Content> {
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

    /// The best placement of at least `wanted` modules in which every channel allows at least `least`.
    #[expect(clippy::option_option, reason = "two different questions")]
    fn place(
        &self,
        least: Option<TransferRate>,
        whole: bool,
        wanted: usize,
    ) -> Option<Option<Vec<Vec<usize>>>> {
        let forms = self.forms();
        self.cells.set(0);
        // Sockets of one form are alike, unless what is fitted in them tells them apart.
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
        let Some(chosen) = self.combine(&sockets, &forms, whole, wanted)? else { return Some(None) };
        let mut contents: Vec<Vec<Vec<usize>>> =
            sockets.iter().zip(chosen).map(|(table, usage)| table.unwind(usage)).collect();
        let Some(near) = self.near else {
            for (socket, form) in contents.iter_mut().zip(&forms) {
                first_ones_first(socket, form, |content| (std::cmp::Reverse(content.len()), content.clone()));
            }
            let modules = |socket: &Vec<Vec<usize>>| socket.iter().map(Vec::len).sum::<usize>();
            first_ones_first(&mut contents, &forms, |socket| {
                (std::cmp::Reverse(modules(socket)), socket.clone())
            });
            return Some(Some(contents.into_iter().flatten().collect()));
        };
        // What is fitted tells the channels apart, so none may change places.
        let all = contents.into_iter().flatten().zip(&near.channels);
        Some(Some(all.map(|(content, now)| self.nearest(&content, now).1).collect()))
    }

    /// The order of a content's modules in which the fewest slots hold something else now, and their number.
    /// Only modules with equal ranks change places, which no rule sees.
    fn nearest(&self, content: &[usize], now: &NowInChannel) -> (usize, Vec<usize>) {
        let ranks = |at: usize| self.order.kinds[content[at]].1.ranks;
        let fits = |at: usize, kind: usize| {
            now.get(at).and_then(Option::as_ref).is_some_and(|fits| fits[content[kind]])
        };
        let costs = Costs::new(content.len(), content.len(), |at, kind| {
            if ranks(at) == ranks(kind) { i64::from(!fits(at, kind)) } else { 1_000_000 }
        });
        let order: Vec<usize> = assign(&costs).into_iter().map(|kind| content[kind]).collect();
        let differs = |(at, now): (usize, &Option<Vec<bool>>)| match (order.get(at), now) {
            (Some(kind), Some(fits)) => !fits[*kind],
            (None, None) => false,
            _ => true,
        };
        let distance = now.iter().enumerate().filter(|(at, now)| differs((*at, now))).count();
        (distance, order)
    }

    /// Modules in a use.
    fn modules(&self, usage: usize) -> usize {
        let mut rest = usage;
        self.order
            .counts
            .iter()
            .map(|count| {
                let own = rest % (count + 1);
                rest /= count + 1;
                own
            })
            .sum()
    }

    /// Whether two uses together stay within the order: no digit overflows.
    fn adds(&self, a: usize, b: usize) -> bool {
        let (mut a, mut b) = (a, b);
        self.order.counts.iter().all(|count| {
            let fits = a % (count + 1) + b % (count + 1) <= *count;
            a /= count + 1;
            b /= count + 1;
            fits
        })
    }

    /// The best contents of one socket for every use.
    fn socket(&self, form: &[usize], now: &[NowInChannel], least: Option<TransferRate>) -> Option<Socket> {
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
        Some(socket)
    }

    /// The best contents of one socket out of those that are allowed, and the uses it can take.
    fn table(
        &self,
        form: &[usize],
        now: &[NowInChannel],
        allowed: &dyn Fn(&Content) -> bool,
    ) -> Option<(Table, Vec<(usize, Cost)>)> {
        let most = form.iter().copied().max().unwrap_or(0);
        let contents: Vec<Content> =
            self.contents(most).into_iter().filter(|content| allowed(content)).collect();
        let mut layers: Vec<Layer> = Vec::with_capacity(form.len());
        let mut filling = Filling::new(self.uses);
        let start: Layer = vec![(0, (0, 0, 0, 0), 0)];
        for (channel, slots) in form.iter().enumerate() {
            let distances: Vec<usize> = contents
                .iter()
                .map(|content| now.get(channel).map_or(0, |now| self.nearest(&content.modules, now).0))
                .collect();
            let before = layers.last().unwrap_or(&start);
            if before.len().saturating_mul(contents.len()) > MOST_STEPS {
                return None;
            }
            for (usage, cost, _) in before {
                for (number, content) in contents.iter().enumerate() {
                    if content.modules.len() > *slots || !self.adds(*usage, content.usage) {
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
        Some((Table { layers, contents }, states))
    }

    /// The use of each socket in the best placement of at least `wanted` modules.
    #[expect(clippy::option_option, reason = "two different questions")]
    fn combine(
        &self,
        sockets: &[&Socket],
        forms: &[Vec<usize>],
        whole: bool,
        wanted: usize,
    ) -> Option<Option<Vec<usize>>> {
        let size_of = |usage: usize| -> u128 {
            let mut rest = usage;
            let sizes = self.order.counts.iter().zip(&self.order.kinds).map(|(count, (_, load))| {
                let own = rest % (count + 1);
                rest /= count + 1;
                own as u128 * u128::from(load.size.unwrap_or_default().0 / Bytes::MIB)
            });
            sizes.sum()
        };
        let full = self.uses - 1;
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
                    (*usage, self.modules(*usage), add((size_of(*usage).pow(2), 0, 0, 0), *cost))
                })
                .collect();
            let before = layers.last().unwrap_or(&start);
            if before.len().saturating_mul(choices.len()) > MOST_STEPS {
                return None;
            }
            for (usage, cost, _) in before {
                let modules = self.modules(*usage);
                for (own, count, own_cost) in &choices {
                    // What the sockets that follow cannot hold must be placed by now.
                    if modules + count + later < wanted || modules + count > all || !self.adds(*usage, *own) {
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
            at(last, full).map(|_| full)
        } else {
            let better = |state: &&(usize, Cost, u32)| {
                (self.modules(state.0), size_of(state.0), std::cmp::Reverse(state.1))
            };
            last.iter().max_by_key(better).map(|(usage, ..)| *usage)
        };
        let Some(mut usage) = end else { return Some(None) };
        let mut chosen = Vec::new();
        for layer in layers.iter().rev() {
            let Some(own) = at(layer, usage).map(|own| own as usize) else { return Some(None) };
            chosen.push(own);
            usage -= own;
        }
        chosen.reverse();
        Some(Some(chosen))
    }

    /// Whether so many cells may be kept besides those that are.
    fn has_room(&self, more: usize) -> Option<()> {
        (self.cells.get() + more <= MOST_CELLS).then_some(())
    }

    fn keep(&self, layer: Layer) -> Layer {
        self.cells.set(self.cells.get() + layer.len());
        layer
    }
}

/// Puts what holds most first. Channels of one socket and sockets of one form are alike, so that any order of
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
