//! A class of the library has labels of its own; where a plan brings a machine's, those count and the topology that
//! they prove decides.

use std::fmt::Write;

use super::adapt::adapt;
use super::description::Board;
use crate::evidence::Text;
use crate::plan::{Demand, Plan};
use crate::{population, records};

/// The board with the slots that the plan names, if the plan names none of the board's and its names prove the same
/// form; else the board as it is.
pub fn with_slots_of(board: Board, plan: &Plan) -> Board {
    let names_its_own = plan.slots.iter().any(|planned| board.place(&planned.slot).is_some());
    if plan.slots.is_empty() || names_its_own {
        return board;
    }
    let Ok(text) = Text::from_bytes("the plan", listing_of(plan).into_bytes()) else { return board };
    let listings = records::read(&text);
    let Some(listing) = listings.first() else { return board };
    let adapted = adapt(&board, &population::rebuild(listing));
    adapted.unwrap_or(board)
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
