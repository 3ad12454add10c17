//! Lines, wrapping and styles.
//!
//! Everything that is printed goes through [`Page`], which sanitises it. Styles are written always; the
//! stream in front of the terminal or file strips them where they do not belong.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use unicode_width::UnicodeWidthStr;

use crate::sanitize::sanitize;

/// How much a text says, and how wide it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Columns of the terminal; what is narrower than 40 or wider than 240 counts as that.
    pub width: usize,
    /// How much is said of findings.
    pub extent: Extent,
}

/// Of files, and of all that is no terminal.
impl Default for Layout {
    fn default() -> Self {
        Self { width: WIDTH, extent: Extent::Usual }
    }
}

/// How much a text says of what was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Extent {
    /// Nothing: the verdict, the work and the map.
    Brief,
    /// What it is, with its likeliest cause and the line that shows it.
    #[default]
    Usual,
    /// All evidence and all causes.
    Full,
}

/// Width where no terminal has another.
const WIDTH: usize = 80;

/// Longer lines of prose are hard to read.
const PROSE: usize = 110;

/// How a piece of text is meant; never the only carrier of a meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum Tone {
    Plain,
    Heading,
    Bad,
    Doubt,
    Good,
    Quiet,
}

impl Tone {
    fn style(self) -> Style {
        match self {
            Self::Plain => Style::new(),
            Self::Heading => Style::new().bold(),
            Self::Bad => Style::new().bold().fg_color(Some(AnsiColor::Magenta.into())),
            Self::Doubt => Style::new().bold().fg_color(Some(AnsiColor::Cyan.into())),
            Self::Good => Style::new().bold().fg_color(Some(AnsiColor::Blue.into())),
            Self::Quiet => Style::new().dimmed(),
        }
    }
}

/// A report being written.
pub(in crate::report) struct Page<'w> {
    out: &'w mut dyn Write,
    width: usize,
}

impl<'w> Page<'w> {
    pub(in crate::report) fn new(layout: Layout, out: &'w mut dyn Write) -> Self {
        Self { out, width: layout.width.clamp(40, 240) }
    }

    /// Columns that there are.
    pub(in crate::report) fn width(&self) -> usize {
        self.width
    }

    /// Columns that prose takes.
    fn prose(&self) -> usize {
        self.width.min(PROSE)
    }

    pub(in crate::report) fn blank(&mut self) -> io::Result<()> {
        writeln!(self.out)
    }

    /// Text wrapped at spaces; the first line after `indent` spaces, the others after `hang`.
    pub(in crate::report) fn text(
        &mut self,
        indent: usize,
        hang: usize,
        tone: Tone,
        text: &str,
    ) -> io::Result<()> {
        let text = sanitize(text);
        let style = tone.style();
        for (number, line) in wrap(&text, self.prose() - indent, self.prose() - hang).iter().enumerate() {
            let margin = if number == 0 { indent } else { hang };
            writeln!(self.out, "{:margin$}{style}{line}{style:#}", "")?;
        }
        Ok(())
    }

    /// A key in a narrow column and its text beside it.
    pub(in crate::report) fn entry(&mut self, indent: usize, key: &str, text: &str) -> io::Result<()> {
        self.toned_entry(indent, key, Tone::Plain, text)
    }

    pub(in crate::report) fn toned_entry(
        &mut self,
        indent: usize,
        key: &str,
        tone: Tone,
        text: &str,
    ) -> io::Result<()> {
        const KEY: usize = 10;
        let (text, quiet, style) = (sanitize(text), Tone::Quiet.style(), tone.style());
        let at = indent + KEY;
        for (number, line) in wrap(&text, self.prose() - at, self.prose() - at).iter().enumerate() {
            let key = if number == 0 { key } else { "" };
            writeln!(self.out, "{:indent$}{quiet}{key:<KEY$}{quiet:#}{style}{line}{style:#}", "")?;
        }
        Ok(())
    }

    /// One line of toned pieces, as given.
    pub(in crate::report) fn pieces(&mut self, pieces: &[(Tone, String)]) -> io::Result<()> {
        for (tone, text) in pieces {
            let style = tone.style();
            write!(self.out, "{style}{}{style:#}", sanitize(text))?;
        }
        writeln!(self.out)
    }
}

/// Breaks `text` at spaces into lines of at most `first`, then `rest` columns. A word longer than a line is
/// cut.
fn wrap(text: &str, first: usize, rest: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let (mut used, mut room) = (0, first.max(8));
    for word in text.split(' ') {
        let mut word = word;
        loop {
            let width = word.width();
            let gap = usize::from(used > 0);
            if used + gap + width <= room {
                if let Some(line) = lines.last_mut() {
                    if gap == 1 {
                        line.push(' ');
                    }
                    line.push_str(word);
                }
                used += gap + width;
                break;
            }
            if used > 0 {
                lines.push(String::new());
                (used, room) = (0, rest.max(8));
                continue;
            }
            let cut = cut_at(word, room);
            if let Some(line) = lines.last_mut() {
                line.push_str(&word[..cut]);
            }
            word = &word[cut..];
            lines.push(String::new());
            (used, room) = (0, rest.max(8));
        }
    }
    for line in &mut lines {
        line.truncate(line.trim_end().len());
    }
    lines
}

/// The byte at which `word` must be cut to fit into `room` columns, at least one character on.
fn cut_at(word: &str, room: usize) -> usize {
    let mut used = 0;
    for (at, c) in word.char_indices() {
        used += unicode_width::UnicodeWidthChar::width(c).unwrap_or(0);
        if used > room && at > 0 {
            return at;
        }
    }
    word.len()
}

/// `text` padded with spaces to `width` columns, cut where it is longer.
pub(in crate::report) fn pad(text: &str, width: usize) -> String {
    let text = sanitize(text);
    let shown = if text.width() > width { &text[..cut_at(&text, width)] } else { &text };
    format!("{shown}{:spaces$}", "", spaces = width.saturating_sub(shown.width()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_width() {
        let lines = wrap("one two three four", 9, 5);
        assert_eq!(lines, ["one two", "three", "four"].map(str::to_owned));
        for line in wrap(&"x".repeat(50), 20, 10) {
            assert!(line.width() <= 20);
        }
        assert_eq!(pad("abc", 5), "abc  ");
        assert_eq!(pad("abcdef", 3), "abc");
    }
}
