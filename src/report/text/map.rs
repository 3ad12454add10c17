//! The map: one line per channel, sockets as headings.

use std::io;

use super::layout::{Page, Tone, WIDTH, pad};
use crate::report::columns::columns;
use crate::report::view::{Drawn, LEGEND, Map, Mark, Row};

/// A mark in a character that needs no colour.
fn sign(mark: Mark) -> char {
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

/// Writes the map. What no record is about has no place on it.
pub(super) fn write(page: &mut Page<'_>, map: &Map<Drawn>) -> io::Result<()> {
    let rows = map.sockets.iter().flat_map(|socket| &socket.rows);
    let cells = rows.flat_map(|row| &row.slots).map(|slot| columns(&cell(slot)));
    let width = cells.max().unwrap_or(0).min(WIDTH - 16) + 3;
    for socket in &map.sockets {
        page.text(2, 2, Tone::Heading, &socket.title)?;
        for row in &socket.rows {
            write_row(page, row, width)?;
        }
    }
    Ok(())
}

fn write_row(page: &mut Page<'_>, row: &Row<Drawn>, width: usize) -> io::Result<()> {
    let per_line = ((WIDTH - 11) / width).max(1);
    for (number, line) in row.slots.chunks(per_line).enumerate() {
        let head = row.title.as_deref().filter(|_| number == 0).unwrap_or_default();
        let mut pieces = vec![(Tone::Quiet, format!("    {}", pad(head, 7)))];
        for slot in line {
            let tone = match slot.mark {
                None if slot.is_empty => Tone::Quiet,
                None => Tone::Plain,
                Some(mark) => mark.into(),
            };
            let sign = slot.mark.map_or(' ', sign);
            pieces.push((tone, format!("{sign}{}", pad(&cell(slot), width - 1))));
        }
        if let Some((_, text)) = pieces.last_mut() {
            text.truncate(text.trim_end().len());
        }
        page.pieces(&pieces)?;
    }
    Ok(())
}

fn cell(slot: &Drawn) -> String {
    let there = if slot.is_empty { EMPTY } else { &slot.there };
    format!("{} {there}", slot.name)
}
