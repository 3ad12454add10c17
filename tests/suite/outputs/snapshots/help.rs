//! The help of every command.

use super::{matches_snapshot, printed};
use crate::util::command::asfitted;

#[test]
fn of_every_command() {
    let mut seen = 0;
    help(&[], &mut seen);
    // Eight commands beside `help` itself, and six below two of them.
    assert!(seen >= 15, "{seen}");
}

/// The help of a command, and of those that it lists.
fn help(command: &[&str], seen: &mut u32) {
    *seen += 1;
    let text = printed(&mut asfitted(), &[command, &["--help"]].concat(), 0);
    let name = if command.is_empty() { "asfitted".to_owned() } else { command.join("-") };
    matches_snapshot("help", &name, &text);
    let Some((_, below)) = text.split_once("\nCommands:\n") else { return };
    for line in below.lines().take_while(|line| !line.is_empty()) {
        // Two spaces and the name; what runs on is further in.
        let name = line.strip_prefix("  ").filter(|rest| !rest.starts_with(' '));
        let Some(name) = name.and_then(|rest| rest.split_whitespace().next()) else { continue };
        if name != "help" {
            help(&[command, &[name]].concat(), seen);
        }
    }
}
