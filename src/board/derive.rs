//! A first board description from a population's own labels.

use super::description::{Board, BoardChannel, BoardSocket};
use super::library::CLASSES;
use crate::base::words::comma_list;
use crate::population::{Certainty, Population};
use crate::records::enums::MemoryType;

/// A derived board.
#[derive(Debug, Clone, PartialEq)]
pub struct DerivedBoard {
    /// The board; empty of sockets where the labels prove no channel.
    pub board: Board,
    /// Whether every slot has its place.
    pub complete: bool,
}

/// Derives the topology that the labels prove, and the class it belongs to. What is not proven is listed in
/// [`Board::unproven`].
pub fn from_population(name: &str, population: &Population<'_>) -> DerivedBoard {
    let mut board = Board { name: name.to_owned(), order_known: true, ..Board::default() };
    let mut unproven: Vec<&str> = Vec::new();
    for index in population.in_board_order() {
        let slot = &population.slots[index];
        // Memory on the package or behind a link is in no channel of the board.
        if !slot.takes_dimms() {
            continue;
        }
        let place = slot.location;
        let (Some(number), Some(channel)) = (place.socket, place.channel) else {
            unproven.push(&slot.name);
            continue;
        };
        let channel = channel.to_string();
        let at = match board.sockets.iter().position(|socket| socket.number == number) {
            Some(at) => at,
            None => {
                board.sockets.push(BoardSocket { number, ..BoardSocket::default() });
                board.sockets.len() - 1
            }
        };
        let socket = &mut board.sockets[at];
        match socket.channels.iter_mut().find(|other| other.name == channel) {
            Some(other) => other.slots.push(slot.name.to_string()),
            None => socket.channels.push(BoardChannel { name: channel, slots: vec![slot.name.to_string()] }),
        }
    }
    for socket in &mut board.sockets {
        let processor = population.sockets.iter().find(|other| other.number == Some(socket.number));
        socket.processor = processor.and_then(|other| other.label).map(str::to_owned);
    }
    if !unproven.is_empty() {
        board.unproven.push(format!(
            "the channel of {}: add these slots by the diagram in the lid",
            comma_list(&unproven)
        ));
    }
    doubts(&mut board, population);
    let complete = unproven.is_empty() && !board.sockets.is_empty();
    if complete {
        board.class = class_of(&board, generation(population));
    }
    board.rules.generation = generation(population);
    DerivedBoard { board, complete }
}

fn doubts(board: &mut Board, population: &Population<'_>) {
    let any = |certainty| population.slots.iter().any(|slot| slot.location.certainty == certainty);
    if any(Certainty::Likely) {
        board.unproven.push(
            "which part of the label is the channel: likely by the family of labels, not certain".to_owned(),
        );
    }
    if any(Certainty::Implied) {
        board.unproven.push(
            "the sockets: the labels do not name them; they follow from the number of processors or arrays"
                .to_owned(),
        );
    }
    if any(Certainty::Contradictory) {
        board.unproven.push("some slots: two of them claim the same place".to_owned());
    }
    let several = board.sockets.iter().flat_map(|s| &s.channels).any(|channel| channel.slots.len() > 1);
    if several && !order_shown(board, population) {
        board.order_known = false;
        board
            .unproven
            .push("the order of filling within a channel: taken from the numbers in the labels".to_owned());
    }
}

/// Whether the population itself shows that lower numbers are filled first: some channel is part-filled, and
/// each such channel is filled from its lowest number on.
fn order_shown(board: &Board, population: &Population<'_>) -> bool {
    let filled = |name: &str| population.slot(name).is_some_and(|(_, slot)| slot.module().is_some());
    let mut shown = false;
    for (_, channel) in board.channels() {
        let count = channel.slots.iter().filter(|slot| filled(slot)).count();
        if count == 0 || count == channel.slots.len() {
            continue;
        }
        if !channel.slots.iter().take(count).all(|slot| filled(slot)) {
            return false;
        }
        shown = true;
    }
    shown
}

/// The generation, if all modules state the same.
fn generation(population: &Population<'_>) -> Option<MemoryType> {
    let mut types =
        population.dimms().filter_map(|(_, module)| module.memory_type).filter(|t| !t.is_general());
    let first = types.next()?;
    types.all(|other| other == first).then_some(first)
}

/// The class of that generation and layout, if every socket and channel has the same layout.
fn class_of(board: &Board, generation: Option<MemoryType>) -> Option<String> {
    let generation = generation?.name().to_lowercase();
    let channels = board.sockets.first()?.channels.len();
    let slots = board.sockets.first()?.channels.first()?.slots.len();
    let regular = board.sockets.iter().all(|socket| {
        socket.channels.len() == channels
            && socket.channels.iter().all(|channel| channel.slots.len() == slots)
    });
    let name = format!("{generation}-{}x{channels}x{slots}", board.sockets.len());
    (regular && CLASSES.iter().any(|class| class.name == name)).then_some(name)
}
