//! From YAML to a board with what its class lends it.

use super::description::{Board, Rules};
use super::library::{CLASSES, class};
use super::parse::Description;
use crate::base::words::comma_list;
use crate::yaml::{self, FileError, did_you_mean};

/// Reads and checks a board description.
///
/// # Errors
/// [`FileError`] with the line, what was found, what was expected and what to do.
pub fn read(file: &str, text: &str) -> Result<Board, FileError> {
    let description = Description::open(file, text)?;
    let source = description.source();
    let class = description.class().map(|name| known_class(&source, name)).transpose()?;
    let mut board = description.board()?;
    if let Some(class) = class {
        inherit(&mut board, class);
    }
    if board.sockets.is_empty() {
        let advice =
            "Write each socket's channels with their slots in the order of filling, or name a `class`.";
        return Err(source.error(None, "no sockets", "`sockets`, `layout` or `class`", advice));
    }
    Ok(board)
}

fn known_class(source: &yaml::Source<'_>, name: &str) -> Result<Board, FileError> {
    class(name).ok_or_else(|| {
        let names = CLASSES.iter().map(|class| class.name);
        let expected = format!("one of {}", comma_list(names.clone()));
        source.error(source.line_of(name), format!("class `{name}`"), expected, did_you_mean(name, names))
    })
}

/// Takes over from the class what the board leaves out.
fn inherit(board: &mut Board, class: Board) {
    let own = std::mem::take(&mut board.rules);
    let base = class.rules;
    let list = |own: Vec<_>, base: Vec<_>| if own.is_empty() { base } else { own };
    board.rules = Rules {
        generation: own.generation.or(base.generation),
        kinds: list(own.kinds, base.kinds),
        largest_module: own.largest_module.or(base.largest_module),
        voltages: if own.voltages.is_empty() { base.voltages } else { own.voltages },
        ranks_per_channel: own.ranks_per_channel.or(base.ranks_per_channel),
        load_reduced_counts: own.load_reduced_counts.or(base.load_reduced_counts),
        channel_limits: if own.channel_limits.is_empty() { base.channel_limits } else { own.channel_limits },
        never_mix: if own.never_mix.is_empty() { base.never_mix } else { own.never_mix },
        first_slot_first: own.first_slot_first.or(base.first_slot_first),
        most_ranks_first: own.most_ranks_first.or(base.most_ranks_first),
        speeds: if own.speeds.is_empty() { base.speeds } else { own.speeds },
        processors: if own.processors.is_empty() { base.processors } else { own.processors },
        modes: if own.modes.is_empty() { base.modes } else { own.modes },
    };
    if board.sockets.is_empty() {
        board.sockets = class.sockets;
    }
    for (key, text) in class.sources {
        if !board.sources.iter().any(|(own, _)| *own == key) {
            board.sources.push((key, text));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::Source;

    const SMALL: &str = "\
board: sketch
generation: DDR3
sockets:
  - socket: 1
    processor: s1
    channels:
      - {channel: A, slots: [a1, a2]}
      - {channel: B, slots: [b1, b2]}
rules:
  ranks_per_channel: {ranks: 8, source: X}
  speeds:
    - {modules: [1], most: 1333}
sources:
  - {key: X, text: a guide}
";

    #[test]
    fn a_board_reads() {
        let board = read("b.yaml", SMALL).unwrap();
        assert_eq!(board.slots().collect::<Vec<_>>(), ["a1", "a2", "b1", "b2"]);
        let (socket, channel, at) = board.place("b2").unwrap();
        assert_eq!((socket.number, channel.name.as_str(), at), (1, "B", 2));
        assert_eq!(board.rules.ranks_per_channel.as_ref().unwrap().source, Source::Published("X".to_owned()));
        assert_eq!(board.rules.speeds[0].source, Source::Own);
    }

    #[test]
    fn a_class_lends_its_rules() {
        let text = "class: ddr3-2x3x3\nsockets:\n  - {socket: 1, channels: [{channel: A, slots: [x]}]}\n";
        let board = read("b.yaml", text).unwrap();
        assert_eq!(board.slots().collect::<Vec<_>>(), ["x"]);
        assert!(board.rules.ranks_per_channel.is_some() && !board.rules.speeds.is_empty());
    }

    #[test]
    fn errors_name_line_found_expected_and_advice() {
        for (from, to, parts) in [
            (
                "slots: [b1, b2]",
                "slots: [b1, a2]",
                &["b.yaml:8:", "slot `a2` twice", "each slot once", "keep one"][..],
            ),
            ("source: X", "source: Y", &["b.yaml:10:", "source `Y`", "one of X", "Add it under `sources`"]),
            ("most: 1333", "most: 3", &["b.yaml:12:", "`most: 3`", "a speed in MT/s", "Correct"]),
            (
                "generation: DDR3",
                "generation: DDR9",
                &["b.yaml:2:", "DDR9", "a generation such as", "Correct"],
            ),
            (
                "generation: DDR3",
                "class: ddr3-2x3x",
                &["b.yaml:2:", "class `ddr3-2x3x`", "one of", "Did you mean `ddr3-2x3x"],
            ),
            (
                "  speeds:",
                "  speed:",
                &["b.yaml:11:", "unknown key `speed`", "one of", "Did you mean `speeds`?"],
            ),
        ] {
            let text = SMALL.replacen(from, to, 1);
            let message = read("b.yaml", &text).unwrap_err().to_string();
            for part in parts {
                assert!(message.contains(part), "{message}\nlacks {part}");
            }
        }
    }
}
