//! From labels to places: which socket, channel and position each slot has, and how sure that is.
//!
//! Every rule here is counted over the data set "DMI Tables" of the linuxhw project (CC BY 4.0); where the
//! labels allow two readings, the place stays unproven.

use std::fmt;

use super::labels::{Label, Reading};

/// A channel as the labels name it; letters and numbers restart per socket or per controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Channel<'a> {
    /// Memory controller, where the labels number them.
    pub controller: Option<u16>,
    /// The letter or number as printed.
    pub name: &'a str,
}

impl fmt::Display for Channel<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.controller {
            Some(controller) => f.pad(&format!("{controller}/{}", self.name)),
            None => f.pad(self.name),
        }
    }
}

/// How far the labels prove a slot's place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[non_exhaustive]
pub enum Certainty {
    /// Socket, channel and position are named.
    Certain,
    /// Socket, channel and position by the habit of a label family.
    Likely,
    /// Channel and position are named; the socket follows from the number of processors or arrays.
    Implied,
    /// Only the socket, or only the channel, is known.
    Partial,
    /// The labels contradict each other: two slots claim one place.
    Contradictory,
    /// The labels prove nothing.
    #[default]
    Unproven,
}

impl Certainty {
    /// One word for reports and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Certain => "certain",
            Self::Likely => "likely",
            Self::Implied => "implied",
            Self::Partial => "partial",
            Self::Contradictory => "contradictory",
            Self::Unproven => "unproven",
        }
    }
}

/// A slot's place as far as it is proven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Location<'a> {
    /// Processor socket as the board numbers it, or counted from 1 where it is implied.
    pub socket: Option<u16>,
    /// Channel within the socket.
    pub channel: Option<Channel<'a>>,
    /// Position within the channel as the board numbers it; the first slot has the lowest number.
    pub position: Option<u16>,
    /// Number of the slot, where the label has one and no channel.
    pub number: Option<u16>,
    /// How sure all this is.
    pub certainty: Certainty,
}

impl<'a> Location<'a> {
    /// The order in which a person looks for slots: socket, channel and position, then number; unproven places come
    /// last.
    pub(crate) fn board_key(&self) -> impl Ord + use<'a> {
        let channel = self.channel.map_or("", |channel| channel.name);
        (
            self.socket.is_none(),
            self.socket.unwrap_or(0),
            self.channel.is_none(),
            self.channel.and_then(|channel| channel.controller),
            // Channel 10 comes after channel 9.
            channel.len(),
            channel,
            self.position.unwrap_or(0),
            self.number.unwrap_or(0),
        )
    }
}

/// What a listing offers in addition to the labels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surroundings<'b> {
    /// Number of processor records; 0 where the listing has none.
    pub processors: usize,
    /// Per slot: index of its array among the arrays of main memory, if the slot names one.
    pub array_of: &'b [Option<usize>],
    /// Number of arrays of main memory.
    pub arrays: usize,
}

/// Places for all slots of one listing.
pub(super) fn locate<'a>(labels: &[Label<'a>], around: Surroundings<'_>) -> Vec<Location<'a>> {
    let letter_meaning = letter_meaning(labels, around.processors);
    let mut places: Vec<Location<'a>> = labels
        .iter()
        .zip(around.array_of)
        .map(|(label, array)| place(label, *array, around, letter_meaning))
        .collect();
    mark_contradictions(&mut places, labels);
    doubt_positions(&mut places);
    if around.processors == 1 {
        imply_the_only_socket(&mut places);
    }
    places
}

/// A position is proven only where those of its channel are 0 to n or 1 to n: elsewhere the numbers may count all slots
/// of the board (`DIMM 6` / `P0 CHANNEL D`), so that each is only the number of its slot.
fn doubt_positions(places: &mut [Location<'_>]) {
    let mut positions: Vec<_> = places
        .iter()
        .enumerate()
        .filter_map(|(index, place)| Some(((place.socket, place.channel?), place.position?, index)))
        .collect();
    positions.sort_unstable();
    let doubted: Vec<usize> = positions
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|group| {
            let first = group.first().map_or(0, |(_, position, _)| *position);
            first > 1 || !group.iter().zip(first..).all(|((_, position, _), want)| *position == want)
        })
        .flat_map(|group| group.iter().map(|(.., index)| *index))
        .collect();
    for index in doubted {
        let place = &mut places[index];
        *place = Location { number: place.position, position: None, certainty: Certainty::Partial, ..*place };
    }
}

/// Where there is one processor, every slot is on its socket, whatever the labels say or leave out.
fn imply_the_only_socket(places: &mut [Location<'_>]) {
    for place in places.iter_mut().filter(|place| place.socket.is_none()) {
        place.socket = Some(1);
        if place.certainty == Certainty::Unproven {
            place.certainty = Certainty::Partial;
        }
    }
}

fn place<'a>(
    label: &Label<'a>,
    array: Option<usize>,
    around: Surroundings<'_>,
    letters: LetterMeaning,
) -> Location<'a> {
    let channel = label.channel.map(|name| Channel { controller: label.controller, name });
    let full = |certainty| Location {
        socket: label.socket,
        channel,
        position: label.position,
        number: None,
        certainty,
    };
    match label.reading() {
        Some(Reading::Certain) => full(Certainty::Certain),
        Some(Reading::Likely) => full(Certainty::Likely),
        Some(Reading::SocketInferred) => {
            let socket = implied_socket(array, around);
            let certainty = if socket.is_some() { Certainty::Implied } else { Certainty::Partial };
            Location { socket, certainty, ..full(certainty) }
        }
        Some(Reading::ChannelOnly) => Location {
            socket: label.socket.or_else(|| implied_socket(array, around)),
            channel,
            number: label.slot,
            certainty: Certainty::Partial,
            ..Location::default()
        },
        Some(Reading::SocketOnly) => Location {
            socket: label.socket,
            number: label.slot,
            certainty: Certainty::Partial,
            ..Location::default()
        },
        Some(Reading::SlotOnly) => {
            let socket = implied_socket(array, around);
            let certainty = if socket.is_some() { Certainty::Partial } else { Certainty::Unproven };
            Location { socket, number: label.slot, certainty, ..Location::default() }
        }
        Some(Reading::Ambiguous) => ambiguous(label, array, around, letters),
        Some(Reading::Placeholder) | None => Location::default(),
    }
}

/// The socket where no label names it: there is only one, or there is one array for each.
fn implied_socket(array: Option<usize>, around: Surroundings<'_>) -> Option<u16> {
    if around.processors == 1 {
        return Some(1);
    }
    if around.processors > 1 && around.arrays == around.processors {
        return array.and_then(|index| u16::try_from(index + 1).ok());
    }
    None
}

/// What the letter of an ambiguous label family means in this listing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LetterMeaning {
    Channel,
    Socket,
    Unproven,
}

/// Letter of a label with number and letter, and the number.
fn letter_and_number<'a>(label: &Label<'a>) -> Option<(&'a str, u16)> {
    match label.reading() {
        Some(Reading::Ambiguous) => Some((label.letter?, label.slot?)),
        _ => None,
    }
}

/// At most three numbers per letter and more letters than processors: the letter is the channel. As many
/// letters as processors and four or more numbers for each: the letter is the socket. Else the meaning is unproven.
fn letter_meaning(labels: &[Label<'_>], processors: usize) -> LetterMeaning {
    let mut pairs: Vec<(&str, u16)> = labels.iter().filter_map(letter_and_number).collect();
    if pairs.is_empty() || processors == 0 {
        return LetterMeaning::Unproven;
    }
    pairs.sort_unstable();
    let all = pairs.len();
    pairs.dedup();
    // A number that occurs once over all letters is a slot number and the letter marks a group.
    let mut numbers: Vec<u16> = pairs.iter().map(|(_, number)| *number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    if pairs.len() != all || numbers.len() == all {
        return LetterMeaning::Unproven;
    }
    let per_letter: Vec<usize> = pairs.chunk_by(|a, b| a.0 == b.0).map(<[_]>::len).collect();
    let (most, least) = (per_letter.iter().max().copied(), per_letter.iter().min().copied());
    match (most, least) {
        (Some(most), _) if most <= 3 && per_letter.len() > processors => LetterMeaning::Channel,
        (_, Some(least)) if least >= 4 && per_letter.len() == processors => LetterMeaning::Socket,
        _ => LetterMeaning::Unproven,
    }
}

fn ambiguous<'a>(
    label: &Label<'a>,
    array: Option<usize>,
    around: Surroundings<'_>,
    letters: LetterMeaning,
) -> Location<'a> {
    let Some((letter, number)) = letter_and_number(label) else { return Location::default() };
    let socket = implied_socket(array, around);
    match letters {
        LetterMeaning::Channel => Location {
            socket,
            channel: Some(Channel { controller: None, name: letter }),
            position: Some(number),
            number: None,
            certainty: if socket.is_some() { Certainty::Implied } else { Certainty::Partial },
        },
        LetterMeaning::Socket => Location {
            socket: letter.bytes().next().map(|b| u16::from(b.saturating_sub(b'A')) + 1),
            number: Some(number),
            certainty: Certainty::Partial,
            ..Location::default()
        },
        LetterMeaning::Unproven => {
            Location { socket, number: None, certainty: Certainty::Unproven, ..Location::default() }
        }
    }
}

/// Two slots cannot share one place: where the labels say so, firmware has numbered wrongly, and only the
/// socket is kept. Labels that name only the channel name no place.
fn mark_contradictions(places: &mut [Location<'_>], labels: &[Label<'_>]) {
    let mut keys: Vec<_> = places
        .iter()
        .enumerate()
        .filter(|(index, _)| labels.get(*index).and_then(Label::reading) != Some(Reading::ChannelOnly))
        .filter_map(|(index, p)| Some(((p.socket, p.channel?, p.position), index)))
        .collect();
    keys.sort_unstable();
    let repeated: Vec<usize> = keys
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|group| group.len() > 1)
        .flat_map(|group| group.iter().map(|(_, index)| *index))
        .collect();
    for index in repeated {
        let place = &mut places[index];
        *place =
            Location { socket: place.socket, certainty: Certainty::Contradictory, ..Location::default() };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::population::labels;

    fn places(pairs: &[(&'static str, &'static str)], processors: usize) -> Vec<Location<'static>> {
        let mut joined = Vec::new();
        let labels: Vec<_> = pairs.iter().map(|(l, b)| labels::read(l, b, &mut joined)).collect();
        let array_of = vec![None; labels.len()];
        locate(&labels, Surroundings { processors, array_of: &array_of, arrays: 1 })
    }

    #[test]
    fn a_single_processor_implies_its_socket() {
        let place = places(&[("ChannelA-DIMM0", "BANK 0")], 1)[0];
        assert_eq!((place.socket, place.certainty), (Some(1), Certainty::Implied));
        let place = places(&[("ChannelA-DIMM0", "BANK 0")], 2)[0];
        assert_eq!((place.socket, place.certainty), (None, Certainty::Partial));
    }

    #[test]
    fn letters_are_sockets_or_channels_by_their_counts() {
        let sockets =
            [("A1", ""), ("A2", ""), ("A3", ""), ("A4", ""), ("B1", ""), ("B2", ""), ("B3", ""), ("B4", "")];
        let place = places(&sockets, 2)[4];
        assert_eq!((place.socket, place.channel, place.number), (Some(2), None, Some(1)));
        let channels = [("A1", ""), ("A2", ""), ("B1", ""), ("B2", ""), ("C1", ""), ("C2", "")];
        let place = places(&channels, 1)[2];
        assert_eq!((place.channel.map(|c| c.name), place.position), (Some("B"), Some(1)));
        let unproven = [("A1", ""), ("A2", ""), ("B1", ""), ("B2", "")];
        assert_eq!(places(&unproven, 2)[0].certainty, Certainty::Unproven);
    }

    #[test]
    fn the_only_socket_is_implied_without_any_label() {
        let place = places(&[("slot of a board nobody knows", "")], 1)[0];
        assert_eq!((place.socket, place.channel, place.certainty), (Some(1), None, Certainty::Partial));
        assert_eq!(places(&[("slot of a board nobody knows", "")], 2)[0].socket, None);
    }

    /// Numbers over the whole board are no positions.
    #[test]
    fn numbers_of_the_whole_board_are_no_positions() {
        let pairs = [
            ("DIMM 0", "P0 CHANNEL A"),
            ("DIMM 1", "P0 CHANNEL A"),
            ("DIMM 2", "P0 CHANNEL B"),
            ("DIMM 3", "P0 CHANNEL B"),
        ];
        let found = places(&pairs, 2);
        assert_eq!((found[1].position, found[1].certainty), (Some(1), Certainty::Certain));
        assert_eq!((found[2].position, found[2].number), (None, Some(2)));
        assert_eq!((found[3].channel.map(|c| c.name), found[3].certainty), (Some("B"), Certainty::Partial));
    }

    /// A channel's name says nothing of the position in it, so that two slots may have it.
    #[test]
    fn a_channel_without_a_position_has_room_for_several_slots() {
        let found = places(&[("Bottom-Slot 1(top)", "CHANNEL A"), ("Bottom-Slot 2(under)", "CHANNEL A")], 1);
        for place in found {
            assert_eq!(
                (place.channel.map(|c| c.name), place.position, place.socket),
                (Some("A"), None, Some(1))
            );
            assert_eq!(place.certainty, Certainty::Partial);
        }
        let found =
            places(&[("Bottom-Slot 1(left)", "P0 CHANNEL A"), ("Bottom-Slot 2(right)", "P0 CHANNEL B")], 2);
        assert_eq!((found[1].channel.map(|c| c.name), found[1].socket), (Some("B"), Some(0)));
    }

    #[test]
    fn two_slots_in_one_place_are_a_contradiction() {
        let pair = ("DIMM0", "SOCKET 0 CHANNEL 0 DIMM 0");
        let place = places(&[pair, pair], 1)[0];
        assert_eq!((place.channel, place.certainty), (None, Certainty::Contradictory));
    }
}
