//! Bringing a board and a population together: the same slots, or the same layout.

use super::derive::from_population;
use super::description::Board;
use crate::base::words::comma_list;
use crate::population::{Certainty, Channel, Population};
use crate::yaml::{FileError, did_you_mean};

/// The board with the slots of `population`.
///
/// A description that names the listing's slots is taken as it is. A class of the library has placeholder
/// labels: where the listing's labels prove a board of the same layout, its slots take their places.
///
/// # Errors
/// [`FileError`] where the two do not belong together.
pub fn adapt(board: &Board, population: &Population<'_>) -> Result<Board, FileError> {
    let known = board.slots().filter(|slot| population.slot(slot).is_some()).count();
    let unknown: Vec<&str> = population
        .slots
        .iter()
        .filter(|slot| slot.takes_dimms())
        .map(|slot| slot.name.as_ref())
        .filter(|name| board.place(name).is_none())
        .collect();
    if known > 0 && unknown.is_empty() {
        return Ok(board.clone());
    }
    let refuse = |found: String, expected: String, advice: String| {
        Err(FileError { file: board.name.clone(), line: None, found, expected, advice })
    };
    if known > 0 {
        let found = format!("no place for {}", comma_list(&unknown));
        let expected = "every slot of the listing in a channel".to_owned();
        let advice =
            format!("Add the slots to the board description. {}", did_you_mean(unknown[0], board.slots()));
        return refuse(found, expected, advice.trim_end().to_owned());
    }
    let derived = from_population(&board.name, population);
    let form = |board: &Board| -> Vec<Vec<usize>> {
        board.sockets.iter().map(|s| s.channels.iter().map(|c| c.slots.len()).collect()).collect()
    };
    if derived.complete && form(&derived.board) == form(board) {
        return Ok(Board {
            sockets: derived.board.sockets,
            order_known: derived.board.order_known,
            ..board.clone()
        });
    }
    let found = "none of the listing's slots".to_owned();
    let expected = if derived.complete {
        "a board of the listing's form, or with its slot names".to_owned()
    } else {
        "the listing's slot names; its labels do not prove its form".to_owned()
    };
    let advice = "Start from `asfitted boards derive LISTING` and set `class` in it.".to_owned();
    refuse(found, expected, advice)
}

/// Gives each slot the place that the board says it has, for maps and causes.
pub fn place_on<'a>(population: &mut Population<'a>, board: &'a Board) {
    for slot in &mut population.slots {
        if let Some((socket, channel, at)) = board.place(&slot.name) {
            slot.location.socket = Some(socket.number);
            slot.location.channel = Some(Channel { controller: None, name: &channel.name });
            slot.location.position = u16::try_from(at).ok();
            slot.location.number = None;
            slot.location.certainty = Certainty::Certain;
        }
    }
}
