//! The population map: one line per channel, sockets as headings, as the board is laid out.

use std::io;

use super::layout::{Page, Tone, WIDTH, columns, pad};
use crate::population::{Channel, Population, Slot, SlotState};

/// What a slot's mark says, in a character that needs no colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// As it should be, or nothing to compare with.
    None,
    /// A fault.
    Fault,
    /// A warning.
    Warning,
    /// Open.
    Open,
}

impl Mark {
    fn sign(self) -> char {
        match self {
            Self::None => ' ',
            Self::Fault => '!',
            Self::Warning => '*',
            Self::Open => '?',
        }
    }

    fn tone(self) -> Tone {
        match self {
            Self::None => Tone::Plain,
            Self::Fault => Tone::Bad,
            Self::Warning | Self::Open => Tone::Doubt,
        }
    }
}

/// Writes the map; `mark` says how to mark each slot.
pub(super) fn write(
    page: &mut Page<'_>,
    population: &Population<'_>,
    mark: &dyn Fn(&str) -> Mark,
) -> io::Result<()> {
    let order = population.in_board_order();
    let slots: Vec<&Slot<'_>> = order.iter().map(|index| &population.slots[*index]).collect();
    let width = slots.iter().map(|slot| columns(&cell(slot))).max().unwrap_or(0).min(WIDTH - 16) + 3;
    let mut socket: Option<Option<u16>> = None;
    for row in slots.chunk_by(|a, b| a.location.socket == b.location.socket && channel(a) == channel(b)) {
        let here = row[0].location.socket;
        if socket != Some(here) {
            socket = Some(here);
            page.text(2, 2, Tone::Heading, &socket_title(here, population))?;
        }
        let title = channel(row[0]).map_or_else(String::new, |channel| format!("ch {channel}"));
        let per_line = ((WIDTH - 11) / width).max(1);
        for (number, line) in row.chunks(per_line).enumerate() {
            let head = if number == 0 { title.as_str() } else { "" };
            let mut pieces = vec![(Tone::Quiet, format!("    {}", pad(head, 7)))];
            for slot in line {
                let mark = mark(&slot.name);
                let tone = match (&slot.state, mark) {
                    (SlotState::Empty, Mark::None) => Tone::Quiet,
                    _ => mark.tone(),
                };
                pieces.push((tone, format!("{}{}", mark.sign(), pad(&cell(slot), width - 1))));
            }
            trim_last(&mut pieces);
            page.pieces(&pieces)?;
        }
    }
    Ok(())
}

fn trim_last(pieces: &mut [(Tone, String)]) {
    if let Some((_, text)) = pieces.last_mut() {
        text.truncate(text.trim_end().len());
    }
}

fn channel<'a>(slot: &Slot<'a>) -> Option<Channel<'a>> {
    slot.location.channel
}

/// What a socket is called, with its processor's state.
pub(super) fn socket_title(number: Option<u16>, population: &Population<'_>) -> String {
    let Some(number) = number else {
        let others = population.slots.iter().any(|slot| slot.location.socket.is_some());
        return if others {
            "socket not proven by the labels"
        } else {
            "all slots; the labels prove no socket"
        }
        .to_owned();
    };
    let socket = population.sockets.iter().find(|socket| socket.number == Some(number));
    match socket.and_then(|socket| socket.status) {
        Some(status) => format!("socket {number}, processor {}", super::population_text::status_word(status)),
        None => format!("socket {number}"),
    }
}

fn cell(slot: &Slot<'_>) -> String {
    let there = if slot.state == SlotState::Empty { "-".to_owned() } else { held(slot) };
    format!("{} {there}", slot.name)
}

/// What a slot holds, in a word or two.
pub(super) fn held(slot: &Slot<'_>) -> String {
    match &slot.state {
        SlotState::Empty => "empty".to_owned(),
        SlotState::Unknown => "unknown".to_owned(),
        SlotState::NotRunning(_) => "idle".to_owned(),
        SlotState::Fitted(module) => match (module.bytes(), module.size) {
            (Some(size), _) => size.to_string(),
            (None, crate::population::ModuleSize::AtLeast(_)) => "32+ GiB".to_owned(),
            (None, _) => "size?".to_owned(),
        },
    }
}
