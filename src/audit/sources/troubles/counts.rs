//! The kernel's error counters of one controller, each error once.
//!
//! A kernel may show the same errors three times: by module, by row of chips, and for the controller as a whole.

use crate::evidence::Evidence;
use crate::population::Mention;
use crate::sources::{ChipRow, Counted, Edac};

use super::super::places::Places;

/// Errors of one place.
#[derive(Debug, Clone, Default)]
pub(super) struct Counts {
    pub(super) corrected: u64,
    pub(super) uncorrected: u64,
    /// A counter holds no number.
    pub(super) unreadable: bool,
    pub(super) lines: Vec<Evidence>,
}

impl Counts {
    fn add(&mut self, more: Self) {
        self.corrected = self.corrected.saturating_add(more.corrected);
        self.uncorrected = self.uncorrected.saturating_add(more.uncorrected);
        self.unreadable |= more.unreadable;
        self.lines.extend(more.lines);
    }

    fn is_clean(&self) -> bool {
        self.corrected == 0 && self.uncorrected == 0 && !self.unreadable
    }

    /// The larger of two counts of the same errors, with the lines of that which says more.
    fn joined(self, other: Self) -> Self {
        let other_says_more = (other.uncorrected, other.corrected) > (self.uncorrected, self.corrected)
            || (self.is_clean() && other.unreadable);
        let lines = match (other_says_more, self.unreadable || other.unreadable) {
            (_, true) => [self.lines, other.lines].concat(),
            (true, false) => other.lines,
            (false, false) => self.lines,
        };
        Self {
            corrected: self.corrected.max(other.corrected),
            uncorrected: self.uncorrected.max(other.uncorrected),
            unreadable: self.unreadable || other.unreadable,
            lines,
        }
    }
}

/// The errors in one layout, by place.
type Layout = Vec<(Mention, Counts)>;

/// A slot is one place, however a label calls it.
fn is_same(a: &Mention, b: &Mention) -> bool {
    match (slot(a), slot(b)) {
        (None, None) => a == b,
        (a, b) => a == b,
    }
}

fn slot(mention: &Mention) -> Option<&str> {
    match mention {
        Mention::Slot(slot) | Mention::Likely { slot, .. } => Some(slot),
        Mention::None | Mention::Several(_) => None,
    }
}

fn put(layout: &mut Layout, mention: Mention, counts: Counts) {
    match layout.iter_mut().find(|(own, _)| is_same(own, &mention)) {
        Some((_, own)) => own.add(counts),
        None => layout.push((mention, counts)),
    }
}

fn counted(module: &Counted) -> Counts {
    Counts {
        corrected: module.corrected,
        uncorrected: module.uncorrected,
        unreadable: module.unreadable,
        lines: module.lines.clone(),
    }
}

/// The errors of a controller's memory, by place; nothing for what has none.
pub(super) fn of(places: &Places<'_, '_>, edac: &Edac, controller: &str) -> Layout {
    let mut modules = Layout::new();
    for module in edac.modules.iter().filter(|module| module.controller == controller) {
        let counts = counted(module);
        if !counts.is_clean() {
            put(&mut modules, places.labelled(module.label.as_deref()), counts);
        }
    }
    let mut rows = Layout::new();
    for row in edac.rows.iter().filter(|row| row.controller == controller) {
        by_row(places, row, &mut rows);
    }
    let sum = |layout: &Layout| {
        let mut all = Counts::default();
        for (_, counts) in layout {
            all.add(counts.clone());
        }
        all
    };
    let own = edac.controllers.iter().find(|own| own.id == controller).map(|own| Counts {
        corrected: own.corrected,
        uncorrected: own.uncorrected,
        unreadable: own.unreadable,
        lines: own
            .lines
            .iter()
            .filter(|line| line.text.contains("e_count") || line.text.contains("info_count"))
            .cloned()
            .collect(),
    });
    // The errors of the whole controller are at least as many as any way of counting them shows.
    let all = sum(&modules).joined(sum(&rows)).joined(own.clone().unwrap_or_default());
    // The same errors once more: what is counted at a place is the larger number of both.
    let mut result = modules;
    for (mention, counts) in rows {
        match result.iter_mut().find(|(own, _)| is_same(own, &mention)) {
            Some((_, own)) => *own = std::mem::take(own).joined(counts),
            None => result.push((mention, counts)),
        }
    }
    let untied =
        result.iter().position(|(mention, _)| *mention == Mention::None).map(|at| result.remove(at).1);
    let (mut corrected, mut uncorrected) = (all.corrected, all.uncorrected);
    for (_, counts) in &result {
        corrected = corrected.saturating_sub(counts.corrected);
        uncorrected = uncorrected.saturating_sub(counts.uncorrected);
    }
    let mut rest = untied.unwrap_or_default();
    let own = own.unwrap_or_default();
    // The rest is what no place has; the controller's lines show it where the untied counters do not.
    if own.unreadable || corrected > rest.corrected || uncorrected > rest.uncorrected {
        rest.lines.extend(own.lines);
    }
    rest.unreadable |= own.unreadable;
    (rest.corrected, rest.uncorrected) = (corrected, uncorrected);
    if !rest.is_clean() {
        result.push((Mention::None, rest));
    }
    result
}

/// A row's channels, and what the row counts beyond them: that belongs to a slot only if all its channels do.
fn by_row(places: &Places<'_, '_>, row: &ChipRow, layout: &mut Layout) {
    let mentions: Vec<Mention> =
        row.channels.iter().map(|channel| places.labelled(channel.label.as_deref())).collect();
    let mut left = row.corrected;
    for (channel, mention) in row.channels.iter().zip(&mentions) {
        left = left.saturating_sub(channel.corrected);
        let counts = counted(channel);
        if !counts.is_clean() {
            put(layout, mention.clone(), counts);
        }
    }
    let rest = Counts {
        corrected: left,
        uncorrected: row.uncorrected,
        unreadable: row.unreadable,
        lines: row.lines.clone(),
    };
    if rest.is_clean() {
        return;
    }
    let alone = match mentions.split_first() {
        Some((first, others)) if others.iter().all(|other| is_same(first, other)) => first.clone(),
        _ => Mention::None,
    };
    put(layout, alone, rest);
}
