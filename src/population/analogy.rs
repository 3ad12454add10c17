//! Where a slot belongs that the listing does not have, by analogy with the names that it has.

use std::collections::HashMap;

use super::Population;
use super::topology::{Channel, Location};

/// Whether the slot belongs, by analogy with the listed slots, to a socket of which the listing shows none.
/// Firmware often lists no slots for a socket without a processor.
pub(crate) fn is_on_unlisted_socket(population: &Population<'_>, name: &str) -> bool {
    let mut listed: Vec<u16> = population.slots.iter().filter_map(|slot| slot.location.socket).collect();
    listed.sort_unstable();
    listed.dedup();
    population.sockets.len() > listed.len()
        && socket_by_analogy(population, name).is_some_and(|socket| !listed.contains(&socket))
}

/// The socket of a slot that the listing does not have: where in all listed names of the same shape the same
/// number is the socket's, that number in this name is its socket's too.
pub(crate) fn socket_by_analogy(population: &Population<'_>, name: &str) -> Option<u16> {
    let shape = shape(name);
    let own = numbers(name);
    let kin: Vec<(Vec<u16>, u16)> = population
        .slots
        .iter()
        .filter(|slot| self::shape(&slot.name) == shape)
        .map(|slot| slot.location.socket.map(|socket| (numbers(&slot.name), socket)))
        .collect::<Option<_>>()?;
    let is_socket = |at: &usize| kin.iter().all(|(numbers, socket)| numbers.get(*at) == Some(socket));
    let at = (0..own.len()).find(is_socket).filter(|_| !kin.is_empty())?;
    own.get(at).copied()
}

/// Where socket, channel and position stand in names of one form, as the listed slots of that form prove.
#[derive(Debug, Clone, Copy)]
struct Form {
    socket: usize,
    channel: usize,
    position: usize,
}

/// Places of slots by their names alone, for slots that the listing does not have under their names: firmware may have no
/// label for a slot that is empty, or no record.
#[derive(Debug, Default)]
pub(crate) struct Analogy {
    forms: HashMap<String, Form>,
}

impl Analogy {
    pub(crate) fn of(population: &Population<'_>) -> Self {
        let mut kin: HashMap<String, Vec<Named<'_>>> = HashMap::new();
        // One whose place the labels leave open proves nothing.
        let proven = |place: &Location<'_>| {
            place.socket.is_some() && place.channel.is_some() && place.position.is_some()
        };
        for slot in population.slots.iter().filter(|slot| !slot.is_nameless() && proven(&slot.location)) {
            let named =
                Named { numbers: numbers(&slot.name), letters: letters(&slot.name), place: slot.location };
            kin.entry(shape(&slot.name)).or_default().push(named);
        }
        Self { forms: kin.into_iter().filter_map(|(shape, kin)| Some((shape, form(&kin)?))).collect() }
    }

    /// Where the slot of that name is.
    pub(crate) fn locate<'n>(&self, name: &'n str) -> Option<Location<'n>> {
        let form = self.forms.get(&shape(name))?;
        let numbers = numbers(name);
        Some(Location {
            socket: Some(*numbers.get(form.socket)?),
            channel: Some(Channel { controller: None, name: letters(name).get(form.channel)? }),
            position: Some(*numbers.get(form.position)?),
            ..Location::default()
        })
    }
}

/// What a name says, and where its slot is.
struct Named<'a> {
    numbers: Vec<u16>,
    letters: Vec<&'a str>,
    place: Location<'a>,
}

/// What the places of slots with names of one form have in common with the names; `None` where that is not one thing.
fn form(kin: &[Named<'_>]) -> Option<Form> {
    let first = kin.first()?;
    let number = |of: fn(&Location<'_>) -> Option<u16>| {
        let same = |at: &usize| kin.iter().all(|own| own.numbers.get(*at).copied() == of(&own.place));
        (0..first.numbers.len()).filter(same).collect::<Vec<_>>()
    };
    let is_channel = |at: &usize| {
        let same = |own: &Named<'_>| {
            let channel = own.place.channel.filter(|channel| channel.controller.is_none());
            channel.is_some_and(|channel| own.letters.get(*at) == Some(&channel.name))
        };
        kin.iter().all(same)
    };
    let (sockets, positions) = (number(|place| place.socket), number(|place| place.position));
    let channels: Vec<usize> = (0..first.letters.len()).filter(is_channel).collect();
    match (sockets.as_slice(), channels.as_slice(), positions.as_slice()) {
        ([socket], [channel], [position]) if socket != position => {
            Some(Form { socket: *socket, channel: *channel, position: *position })
        }
        _ => None,
    }
}

/// The single letters of a name.
fn letters(name: &str) -> Vec<&str> {
    let single = (0..name.len()).filter(|at| is_single_letter(name.as_bytes(), *at));
    single.filter_map(|at| name.get(at..=at)).collect()
}

/// A name with its numbers, and the single letters in it, left open.
fn shape(name: &str) -> String {
    let mut shape = String::with_capacity(name.len());
    for (at, c) in name.char_indices() {
        if is_single_letter(name.as_bytes(), at) {
            shape.push('@');
        } else if !c.is_ascii_digit() {
            shape.push(c);
        } else if !shape.ends_with('#') {
            shape.push('#');
        }
    }
    shape
}

/// Whether a letter may count something, as a number would: it stands before a number, or by itself.
fn is_single_letter(name: &[u8], at: usize) -> bool {
    let is_letter = |at: Option<usize>| at.and_then(|at| name.get(at)).is_some_and(u8::is_ascii_alphabetic);
    let before_number = name.get(at + 1).is_some_and(u8::is_ascii_digit);
    name[at].is_ascii_uppercase()
        && (before_number || !is_letter(at.checked_sub(1)) && !is_letter(Some(at + 1)))
}

/// The numbers in a name.
fn numbers(name: &str) -> Vec<u16> {
    name.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::{population, records};

    /// Slots as some firmware prints them: what is empty has no label, what is fitted is named in both.
    fn located(names: &[&str], wanted: &str) -> Option<(Option<u16>, String, Option<u16>)> {
        let mut text = String::new();
        for (number, name) in names.iter().enumerate() {
            let (size, bank) = match *name {
                "NO DIMM" => ("No Module Installed", "NO DIMM".to_owned()),
                _ => ("8 GB", format!("P0_Node0_Channel{number}_Dimm0")),
            };
            text += &format!(
                "Handle 0x{number:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: {name}\n\tBank Locator: {bank}\n\n"
            );
        }
        let text = Text::from_bytes("t", text.into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let place = Analogy::of(&population).locate(wanted)?;
        Some((place.socket, place.channel?.to_string(), place.position))
    }

    #[test]
    fn a_slot_without_a_label_has_the_place_that_its_name_says() {
        let names = ["P1_DIMMA1", "P1_DIMMA2", "NO DIMM", "P2_DIMME1"];
        assert_eq!(located(&names, "P2_DIMME2"), Some((Some(2), "E".to_owned(), Some(2))));
    }

    /// A channel of which the first slot has no label either, so that the labels leave the position of its second one open.
    #[test]
    fn a_place_that_is_open_proves_nothing_and_denies_nothing() {
        let names = ["P1_DIMMA1", "P1_DIMMA2", "NO DIMM", "P1_DIMMB2", "P2_DIMME1"];
        assert_eq!(located(&names, "P1_DIMMB1"), Some((Some(1), "B".to_owned(), Some(1))));
    }

    #[test]
    fn letters_that_count_are_left_open_before_a_number_and_by_themselves() {
        assert_eq!(shape("CPU_0_DIMM_A_1"), shape("CPU_1_DIMM_G_0"));
        assert_eq!(shape("P1-DIMMA1"), "@#-DIMM@#");
        assert_ne!(shape("DIMMA1"), shape("DIMM1A"));
    }

    /// Another form, and names of which more than one number may be the socket's.
    #[test]
    fn what_the_listed_names_do_not_prove_stays_open() {
        let names = ["P1_DIMMA1", "P1_DIMMA2", "NO DIMM", "P2_DIMME1"];
        assert_eq!(located(&names, "DIMM_E2"), None);
        assert_eq!(located(&["P1_DIMMA1", "NO DIMM", "P1_DIMMB1"], "P2_DIMME1"), None);
    }
}
