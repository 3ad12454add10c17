//! The board as a drawing: sockets, their channels, and the slots of each channel in order.

use maud::{Markup, html};
use unicode_width::UnicodeWidthChar;

use super::{Mark, Socket};
use crate::population::Location;
use crate::report::columns::columns;
use crate::report::sanitize;
pub(super) use crate::report::view::Look;
use crate::report::view::{Drawn, Map, arrange};

/// One slot as it is drawn.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// Its label.
    pub(super) name: String,
    /// Lines below the label.
    pub(super) lines: Vec<String>,
    /// What its mark says, in one line.
    pub(super) says: Option<(Mark, String)>,
    /// What it looks like.
    pub(super) look: Look,
    /// How much of the most there is, in thousandths, as a bar; then the shape of the mark is left out.
    pub(super) bar: Option<usize>,
    /// Where more is said of it.
    pub(super) link: Option<String>,
    /// Spoken label: all of this for those who do not see it.
    pub(super) spoken: String,
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

/// Where a slot is, for [`blocks`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct ChannelPlace {
    socket: Option<u16>,
    channel: Option<String>,
}

impl ChannelPlace {
    pub(super) fn of(location: &Location<'_>) -> Self {
        Self { socket: location.socket, channel: location.channel.map(|channel| channel.to_string()) }
    }
}

/// Slots in a row; a channel with more goes on in the next one.
const CHANNEL_ROW: usize = 4;
const LOOSE_ROW: usize = 3;

/// Slots in the order of the board, as blocks and rows.
pub(super) fn blocks(cells: Vec<(ChannelPlace, Cell)>, title: impl Fn(Option<u16>) -> String) -> Vec<Block> {
    let cells = cells.into_iter().map(|(place, cell)| (place.socket, place.channel, cell));
    of_sockets(arrange(cells, title), |cell| cell)
}

/// Sockets as blocks, with rows that are short enough to be drawn.
fn of_sockets<T>(sockets: Vec<Socket<T>>, cell: impl Fn(T) -> Cell) -> Vec<Block> {
    let block = |Socket { title, short, rows }: Socket<T>| {
        let rows = rows.into_iter().flat_map(|row| {
            let most = if row.title.is_some() { CHANNEL_ROW } else { LOOSE_ROW };
            let title = row.title.unwrap_or_default();
            let mut cells = row.slots.into_iter().map(&cell).peekable();
            let mut rows = Vec::new();
            while cells.peek().is_some() {
                let cells = cells.by_ref().take(most).collect();
                rows.push(Row { title: title.clone(), cells });
            }
            rows
        });
        Block { title, processor: short, rows: rows.collect() }
    };
    sockets.into_iter().map(block).collect()
}

impl Cell {
    /// A slot of a map; `rows` is what the names of the rows that say more start with.
    fn of(slot: Drawn, rows: &str) -> Self {
        let Drawn { name, lines, says, look, spoken, row, .. } = slot;
        Self { name, lines, says, look, bar: None, link: row.map(|row| format!("#{rows}-{row}")), spoken }
    }
}

/// A map as blocks; `rows` is what the names of the rows that say more of a slot start with.
pub(super) fn of_map(map: Map<Drawn>, rows: &str) -> Vec<Block> {
    let cell = |slot| Cell::of(slot, rows);
    let mut blocks = of_sockets(map.sockets, cell);
    if let Some((title, slots)) = map.unlisted {
        blocks.push(Block::loose(title, slots.into_iter().map(cell).collect()));
    }
    blocks
}

/// Sizes of the drawing, in its own units, which are pixels where there is room for them.
const CELL_LOW: usize = 98;
const CELL_HIGH: usize = 146;
/// What a cell needs beside its text.
const EDGES: usize = 18;
/// A character: those of the drawing's type are all of one width, 0.6 of their height of 13.
const CHARACTER: usize = 8;
const LINE: usize = 17;
const GAP: usize = 10;
const PROCESSOR: usize = 26;
const TRACE: usize = 40;
/// A socket that is no wider can be read on a phone without scrolling sideways.
const NARROW: usize = 440;
/// Rows of a socket that can be read on paper beside a work order; more have a sheet of their own.
const ON_A_SHEET: usize = 8;
/// Lines of one text at the most; what needs more is shortened.
const LINES: usize = 6;

/// All sockets.
pub(super) fn draw(blocks: &[Block]) -> Markup {
    html! {
        div .boards {
            @for block in blocks {
                figure {
                    figcaption { (block.title) }
                    @if block.is_loose() { (draw_loose(block)) } @else { (draw_block(block)) }
                }
            }
        }
    }
}

impl Block {
    /// Slots of which no place is known.
    pub(super) fn loose(title: &str, cells: Vec<Cell>) -> Self {
        Self { title: title.to_owned(), processor: None, rows: vec![Row { title: String::new(), cells }] }
    }

    fn cells(&self) -> impl Iterator<Item = &Cell> {
        self.rows.iter().flat_map(|row| &row.cells)
    }

    /// Whether nothing is known of where its slots are.
    fn is_loose(&self) -> bool {
        self.processor.is_none() && self.rows.iter().all(|row| row.title.is_empty())
    }

    /// The width of its cells, at most `room`.
    fn cell_width(&self, room: usize) -> usize {
        let longest = self.cells().flat_map(|cell| {
            // A marked label has the mark beside it.
            let label = columns(&cell.name) + if cell.has_shape() { 3 } else { 0 };
            let lines = cell.lines.iter().chain(cell.says.as_ref().map(|(_, says)| says));
            lines.map(|line| columns(line)).chain([label])
        });
        let longest = longest.max().unwrap_or(0) * CHARACTER + EDGES;
        longest.min(room).clamp(CELL_LOW, CELL_HIGH)
    }

    /// Its cells with the height that holds each of them.
    fn written(&self, width: usize) -> (Vec<Written<'_>>, usize) {
        let written: Vec<Written<'_>> = self.cells().map(|cell| Written::new(cell, width)).collect();
        let lines = written.iter().map(Written::lines).max().unwrap_or(1);
        let bar = self.cells().any(|cell| cell.bar.is_some());
        (written, lines * LINE + if bar { 26 } else { 14 })
    }
}

/// Slots of which nothing is known but their order: each a drawing of its own, so that they fill whatever width
/// there is.
fn draw_loose(block: &Block) -> Markup {
    let width = block.cell_width(CELL_HIGH);
    let (cells, height) = block.written(width);
    html! {
        div .loose role="group" aria-label=(block.title) {
            @for cell in cells {
                svg .board role="none" viewBox={ "-2 -2 " (width + 4) " " (height + 4) } width=(width + 4) height=(height + 4) {
                    (cell.draw(0, 0, width, height))
                }
            }
        }
    }
}

fn draw_block(block: &Block) -> Markup {
    let title = block.rows.iter().map(|row| columns(&row.title)).max().unwrap_or(0);
    let trace = if title == 0 { GAP } else { (title * CHARACTER + 10).max(TRACE) };
    let start = if block.processor.is_some() { PROCESSOR } else { 0 };
    let left = start + trace;
    let most = block.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0).max(1);
    let width = block.cell_width((NARROW.saturating_sub(left) / most).saturating_sub(GAP));
    let (cells, height) = block.written(width);
    let whole = (left + most * (width + GAP), block.rows.len() * (height + GAP) + 4);
    let mut cells = cells.into_iter();
    let mut draw_row = |at: usize, row: &Row| {
        let y = at * (height + GAP) + 4;
        let middle = y + height / 2;
        let end = left + row.cells.len() * (width + GAP) - GAP - 4;
        html! {
            @if !row.title.is_empty() {
                path .trace d={ "M" (start) " " (middle) "H" (end) } {}
                text .dim x=(start + 4) y=(middle - 6) { (row.title) }
            }
            @for (at, cell) in cells.by_ref().take(row.cells.len()).enumerate() {
                (cell.draw(left + at * (width + GAP), y, width, height))
            }
        }
    };
    html! {
        svg .board.wide[whole.0 > NARROW].tall[block.rows.len() > ON_A_SHEET] role="group" aria-label=(block.title) viewBox={ "0 0 " (whole.0) " " (whole.1) } width=(whole.0) height=(whole.1) {
            @if let Some(name) = &block.processor {
                rect .processor x="2" y="4" width=(PROCESSOR - 4) height=(whole.1 - GAP - 4) rx="4" {}
                text .dim aria-hidden="true" text-anchor="middle" transform={ "translate(" (PROCESSOR / 2 + 4) " " (whole.1 / 2) ") rotate(-90)" } { (name) }
            }
            @for (at, row) in block.rows.iter().enumerate() { (draw_row(at, row)) }
        }
    }
}

/// A cell with its texts broken into lines.
struct Written<'c> {
    cell: &'c Cell,
    name: Vec<String>,
    more: Vec<Vec<String>>,
    says: Vec<String>,
}

impl Cell {
    /// Whether its mark is drawn as a shape.
    fn has_shape(&self) -> bool {
        self.says.is_some() && self.bar.is_none()
    }
}

impl<'c> Written<'c> {
    fn new(cell: &'c Cell, width: usize) -> Self {
        let most = (width - EDGES) / CHARACTER;
        let broken = |text: &str, most: usize| broken(&fit(&sanitize(text), most * LINES), most);
        Self {
            cell,
            name: broken(&cell.name, if cell.has_shape() { most - 3 } else { most }),
            more: cell.lines.iter().map(|line| broken(line, most)).collect(),
            says: cell.says.as_ref().map_or_else(Vec::new, |(_, says)| broken(says, most)),
        }
    }

    fn lines(&self) -> usize {
        self.name.len() + self.more.iter().map(Vec::len).sum::<usize>() + self.says.len()
    }

    fn draw(&self, x: usize, y: usize, width: usize, height: usize) -> Markup {
        let Self { cell, name, more, says } = self;
        let look = match cell.look {
            Look::Filled => "filled",
            Look::Empty => "empty",
            Look::Lost => "lost",
        };
        let sign = cell.says.as_ref().map_or("", |(mark, _)| mark.word());
        // What is seen comes first in what is said, so that both can be used to speak of it (WCAG 2.2, 2.5.3).
        let seen: Vec<String> =
            [name].into_iter().chain(more).chain([says]).map(|text| text.concat()).collect();
        let spoken = format!("{}. {}", seen.join(" ").trim_end(), cell.spoken);
        let mut row = 0;
        let mut text = |lines: &[String], class: &str| {
            let first = 19 + row * LINE;
            row += lines.len();
            html! {
                // The space parts the texts where they are read out.
                @match lines {
                    [] => {}
                    [one] => text class=(class) x="10" y=(first) { (one) " " },
                    _ => text class=(class) y=(first) {
                        @for (at, line) in lines.iter().enumerate() { tspan x="10" dy=(if at == 0 { 0 } else { LINE }) { (line) } }
                        " "
                    },
                }
            }
        };
        let inside = html! {
            path .body d=(outline(width, height)) {}
            (text(name, "label"))
            @for line in more { (text(line, "dim")) }
            (text(says, "says"))
            @if let Some((mark, _)) = &cell.says {
                @match cell.bar {
                    Some(bar) => rect .mark.(mark.word()) x="10" y=(height - 18) width=((width - EDGES) * bar / 1000) height="7" {},
                    None => svg x=(width - 28) y="5" width="20" height="20" viewBox="0 0 20 20" { (mark.shape()) },
                }
            }
        };
        let shift = format!("translate({x} {y})");
        html! {
            @if let Some(link) = &cell.link {
                a .slot.(look).(sign) href=(link) aria-label=(spoken) transform=(shift) { (inside) }
            } @else {
                g .slot.(look).(sign) role="img" aria-label=(spoken) transform=(shift) { (inside) }
            }
        }
    }
}

/// A module with its key notch at the lower edge.
fn outline(width: usize, height: usize) -> String {
    let notch = width * 2 / 5;
    format!("M3 0H{}V{height}H{}v-6h-8v6H3z", width - 3, notch + 8)
}

/// The text in lines of at most `most` columns, broken after what parts words and parts of labels where that can be.
/// The lines put together are the text.
fn broken(text: &str, most: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let (mut used, mut end, mut parted) = (0, rest.len(), None);
        for (at, c) in rest.char_indices() {
            let width = c.width().unwrap_or(0);
            if used + width > most && at > 0 {
                // A space at the end of a line takes no room.
                end = if c == ' ' { at + 1 } else { parted.unwrap_or(at) };
                break;
            }
            used += width;
            // Not after a single character, which would be lost alone in its line.
            if matches!(c, ' ' | '-' | '_' | '/' | '.' | ',' | ':' | '@') && at > 0 {
                parted = Some(at + c.len_utf8());
            }
        }
        let (line, after) = rest.split_at(end);
        lines.push(line.to_owned());
        rest = after;
    }
    lines
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
    use proptest::prelude::*;
    use unicode_width::UnicodeWidthStr;

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
            spoken: String::new(),
        }
    }

    #[test]
    fn texts_are_broken_at_their_joints() {
        let lines = |text, most| broken(text, most);
        assert_eq!(lines("P1_Node0_Channel0_Dimm0", 16), ["P1_Node0_", "Channel0_Dimm0"]);
        assert_eq!(lines("there 16 GiB", 12), ["there 16 GiB"]);
        assert_eq!(lines("there 16 GiB", 8), ["there 16 ", "GiB"]);
        assert_eq!(lines("ABCDEFGHIJ", 4), ["ABCD", "EFGH", "IJ"]);
        assert_eq!(lines("\u{4e00}\u{4e8c}\u{4e09}", 4), ["\u{4e00}\u{4e8c}", "\u{4e09}"]);
        assert_eq!(lines("", 4), [] as [&str; 0]);
    }

    proptest! {
        /// Nothing is lost, and nothing reaches over the edge.
        #[test]
        fn lines_are_the_text(text in "[A-C_ @\u{4e00}\u{301}]{0,40}", most in 2..12_usize) {
            let lines = broken(&text, most);
            prop_assert_eq!(lines.concat(), text);
            for line in &lines {
                prop_assert!(line.trim_end().width() <= most, "{:?}", lines);
            }
        }
    }

    #[test]
    fn rows_are_short() {
        let place =
            |channel: Option<&str>| ChannelPlace { socket: Some(1), channel: channel.map(str::to_owned) };
        let rows = |channel, count: usize| {
            let cells = (0..count).map(|n| (place(channel), cell(&n.to_string()))).collect();
            let made = blocks(cells, |_| String::new());
            made[0].rows.iter().map(|row| row.cells.len()).collect::<Vec<_>>()
        };
        assert_eq!(rows(None, 9), [3, 3, 3]);
        assert_eq!(rows(Some("A"), 4), [4]);
        assert_eq!(rows(Some("A"), 6), [4, 2]);
    }
}
