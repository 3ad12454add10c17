//! Which slot a text of another source speaks of, where it writes the slot's label in another way.
//!
//! Logs and controllers name a slot by socket and label, in an order of their own: `DIMM2B(CPU1)` for `P1-DIMM2B`. What
//! tells slots apart on a board is what the grammar of labels finds in the listing's own label: socket, channel and
//! position, or socket and number, as they are printed there. A text speaks of a slot if it has the same parts next to
//! each other. That is likely, not certain, since numbers may start at 0 in one place and at 1 in another.

use std::collections::HashMap;
use std::ops::Range;

use super::build::labels_of;
use super::labels::{self, Label};
use super::slots::Population;
use crate::records::Listing;

/// What a text was found to say of slots.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Mention {
    /// No slot.
    #[default]
    None,
    /// This slot, by its name.
    Slot(String),
    /// Likely this one, by its parts.
    Likely {
        /// The slot.
        slot: String,
        /// What the text calls it.
        called: String,
    },
    /// One of these, or several; which one is not said.
    Several(Vec<String>),
}

/// Words before the number of a socket. Counted over the labels of the real listings, and over texts of logs.
const SOCKET_WORDS: &[&str] = &["P", "CPU", "PROC", "PROCESSOR", "SOCKET", "NODE"];

/// The one among them that may count something else: it is compared with itself only.
const NODE: &str = "NODE";

/// Words before a label, which tell no slots apart.
const SLOT_WORDS: &[&str] = &["DIMM", "SODIMM", "MEMORY", "SLOT"];

/// Words that may be written together with the letter of a channel.
const GLUED_WORDS: &[&str] = &["DIMM", "CPU", "PROC"];

/// A run of letters, in upper case, or of digits, without leading zeros.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Token {
    text: String,
    place: Range<usize>,
}

impl Token {
    fn is_number(&self) -> bool {
        self.text.bytes().all(|byte| byte.is_ascii_digit())
    }
}

fn tokens(text: &str) -> Vec<Token> {
    let mut result: Vec<Token> = Vec::new();
    let class = |byte: u8| (byte.is_ascii_alphabetic(), byte.is_ascii_digit());
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let end = bytes[at..].iter().position(|byte| class(*byte) != class(bytes[at]));
        let end = end.map_or(bytes.len(), |length| at + length);
        if bytes[at].is_ascii_alphanumeric() {
            result.extend(run(text, at..end));
        }
        at = end;
    }
    result
}

/// The tokens of one run: `DIMMA` is two.
fn run(text: &str, place: Range<usize>) -> Vec<Token> {
    let own = text.get(place.clone()).unwrap_or_default().to_ascii_uppercase();
    let glued = GLUED_WORDS.iter().find(|word| own.starts_with(**word) && own.len() == word.len() + 1);
    if let Some(word) = glued {
        let middle = place.start + word.len();
        return vec![
            Token { text: (*word).to_owned(), place: place.start..middle },
            Token { text: own[word.len()..].to_owned(), place: middle..place.end },
        ];
    }
    let digits = own.trim_start_matches('0');
    let number = own.bytes().all(|byte| byte.is_ascii_digit());
    let text = if !number {
        own
    } else if digits.is_empty() {
        "0".to_owned()
    } else {
        digits.to_owned()
    };
    vec![Token { text, place }]
}

/// What tells a slot apart from the others of its board.
#[derive(Debug)]
struct Known<'p> {
    name: &'p str,
    /// Channel and position, or the number, in the order in which the label has them.
    parts: Vec<String>,
    /// Socket, with the word that must stand before it; any word will do where the slot's own label names it.
    socket: Option<(String, Option<&'static str>)>,
}

/// All slots of a listing that can be told apart by their parts.
#[derive(Debug)]
pub(crate) struct Mentions<'p> {
    known: Vec<Known<'p>>,
    /// Indices of `known` by the first part: a log may have very many rows.
    by_part: HashMap<String, Vec<usize>>,
}

impl<'p> Mentions<'p> {
    pub(crate) fn new(population: &'p Population<'_>, listing: &Listing<'_>) -> Self {
        let slots = population.slots.iter().filter_map(|slot| {
            let device = listing.devices.get(slot.device)?;
            Some((slot.name.as_ref(), labels_of(listing, device)))
        });
        Self::of(slots)
    }

    /// Of slots with their labels: Locator and Bank Locator.
    fn of<L: AsRef<str>>(slots: impl Iterator<Item = (&'p str, (L, L))>) -> Self {
        let mut joined = Vec::new();
        let known = slots.filter_map(|(name, (locator, bank))| {
            let label = labels::read(locator.as_ref(), bank.as_ref(), &mut joined);
            let own = tokens(locator.as_ref());
            let parts = parts_of(&label, &own)?;
            let socket = label.socket.and_then(|number| socket_of(number, &own, &tokens(bank.as_ref())));
            Some(Known { name, parts, socket })
        });
        let known: Vec<Known<'p>> = known.collect();
        let mut by_part: HashMap<String, Vec<usize>> = HashMap::new();
        for (index, own) in known.iter().enumerate() {
            if let Some(first) = own.parts.first() {
                by_part.entry(first.clone()).or_default().push(index);
            }
        }
        Self { known, by_part }
    }

    /// Every place of `text` that has the parts of a slot, set apart from the rest, with a word for a slot or a socket
    /// beside; in the order of the slots.
    fn found(&self, text: &str) -> Vec<(&Known<'p>, Found)> {
        let tokens = tokens(text);
        let mut all = Vec::new();
        for start in 0..tokens.len() {
            for index in self.by_part.get(&tokens[start].text).into_iter().flatten() {
                let parts = &self.known[*index].parts;
                let there = tokens[start..].iter().map(|token| &token.text).take(parts.len());
                if there.eq(parts.iter())
                    && let Some(found) = around(text, &tokens, start..start + parts.len())
                {
                    all.push((*index, found));
                }
            }
        }
        all.sort_by_key(|(index, _)| *index);
        all.into_iter().map(|(index, found)| (&self.known[index], found)).collect()
    }

    /// Whether texts number sockets from 0 where the labels do not: then no number of theirs is one of the labels'.
    pub(crate) fn count_otherwise<'t>(&self, texts: impl IntoIterator<Item = &'t str>) -> bool {
        const FIRST: &str = "0";
        if self.known.iter().any(|known| known.socket.as_ref().is_some_and(|(number, _)| number == FIRST)) {
            return false;
        }
        let is_first = |found: &Found| found.socket.as_ref().is_some_and(|(number, _)| number == FIRST);
        texts.into_iter().any(|text| self.found(text).iter().any(|(_, found)| is_first(found)))
    }

    /// The slot that `text` likely speaks of; without regard to its numbers of sockets if they count `otherwise`.
    pub(crate) fn likely(&self, text: &str, otherwise: bool) -> Mention {
        let (mut named, mut perhaps) = (Vec::new(), Vec::new());
        for (known, found) in self.found(text) {
            match known.agrees(&found, otherwise) {
                Some(true) => named.push((known.name, found.place)),
                Some(false) => perhaps.push((known.name, found.place)),
                None => {}
            }
        }
        let mut slots = if named.is_empty() { perhaps } else { named };
        slots.dedup_by(|a, b| a.0 == b.0);
        match slots.as_slice() {
            [] => Mention::None,
            [(slot, place)] => {
                let called = text.get(place.clone()).unwrap_or_default().to_owned();
                Mention::Likely { slot: (*slot).to_owned(), called }
            }
            several => Mention::Several(several.iter().map(|(slot, _)| (*slot).to_owned()).collect()),
        }
    }
}

impl Known<'_> {
    /// Whether a text that has the parts speaks of this slot: surely its socket, perhaps, or not.
    fn agrees(&self, found: &Found, otherwise: bool) -> Option<bool> {
        match (&self.socket, &found.socket) {
            (Some((own, word)), Some((theirs, said))) => {
                let comparable =
                    !otherwise && word.is_none_or(|word| word == *said) && (*said != NODE || word.is_some());
                match (comparable, own == theirs) {
                    (true, same) => same.then_some(true),
                    (false, _) => Some(false),
                }
            }
            (None, None) => Some(true),
            (Some(_), None) | (None, Some(_)) => Some(false),
        }
    }
}

/// Channel and position of a label, or the number of its slot, in the order in which they are printed there.
fn parts_of(label: &Label<'_>, own: &[Token]) -> Option<Vec<String>> {
    let letter = |position: u16| -> Option<String> {
        let place = u8::try_from(position.checked_sub(1)?).ok().filter(|place| *place < 26)?;
        Some(char::from(b'A' + place).to_string())
    };
    let channel = label.channel.or(label.letter).map(str::to_ascii_uppercase);
    let mut candidates: Vec<Vec<String>> = Vec::new();
    if let (Some(channel), Some(number)) = (channel, label.position.or(label.slot)) {
        for position in [Some(number.to_string()), letter(number)].into_iter().flatten() {
            candidates.push(vec![channel.clone(), position.clone()]);
            candidates.push(vec![position, channel.clone()]);
        }
    }
    if label.channel.is_none() && label.letter.is_none() {
        candidates.extend(label.slot.map(|number| vec![number.to_string()]));
    }
    let printed = |parts: &Vec<String>| {
        own.windows(parts.len()).any(|window| window.iter().map(|token| &token.text).eq(parts.iter()))
    };
    candidates.into_iter().find(printed)
}

fn socket_of(number: u16, own: &[Token], bank: &[Token]) -> Option<(String, Option<&'static str>)> {
    let number = number.to_string();
    let word_in = |tokens: &[Token]| {
        tokens.windows(2).find_map(|pair| {
            let word = SOCKET_WORDS.iter().copied().find(|word| pair[0].text == **word)?;
            (pair[1].text == number).then_some(word)
        })
    };
    match (word_in(own), word_in(bank)) {
        (Some(word), _) if word != NODE => Some((number, None)),
        (Some(word), _) | (None, Some(word)) => Some((number, Some(word))),
        (None, None) => None,
    }
}

/// The parts of a slot in a text, with the socket that is named next to them.
struct Found {
    socket: Option<(String, &'static str)>,
    place: Range<usize>,
}

/// The parts of a slot at a place of a text; `None` where they are part of something else.
fn around(text: &str, tokens: &[Token], parts: Range<usize>) -> Option<Found> {
    let gap =
        |from: usize, to: usize| text.get(tokens[from].place.end..tokens[to].place.start).unwrap_or("|");
    let near = |from: usize, to: usize| gap(from, to).bytes().all(|byte| b" _-(,".contains(&byte));
    let socket_word = |at: usize| SOCKET_WORDS.iter().copied().find(|word| tokens[at].text == *word);
    let is_slot_word = |at: usize| SLOT_WORDS.contains(&tokens[at].text.as_str());
    let together = parts.clone().skip(1).all(|at| matches!(gap(at - 1, at), "" | "_" | "-"));
    if !together {
        return None;
    }
    // Backwards: words for a slot, then a socket.
    let (mut first, mut last) = (parts.start, parts.end - 1);
    while first > 0 && is_slot_word(first - 1) && near(first - 1, first) {
        first -= 1;
    }
    let mut has_word = first < parts.start;
    let before =
        (first >= 2 && tokens[first - 1].is_number() && near(first - 1, first) && near(first - 2, first - 1))
            .then(|| socket_word(first - 2))
            .flatten();
    let mut sockets = Vec::new();
    if let Some(word) = before {
        sockets.push((tokens[first - 1].text.clone(), word));
        first -= 2;
    } else if parts.len() == 1 && first > 0 && tokens[first - 1].is_number() && near(first - 1, first) {
        // `Board 1, DIMM 3`: a number in something that is no socket.
        return None;
    }
    while first > 0 && is_slot_word(first - 1) && near(first - 1, first) {
        (first, has_word) = (first - 1, true);
    }
    // Forwards: a socket.
    if let (Some(word), Some(number)) =
        (tokens.get(last + 1).and_then(|_| socket_word(last + 1)), tokens.get(last + 2))
        && number.is_number()
        && near(last, last + 1)
        && near(last + 1, last + 2)
    {
        sockets.push((number.text.clone(), word));
        last += 2;
    }
    sockets.dedup();
    let place = tokens[first].place.start..tokens[last].place.end;
    let joined =
        |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | '#' | '/'));
    let apart = !joined(text[..place.start].chars().next_back()) && !joined(text[place.end..].chars().next());
    let is_named = has_word || !sockets.is_empty();
    if sockets.len() > 1 || !apart || !is_named {
        return None;
    }
    let open = text[place.clone()].contains('(') && !text[place.clone()].contains(')');
    let end = if open && text[place.end..].starts_with(')') { place.end + 1 } else { place.end };
    Some(Found { socket: sockets.pop(), place: place.start..end })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known<'p>(labels: &[(&'p str, &'p str)]) -> Mentions<'p> {
        Mentions::of(labels.iter().map(|(locator, bank)| (*locator, (*locator, *bank))))
    }

    fn one(mentions: &Mentions<'_>, text: &str) -> Option<(String, String)> {
        match mentions.likely(text, false) {
            Mention::Likely { slot, called } => Some((slot, called)),
            _ => None,
        }
    }

    const TWO_SOCKETS: &[(&str, &str)] = &[
        ("P1-DIMM1A", "P0_Node0_Channel0_Dimm0"),
        ("P1-DIMM2B", "P0_Node0_Channel1_Dimm1"),
        ("P2-DIMM1B", "P1_Node0_Channel1_Dimm0"),
        ("P2-DIMM2B", "P1_Node0_Channel1_Dimm1"),
    ];

    /// Ways in which logs write a slot, each seen in a public report.
    #[test]
    fn the_same_parts_in_another_order_are_likely_the_same_slot() {
        let mentions = known(TWO_SOCKETS);
        for (text, slot, called) in [
            ("Uncorrectable ECC (@DIMM2B(CPU1)) | Asserted", "P1-DIMM2B", "DIMM2B(CPU1)"),
            ("Correctable ECC (@DIMM2B (CPU2))", "P2-DIMM2B", "DIMM2B (CPU2)"),
            ("DIMM_P2-DIMM1B failing", "P2-DIMM1B", "DIMM_P2-DIMM1B"),
            ("CPU1_DIMM_1A", "P1-DIMM1A", "CPU1_DIMM_1A"),
            ("Processor 2, DIMM 1B", "P2-DIMM1B", "Processor 2, DIMM 1B"),
            ("DIMM 1A", "P1-DIMM1A", "DIMM 1A"),
        ] {
            assert_eq!(one(&mentions, text), Some((slot.to_owned(), called.to_owned())), "{text}");
        }
        let letters = known(&[("P1-DIMMA1", "P0_Node0_Channel0_Dimm0"), ("P2-DIMMA1", "NO DIMM")]);
        for text in ["@DIMMA1(CPU2)", "CPU2 DIMM A1", "P2_DIMM_A1", "PROC 2 DIMM A1"] {
            assert_eq!(one(&letters, text).map(|found| found.0), Some("P2-DIMMA1".to_owned()), "{text}");
        }
        let numbers = known(&[("PROC 1 DIMM 2", ""), ("PROC 2 DIMM 2", ""), ("PROC 1 DIMM 12", "")]);
        assert_eq!(one(&numbers, "CPU1 DIMM 2").map(|f| f.0), Some("PROC 1 DIMM 2".to_owned()));
        assert_eq!(one(&numbers, "Processor 1, DIMM 12").map(|f| f.0), Some("PROC 1 DIMM 12".to_owned()));
    }

    /// A log that has a CPU0 beside labels that start with P1 numbers sockets in its own way.
    #[test]
    fn sockets_that_are_numbered_otherwise_are_not_compared() {
        let mentions = known(TWO_SOCKETS);
        assert!(mentions.count_otherwise(["@DIMM2B(CPU1)", "@DIMM1A(CPU0)"]));
        assert!(!mentions.count_otherwise(["@DIMM2B(CPU1)", "@DIMM9Z(CPU0)", "CPU0 IERR"]));
        let both = Mention::Several(vec!["P1-DIMM2B".to_owned(), "P2-DIMM2B".to_owned()]);
        assert_eq!(mentions.likely("@DIMM2B(CPU1)", true), both);
        // What no other slot has is likely this one all the same.
        assert!(matches!(mentions.likely("@DIMM1A(CPU0)", true), Mention::Likely { .. }));
        assert!(
            !known(&[("P0-DIMMA1", "NO DIMM"), ("P1-DIMMA1", "NO DIMM")]).count_otherwise(["P0_DIMM_A1"])
        );
    }

    #[test]
    fn what_may_be_several_slots_is_none_of_them() {
        let mentions = known(TWO_SOCKETS);
        let both = Mention::Several(vec!["P1-DIMM2B".to_owned(), "P2-DIMM2B".to_owned()]);
        assert_eq!(mentions.likely("Memory | ECC (DIMM 2B)", false), both);
        assert_eq!(mentions.likely("DIMM2B(CPU1), DIMM2B(CPU2)", false), both);
        // Only the bank names the socket, from 0: the CPU of a log may be counted from 1.
        let banks = known(&[("DIMMA1", "P0_Node0_Channel0_Dimm0"), ("DIMMA1", "P1_Node0_Channel0_Dimm0")]);
        assert!(matches!(banks.likely("DIMMA1(P1)", false), Mention::Likely { .. }));
        let mentions = known(&[
            ("DIMM_A1", "P0_Node0_Channel0_Dimm0"),
            ("DIMM_A2", "P0_Node0_Channel0_Dimm1"),
            ("DIMM_B1", "NODE 1"),
        ]);
        for text in [
            "DIMM2A",
            "XDIMM_A1",
            "DIMM_A12",
            "DIMM_A1B",
            "A1",
            "CPU_SrcID#0_MC#0_Chan#1_DIMM#0",
            "mc#0csrow#0channel#1",
            "DIMM[-(CPU4)",
            "DIMMS-(CPU4)",
            "",
        ] {
            assert_eq!(mentions.likely(text, false), Mention::None, "{text}");
        }
        let numbers = known(&[("DIMM 0", ""), ("DIMM 3", "")]);
        for text in
            ["CPU_SrcID#0_MC#0_Chan#1_DIMM#0", "Board 1, DIMM 3", "BANK 0 DIMM 3", "CPU#0Channel#1_DIMM#0"]
        {
            assert_eq!(numbers.likely(text, false), Mention::None, "{text}");
        }
        assert_eq!(one(&numbers, "DIMM3").map(|found| found.0), Some("DIMM 3".to_owned()));
        // Another socket than any slot's.
        assert_eq!(known(TWO_SOCKETS).likely("@DIMM2B(CPU4)", false), Mention::None);
    }
}
