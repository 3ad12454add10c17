//! The board as a drawing: sockets, their channels, and the slots of each channel in order.

use maud::{Markup, html};

use super::super::{map, sanitize};
use super::Sign;
use crate::population::{Population, Slot};

/// What a slot looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    /// A module is there.
    Filled,
    /// Nothing is there.
    Empty,
    /// Nothing is seen of what should be there.
    Lost,
}

/// One slot as it is drawn.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// Its label.
    pub(super) name: String,
    /// Lines below the label.
    pub(super) lines: Vec<String>,
    /// What its mark says, in one line.
    pub(super) says: Option<(Sign, String)>,
    /// What it looks like.
    pub(super) look: Look,
    /// How much of the most there is, in thousandths, as a bar; then the shape of the mark is left out.
    pub(super) bar: Option<usize>,
    /// Where more is said of it.
    pub(super) link: Option<String>,
    /// All of this for those who do not see it.
    pub(super) aloud: String,
}

/// The slots of one channel, or some of those whose channel is not known.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) title: String,
    pub(super) cells: Vec<Cell>,
}

/// One socket with its channels.
#[derive(Debug, Clone)]
pub(super) struct Block {
    pub(super) title: String,
    /// Short name in the processor; none where no socket is proven.
    pub(super) processor: Option<String>,
    pub(super) rows: Vec<Row>,
}

/// Where a slot stands, for [`blocks`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) socket: Option<u16>,
    pub(super) channel: Option<String>,
}

/// Slots in a row where no channel groups them.
const LOOSE_ROW: usize = 4;

/// Slots in the order of the board, as blocks and rows.
pub(super) fn blocks(cells: Vec<(Place, Cell)>, title: impl Fn(Option<u16>) -> String) -> Vec<Block> {
    let mut blocks: Vec<(Option<u16>, Block)> = Vec::new();
    let mut before: Option<Place> = None;
    for (place, cell) in cells {
        let same_socket = before.as_ref().is_some_and(|last| last.socket == place.socket);
        if !same_socket {
            let processor = place.socket.map(|number| format!("socket {number}"));
            blocks.push((place.socket, Block { title: title(place.socket), processor, rows: Vec::new() }));
        }
        let same_row = same_socket && before.as_ref().is_some_and(|last| last.channel == place.channel);
        let Some((_, block)) = blocks.last_mut() else { continue };
        let loose = place.channel.is_none();
        match block.rows.last_mut() {
            Some(row) if same_row && !(loose && row.cells.len() == LOOSE_ROW) => row.cells.push(cell),
            _ => {
                let title =
                    place.channel.as_ref().map_or_else(String::new, |channel| format!("ch {channel}"));
                block.rows.push(Row { title, cells: vec![cell] });
            }
        }
        before = Some(place);
    }
    blocks.into_iter().map(|(_, block)| block).collect()
}

/// The slots of a population, drawn by `cell`.
pub(super) fn of_population(
    population: &Population<'_>,
    cell: impl Fn(usize, &Slot<'_>) -> Cell,
) -> Vec<Block> {
    let cells = population.in_board_order().into_iter().map(|index| {
        let slot = &population.slots[index];
        let channel = slot.location.channel.map(|channel| channel.to_string());
        (Place { socket: slot.location.socket, channel }, cell(index, slot))
    });
    blocks(cells.collect(), |socket| map::socket_title(socket, population))
}

/// Sizes of the drawing, in its own units.
const CELL_LOW: usize = 116;
const CELL_HIGH: usize = 250;
/// A bold character of the sheet's size; most are narrower.
const CHARACTER: usize = 9;
const LINE: usize = 17;
const GAP: usize = 10;
const PROCESSOR: usize = 34;
const TRACE: usize = 52;

/// All sockets.
pub(super) fn draw(blocks: &[Block]) -> Markup {
    html! {
        div .boards {
            @for block in blocks { (draw_block(block)) }
        }
    }
}

fn draw_block(block: &Block) -> Markup {
    let cells = || block.rows.iter().flat_map(|row| &row.cells);
    // The label has the mark beside it.
    let longest = cells().map(|cell| {
        let label = cell.name.chars().count() + 3;
        let says = cell.says.as_ref().map_or(0, |(_, says)| says.chars().count());
        cell.lines.iter().map(|line| line.chars().count()).chain([label, says]).max().unwrap_or(0)
    });
    let longest = longest.max().unwrap_or(0);
    let lines =
        cells().map(|cell| 1 + cell.lines.len() + usize::from(cell.says.is_some())).max().unwrap_or(1);
    let width = (longest * CHARACTER + 18).clamp(CELL_LOW, CELL_HIGH);
    let height = lines * LINE + if cells().any(|cell| cell.bar.is_some()) { 26 } else { 14 };
    let left = if block.processor.is_some() {
        PROCESSOR + TRACE
    } else if block.rows.iter().any(|row| !row.title.is_empty()) {
        TRACE
    } else {
        4
    };
    let columns = block.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    let whole = (left + columns * (width + GAP) + 4, block.rows.len() * (height + GAP) + 4);
    let draw_row = |(at, row): (usize, &Row)| {
        let y = at * (height + GAP) + 4;
        let middle = y + height / 2;
        let start = if block.processor.is_some() { PROCESSOR } else { 0 };
        let end = left + row.cells.len() * (width + GAP) - GAP - 4;
        html! {
            @if !row.title.is_empty() {
                path .trace d={ "M" (start) " " (middle) "H" (end) } {}
                text .dim x=(start + 5) y=(middle - 6) { (row.title) }
            }
            @for (at, cell) in row.cells.iter().enumerate() {
                (draw_cell(cell, left + at * (width + GAP), y, width, height))
            }
        }
    };
    html! {
        figure {
            figcaption { (block.title) }
            svg .board role="group" aria-label=(block.title) viewBox={ "0 0 " (whole.0) " " (whole.1) } width=(whole.0) height=(whole.1) {
                @if let Some(name) = &block.processor {
                    rect .processor x="2" y="4" width=(PROCESSOR - 4) height=(whole.1 - GAP - 4) rx="4" {}
                    text .dim aria-hidden="true" text-anchor="middle" transform={ "translate(" (PROCESSOR / 2 + 5) " " (whole.1 / 2) ") rotate(-90)" } { (name) }
                }
                @for row in block.rows.iter().enumerate() { (draw_row(row)) }
            }
        }
    }
}

/// A module with its key notch at the lower edge.
fn outline(width: usize, height: usize) -> String {
    let notch = width * 2 / 5;
    format!("M3 0H{}V{height}H{}v-6h-8v6H3z", width - 3, notch + 8)
}

fn draw_cell(cell: &Cell, x: usize, y: usize, width: usize, height: usize) -> Markup {
    let look = match cell.look {
        Look::Filled => "filled",
        Look::Empty => "empty",
        Look::Lost => "lost",
    };
    let sign = cell.says.as_ref().map_or("", |(sign, _)| sign.word());
    let most = (width - 16) / (CHARACTER - 1);
    // Shown characters take more room than obeyed ones, so they are counted as shown.
    let name = fit(&sanitize(&cell.name), most.saturating_sub(3));
    let lines: Vec<String> = cell.lines.iter().map(|line| fit(line, most)).collect();
    let says = cell.says.as_ref().map(|(sign, says)| (*sign, fit(says, most)));
    // What is seen comes first in what is said, so that both can be used to speak of it (WCAG 2.2, 2.5.3).
    let seen = [&name].into_iter().chain(&lines).chain(says.as_ref().map(|(_, says)| says));
    let seen: Vec<&str> = seen.map(String::as_str).collect();
    let aloud = format!("{}. {}", seen.join(" "), cell.aloud);
    // The blanks part the texts for those who hear them.
    let inside = html! {
        path .body d=(outline(width, height)) {}
        text .label x="10" y="19" { (name) " " }
        @for (at, line) in lines.iter().enumerate() {
            text .dim x="10" y=(19 + (at + 1) * LINE) { (line) " " }
        }
        @if let Some((sign, says)) = &says {
            text .says x="10" y=(19 + (lines.len() + 1) * LINE) { (says) " " }
            @match cell.bar {
                Some(bar) => rect .mark.(sign.word()) x="10" y=(height - 18) width=((width - 20) * bar / 1000) height="7" {},
                None => svg x=(width - 28) y="5" width="20" height="20" viewBox="0 0 20 20" { (sign.shape()) },
            }
        }
    };
    let shift = format!("translate({x} {y})");
    html! {
        @if let Some(link) = &cell.link {
            a .slot.(look).(sign) href=(link) aria-label=(aloud) transform=(shift) { (inside) }
        } @else {
            g .slot.(look).(sign) role="img" aria-label=(aloud) transform=(shift) { (inside) }
        }
    }
}

/// The text if it has no more than `most` characters, else its ends.
fn fit(text: &str, most: usize) -> String {
    let count = text.chars().count();
    if count <= most || most < 3 {
        return text.to_owned();
    }
    // The ends tell labels apart, most often the last characters.
    let tail = (most - 1) / 2 + 1;
    let head = most - 1 - tail;
    text.chars().take(head).chain(['\u{2026}']).chain(text.chars().skip(count - tail)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_texts_keep_their_ends() {
        assert_eq!(fit("NODE 0 CHANNEL 0 DIMM 0 (C0A0)", 12), "NODE \u{2026}(C0A0)");
        assert_eq!(fit("A1", 12), "A1");
    }

    fn cell(name: &str) -> Cell {
        Cell {
            name: name.to_owned(),
            lines: Vec::new(),
            says: None,
            look: Look::Empty,
            bar: None,
            link: None,
            aloud: String::new(),
        }
    }

    #[test]
    fn slots_without_a_channel_stand_in_short_rows() {
        let place = |channel: Option<&str>| Place { socket: None, channel: channel.map(str::to_owned) };
        let cells = (0..9).map(|n| (place(None), cell(&n.to_string()))).collect();
        let made = blocks(cells, |_| String::new());
        assert_eq!(made[0].rows.iter().map(|row| row.cells.len()).collect::<Vec<_>>(), [4, 4, 1]);
        let cells = (0..6).map(|n| (place(Some("A")), cell(&n.to_string()))).collect();
        assert_eq!(blocks(cells, |_| String::new())[0].rows.len(), 1);
    }
}
