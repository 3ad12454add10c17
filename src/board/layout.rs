//! Regular layouts, for classes and sketches.

use super::description::{BoardChannel, BoardSocket};

/// A regular layout. Labels say socket, channel and slot: `1a1` is the first slot of the first channel of
/// socket 1.
pub(super) fn layout(sockets: u16, channels: u8, slots: u8) -> Vec<BoardSocket> {
    (1..=sockets)
        .map(|number| BoardSocket {
            number,
            processor: None,
            channels: (0..channels)
                .map(|index| {
                    let name = channel_letter(index);
                    let slots =
                        (1..=slots).map(|slot| format!("{number}{}{slot}", name.to_lowercase())).collect();
                    BoardChannel { name, slots }
                })
                .collect(),
        })
        .collect()
}

/// `A` to `Z`, then `AA` and so on.
fn channel_letter(index: u8) -> String {
    let letter = char::from(b'A' + index % 26);
    if index < 26 { letter.to_string() } else { format!("{}{letter}", channel_letter(index / 26 - 1)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!((channel_letter(25), channel_letter(26)), ("Z".to_owned(), "AA".to_owned()));
    }
}
