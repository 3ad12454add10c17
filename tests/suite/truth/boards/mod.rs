//! Boards against published tables and real machines.
//!
//! Sources are abbreviated as in `src/board/library/`; V9m is the mirroring page of the guide V9.

mod parts;
mod placing;
mod published;
mod rules;
mod slow;

use asfitted::board::Board;
use asfitted::plan::{self, Plan};

/// The plan that puts `channel` into every channel of `board`.
pub fn plan_of(board: &Board, processor: &str, channel: &[&str]) -> Plan {
    let mut yaml = String::from("processors:\n");
    for _ in &board.sockets {
        yaml += &format!("  - \"{processor}\"\n");
    }
    yaml += "fit:\n";
    for (at, label) in channel.iter().enumerate() {
        let slots: Vec<&str> = board.channels().map(|(_, channel)| channel.slots[at].as_str()).collect();
        yaml += &format!("  - module: {label}\n    slots: [{}]\n", slots.join(", "));
    }
    plan::read("case", &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"))
}
