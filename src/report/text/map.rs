//! The map: one line per channel, sockets as headings.

use std::io;
use std::slice;

use super::layout::{Page, Tone, pad};
use crate::report::columns::columns;
use crate::report::view::{Drawn, LEGEND, Map, Mark, Socket};

/// A mark in a character that needs no colour.
pub(super) fn sign(mark: Mark) -> char {
    match mark {
        Mark::Fault => '!',
        Mark::Warning => '*',
        Mark::Unproven => '?',
        Mark::Good => ' ',
    }
}

/// What stands for an empty slot.
const EMPTY: &str = "-";

/// The title of a map with what its marks mean.
pub(super) fn marked_title(title: &str) -> String {
    let marks = LEGEND.map(|(mark, word, _)| format!("{} {word}   ", sign(mark))).concat();
    format!("{title}   ({marks}{EMPTY} empty)")
}

/// A line of toned pieces, and the columns it takes.
#[derive(Debug, Default, Clone)]
struct Line {
    pieces: Vec<(Tone, String)>,
    width: usize,
}

impl Line {
    fn push(&mut self, tone: Tone, text: String) {
        self.width += columns(&text);
        self.pieces.push((tone, text));
    }

    /// Fills up to `width` columns.
    fn fill(&mut self, width: usize) {
        self.push(Tone::Plain, " ".repeat(width.saturating_sub(self.width)));
    }
}

/// Between two sockets that stand side by side.
const GAP: usize = 2;

/// Before the slots of a channel.
const MARGIN: usize = 3;

/// Writes the map, sockets side by side where there is room. What no record is about has no place on it.
pub(super) fn write(page: &mut Page<'_>, map: &Map<Drawn>) -> io::Result<()> {
    let sockets = map.sockets.as_slice();
    let titles = sockets.iter().flat_map(|socket| &socket.rows).filter_map(|row| row.title.as_deref());
    let head = MARGIN + titles.map(|title| columns(title) + 1).max().unwrap_or(1);
    let room = page.width() - head;
    // Below each other they share their columns; beside each other each has its own.
    let own = |socket| block(socket, head, &widths(slice::from_ref(socket), room));
    let mut blocks: Vec<Vec<Line>> = sockets.iter().map(own).collect();
    let starts = starts(&blocks, page.width());
    if starts.len() == 1 {
        let widths = widths(sockets, room);
        blocks = sockets.iter().map(|socket| block(socket, head, &widths)).collect();
    }
    for blocks in blocks.chunks(starts.len()) {
        for at in 0..blocks.iter().map(Vec::len).max().unwrap_or(0) {
            let mut whole = Line::default();
            for (block, start) in blocks.iter().zip(&starts) {
                let Some(line) = block.get(at) else { continue };
                whole.fill(*start);
                whole.pieces.extend(line.pieces.iter().cloned());
                whole.width += line.width;
            }
            if let Some((_, text)) = whole.pieces.last_mut() {
                text.truncate(text.trim_end().len());
            }
            page.pieces(&whole.pieces)?;
        }
    }
    Ok(())
}

/// Where blocks that stand side by side start: as many as there is `room` for, and at least one.
fn starts(blocks: &[Vec<Line>], room: usize) -> Vec<usize> {
    let width = |block: &Vec<Line>| block.iter().map(|line| line.width).max().unwrap_or(0);
    for beside in (2..=blocks.len()).rev() {
        let mut starts = vec![0];
        for column in 0..beside {
            let widest = blocks.iter().skip(column).step_by(beside).map(width).max().unwrap_or(0);
            starts.push(starts[column] + widest + GAP);
        }
        // Nothing stands behind the last one.
        if starts.pop().is_some_and(|end| end <= room + GAP) {
            return starts;
        }
    }
    vec![0]
}

/// The width of each column of slots: as many as fit into a line of `room`.
fn widths(sockets: &[Socket<Drawn>], room: usize) -> Vec<usize> {
    let mut widths: Vec<usize> = Vec::new();
    for row in sockets.iter().flat_map(|socket| &socket.rows) {
        for (at, slot) in row.slots.iter().enumerate() {
            let width = columns(&cell(slot)).min(room - 1) + 1;
            match widths.get_mut(at) {
                Some(own) => *own = width.max(*own),
                None => widths.push(width),
            }
        }
    }
    // The last one needs no space behind it.
    if widths.iter().sum::<usize>() + widths.len() <= room + 1 {
        return widths;
    }
    // Rows are broken, so that any slot may stand in any column.
    let widest = widths.into_iter().max().unwrap_or(1);
    vec![widest; ((room + 1) / (widest + 1)).max(1)]
}

/// The lines of one socket.
fn block(socket: &Socket<Drawn>, head: usize, widths: &[usize]) -> Vec<Line> {
    let mut title = Line::default();
    title.push(Tone::Plain, "  ".to_owned());
    title.push(Tone::Heading, socket.title.clone());
    let rows = socket.rows.iter().flat_map(|row| {
        let lines = row.slots.chunks(widths.len().max(1)).enumerate();
        lines.map(move |(number, slots)| {
            let channel = row.title.as_deref().filter(|_| number == 0).unwrap_or_default();
            let mut line = Line::default();
            line.push(Tone::Quiet, format!("{:MARGIN$}{}", "", pad(channel, head - MARGIN)));
            for (slot, width) in slots.iter().zip(widths) {
                let tone = match slot.mark {
                    None if slot.is_empty => Tone::Quiet,
                    None => Tone::Plain,
                    Some(mark) => mark.into(),
                };
                let sign = slot.mark.map_or(' ', sign);
                line.push(tone, format!("{sign}{} ", pad(&cell(slot), width - 1)));
            }
            line
        })
    });
    [title].into_iter().chain(rows).collect()
}

fn cell(slot: &Drawn) -> String {
    let there = if slot.is_empty { EMPTY } else { &slot.there };
    format!("{} {there}", slot.name)
}
