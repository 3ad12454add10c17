//! Where a slot belongs that the listing does not have, by analogy with the names that it has.

use super::Population;

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

/// A name with its numbers, and the single letters before them, left open.
fn shape(name: &str) -> String {
    let mut shape = String::with_capacity(name.len());
    for c in name.chars() {
        if !c.is_ascii_digit() {
            shape.push(c);
        } else if !shape.ends_with('#') {
            if shape.ends_with(|c: char| c.is_ascii_uppercase()) {
                shape.pop();
                shape.push('@');
            }
            shape.push('#');
        }
    }
    shape
}

/// The numbers in a name.
fn numbers(name: &str) -> Vec<u16> {
    name.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok()).collect()
}
