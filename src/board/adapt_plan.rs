//! A class of the library has labels of its own; where a plan brings a machine's, those count and the topology that
//! they prove decides.

use std::fmt::Write;

use super::adapt::adapt;
use super::description::Board;
use crate::evidence::Text;
use crate::plan::{Demand, Plan};
use crate::population::{Certainty, Population};
use crate::{population, records};

/// The board with the slots that the plan names, if the plan names none of the board's and its names prove the same
/// form, or places that the board has; else the board as it is.
pub fn with_slots_of(board: Board, plan: &Plan) -> Board {
    let names_its_own = plan.slots.iter().any(|planned| board.place(&planned.slot).is_some());
    if plan.slots.is_empty() || names_its_own {
        return board;
    }
    let Ok(text) = Text::from_bytes("the plan", listing_of(plan).into_bytes()) else { return board };
    let listings = records::read(&text);
    let Some(listing) = listings.first() else { return board };
    let population = population::rebuild(listing);
    let adapted = adapt(&board, &population).ok().or_else(|| with_some_of(&board, &population));
    adapted.unwrap_or(board)
}

/// The board with the slots that the population has, where each has its socket, channel and position by its label and
/// the board has such a place; a plan need not name every slot. The other slots keep the names of the class.
fn with_some_of(board: &Board, population: &Population<'_>) -> Option<Board> {
    let places: Vec<(u16, u16, u16)> = population
        .slots
        .iter()
        .map(|slot| {
            let location = slot.location;
            let sure = matches!(location.certainty, Certainty::Certain | Certainty::Likely);
            let channel = location.channel.filter(|channel| sure && channel.controller.is_none())?;
            Some((location.socket?, number_of(channel.name)?, location.position?))
        })
        .collect::<Option<_>>()?;
    // Boards count from 0 or from 1.
    let first = |part: fn(&(u16, u16, u16)) -> u16| u16::from(!places.iter().any(|place| part(place) == 0));
    let (socket_base, channel_base, position_base) = (first(|p| p.0), first(|p| p.1), first(|p| p.2));
    // What the labels prove is the place; whether the lowest number is filled first, they do not.
    let mut named = Board { order_known: false, ..board.clone() };
    for (slot, (socket, channel, position)) in population.slots.iter().zip(&places) {
        let own = named.sockets.get_mut(usize::from(socket - socket_base))?;
        own.number = *socket;
        let own = own.channels.get_mut(usize::from(channel - channel_base))?;
        own.name = slot.location.channel?.name.to_owned();
        *own.slots.get_mut(usize::from(position - position_base))? = slot.name.to_string();
    }
    Some(named)
}

/// The number of a channel: `3`, or `3` for `C`.
fn number_of(name: &str) -> Option<u16> {
    match name.as_bytes() {
        [letter] if letter.is_ascii_alphabetic() => Some(u16::from(letter.to_ascii_uppercase() - b'A') + 1),
        _ => name.parse().ok(),
    }
}

/// The listing that a machine with the plan's slots would print, as far as names and sizes go.
fn listing_of(plan: &Plan) -> String {
    let mut text = String::new();
    for (number, planned) in plan.slots.iter().enumerate() {
        let (locator, bank) = planned.slot.split_once(" @ ").unwrap_or((&planned.slot, ""));
        let size = match &planned.demand {
            Demand::Module(wanted) => wanted.size.map(|size| format!("{} MB", size.0 >> 20)),
            Demand::Empty | Demand::Idle => None,
        };
        let size = size.as_deref().unwrap_or("No Module Installed");
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "Handle 0x{number:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: {locator}\n\t\
             Bank Locator: {bank}\n\n"
        );
    }
    text
}
