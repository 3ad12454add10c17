//! The grammar of slot labels: what a pair of Locator and Bank Locator proves about socket, channel and
//! position.
//!
//! The rules were written from the labels of 1,556 real servers (data set "DMI Tables" of the linuxhw project,
//! CC BY 4.0). In 579 of them the two labels name the channel independently; in 577 they agree. A label that no rule
//! covers, or that can mean two things, yields nothing: topology is never invented. Rows for labels of desktops and
//! notebooks come from 1,895 other machines of the same data set.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::OnceLock;

use hashbrown::HashMap;
use regex_automata::meta::Regex;
use regex_automata::util::syntax;

/// What a rule's match proves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Reading {
    /// Socket, channel and position, confirmed by a second label or by every listing seen.
    Certain,
    /// Socket, channel and position by the family's habit; one board is known to differ.
    Likely,
    /// Channel and position; the socket only by other evidence.
    SocketInferred,
    /// The channel, and the socket where the label names it; nothing of the position.
    ChannelOnly,
    /// The socket and a slot number; the channel needs the board's table.
    SocketOnly,
    /// A slot number and nothing else.
    SlotOnly,
    /// The letter can be the socket, the channel or the order of filling: decided per listing, or not at all.
    Ambiguous,
    /// No label: firmware's word for an empty slot.
    Placeholder,
}

/// One row of the grammar. Both expressions are anchored at both ends.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rule {
    /// Short name for messages and tests.
    #[cfg_attr(not(test), expect(dead_code, reason = "the tests need it, and whoever reads the table"))]
    pub(crate) id: &'static str,
    /// Expression for the Locator, runs of spaces collapsed.
    pub(crate) locator: &'static str,
    /// Expression for the Bank Locator, runs of spaces collapsed.
    pub(crate) bank: &'static str,
    /// What a match proves.
    pub(crate) reading: Reading,
    /// A real pair of labels that this rule is the first to match.
    #[cfg_attr(not(test), expect(dead_code, reason = "the tests need it, and whoever reads the table"))]
    pub(crate) example: (&'static str, &'static str),
}

/// Any label at all. The two labels are joined by a tab for matching.
const ANY: &str = r"[^\t]*";

/// The rules in order; the first match wins.
#[rustfmt::skip]
pub(crate) const RULES: &[Rule] = &[
    Rule { id: "B1", locator: r"P(?P<socket>\d+)[-_]D(?:IMM|imm)(?P<channel>[A-Z])(?P<position>\d+)", bank: r"P\d+_Node\d+_Channel\d+_Dimm\d+", reading: Reading::Certain, example: ("P1-DIMMA1", "P0_Node0_Channel0_Dimm0") },
    Rule { id: "B2", locator: r"DIMM(?P<channel>[A-Z])(?P<position>\d+)", bank: r"P(?P<socket>\d+)_Node\d+_Channel\d+_Dimm\d+", reading: Reading::Certain, example: ("DIMMA1", "P0_Node0_Channel0_Dimm0") },
    Rule { id: "B3", locator: r"DIMM_P(?P<socket>\d+)_(?P<channel>[A-Z])(?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("DIMM_P0_A0", "P0 CHANNEL A") },
    Rule { id: "B4", locator: r"DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: r"NODE (?P<socket>\d+) CHANNEL \d+ DIMM \d+", reading: Reading::Certain, example: ("DIMM_A1", "NODE 0 CHANNEL 0 DIMM 0") },
    Rule { id: "B4b", locator: r"DIMM (?P<channel>[A-Z])(?P<position>\d+)", bank: r"NODE (?P<socket>\d+) CHANNEL \d+ DIMM \d+", reading: Reading::Certain, example: ("DIMM A1", "NODE 0 CHANNEL 0 DIMM 0") },
    Rule { id: "B5", locator: r"P(?P<socket>\d+)-DIMM(?P<position>\d+)(?P<channel>[A-Z])", bank: r"P\d+_Node\d+_Channel\d+_Dimm\d+", reading: Reading::Certain, example: ("P1-DIMM1A", "P0_Node0_Channel0_Dimm0") },
    Rule { id: "B6", locator: r"CPU_?(?P<socket>\d+)[_ ]D(?:IMM|imm)[_ ]?(?P<channel>[A-Z])_?(?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("CPU0_DIMM_A0", "NODE 0") },
    Rule { id: "B7", locator: r"CPU(?P<socket>\d+)_(?P<channel>[A-Z])(?P<position>\d+)", bank: ANY, reading: Reading::Likely, example: ("CPU0_A0", "NODE 1") },
    Rule { id: "B8", locator: ANY, bank: r"SOCKET (?P<socket>\d+) CHANNEL (?P<channel>\d+) DIMM (?P<position>\d+)", reading: Reading::Certain, example: ("DIMM0", "SOCKET 0 CHANNEL 0 DIMM 0") },
    Rule { id: "B9", locator: r"SOCKET (?P<socket>\d+) CHANNEL (?P<channel>\d+) DIMM (?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("SOCKET 0 CHANNEL 0 DIMM 0", "Bank0") },
    Rule { id: "B10", locator: r"DIMM(?P<socket>\d)(?P<channel>\d)(?P<position>\d)(?: J\d+)?", bank: r"_?Node\d+_Channel\d+_Dimm\d+", reading: Reading::Certain, example: ("DIMM000 J22", "_Node0_Channel0_Dimm0") },
    Rule { id: "B11", locator: r"NODE (?P<socket>\d+) CHANNEL (?P<channel>\d+) DIMM (?P<position>\d+) \(C\d+[A-Z]\d+\)", bank: ANY, reading: Reading::Certain, example: ("NODE 0 CHANNEL 0 DIMM 0 (C0A0)", "NODE 0") },
    Rule { id: "B12", locator: r"CPU(?P<socket>\d+)_C(?P<channel>\d+)D(?P<position>\d+)", bank: ANY, reading: Reading::Likely, example: ("CPU0_C0D0", "NODE 0") },
    Rule { id: "B13", locator: r"P(?P<socket>\d+)-Ch(?P<channel>[A-Z])-DIMM(?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("P0-ChD-DIMM0", "BANK15") },
    Rule { id: "B14", locator: r"P(?P<socket>\d+)_(?:D\d+_)?(?:U?MC\d+_)(?:DIM_)?CH_(?P<channel>[A-Z])(?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("P0_MC0_DIM_CH_A0", "NODE 1") },
    Rule { id: "B15", locator: r"DIMM (?P<position>\d+)", bank: r"P(?P<socket>\d+) CHANNEL (?P<channel>[A-Z])", reading: Reading::Certain, example: ("DIMM 0", "P0 CHANNEL A") },
    Rule { id: "B16", locator: r"DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: r"P(?P<socket>\d+) CHANNEL [A-Z]", reading: Reading::Certain, example: ("DIMM_A0", "P0 CHANNEL A") },
    Rule { id: "B17", locator: r"P(?P<socket>\d+)_DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: ANY, reading: Reading::Likely, example: ("P1_DIMM_A1", "NODE 1") },
    Rule { id: "B18", locator: r"P(?P<socket>\d+)[-_]D(?:IMM|imm)(?P<channel>[A-Z])(?P<position>\d+)", bank: r"(?:NO DIMM|NODE \d+|P\d+-CH-[A-Z])", reading: Reading::Certain, example: ("P1-DIMMB2", "NO DIMM") },
    Rule { id: "B19", locator: r"CPU(?P<socket>\d+)_DIMM_\d+", bank: r"P\d+_Channel(?P<channel>\d+)_Dimm(?P<position>\d+)", reading: Reading::Certain, example: ("CPU0_DIMM_1", "P0_Channel0_Dimm0") },
    Rule { id: "B20", locator: r"DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: r"_?Node(?P<socket>\d+)_Channel\d+_Dimm\d+", reading: Reading::Likely, example: ("DIMM_A0", "_Node0_Channel0_Dimm0") },
    Rule { id: "B21", locator: r"DIMM(?P<channel>[A-Z])(?P<position>\d+)", bank: r"P(?P<socket>\d+) CHANNEL [A-Z]", reading: Reading::Likely, example: ("DIMMA1", "P0 CHANNEL A") },
    Rule { id: "B22", locator: r"P(?P<socket>\d+) CHANNEL (?P<channel>[A-Z]) DIMM (?P<position>\d+)", bank: r"P\d+ CHANNEL [A-Z]", reading: Reading::Certain, example: ("P0 CHANNEL A DIMM 0", "P0 CHANNEL A") },
    Rule { id: "B23", locator: r"DIMM-CH(?P<channel>[A-Z])(?P<position>\d+) CPU(?P<socket>\d+)", bank: ANY, reading: Reading::Likely, example: ("DIMM-CHA0 CPU0", "BANK-A0") },
    Rule { id: "B24", locator: r"DIMM_\d+", bank: r"CPU(?P<socket>\d+)_(?P<channel>[A-Z])(?P<position>\d+)", reading: Reading::Likely, example: ("DIMM_1", "CPU1_A0") },
    Rule { id: "BN", locator: ANY, bank: r"(?:[A-Z]\d+)?_?Node(?P<socket>\d+)_Channel(?P<channel>\d+)_Dimm(?P<position>\d+)", reading: Reading::Certain, example: ("A0", "_Node0_Channel0_Dimm0") },
    Rule { id: "C1", locator: r"Channel(?P<channel>[A-Z])[-_]D(?:IMM|imm)(?P<position>\d+)", bank: ANY, reading: Reading::SocketInferred, example: ("ChannelA-DIMM0", "NODE 0") },
    Rule { id: "C1b", locator: r"Channel-(?P<channel>\d+)-DIMM-(?P<position>\d+)", bank: ANY, reading: Reading::SocketInferred, example: ("Channel-0-DIMM-0", "BANK 0") },
    Rule { id: "C2", locator: r"Controller(?P<controller>\d+)-?Channel(?P<channel>[A-Z])(?:-?D(?:IMM|imm)(?P<position>\d+))?", bank: ANY, reading: Reading::SocketInferred, example: ("Controller0-ChannelA-DIMM0", "BANK 0") },
    Rule { id: "C2b", locator: ANY, bank: r"Controller(?P<controller>\d+)-?Channel(?P<channel>[A-Z])-?D(?:IMM|imm)(?P<position>\d+)", reading: Reading::SocketInferred, example: ("DIMM1", "Controller1ChannelADimm0") },
    Rule { id: "C2c", locator: r"DIMM(?P<slot>\d+) \(Controller(?P<controller>\d+)-Channel(?P<channel>[A-Z])\)", bank: ANY, reading: Reading::ChannelOnly, example: ("DIMM1 (Controller0-ChannelA)", "BANK 0") },
    Rule { id: "C3", locator: r"(?:ONBOARD )?DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: r"(?:Channel [A-Z]|CHAN [A-Z] DIMM \d+|BANK \d+|BANK_[A-Z]\d+|DIMM_[A-Z]\d+|NODE \d+|NO DIMM)", reading: Reading::SocketInferred, example: ("DIMM_A1", "NODE 1") },
    Rule { id: "C3b", locator: r"ONBOARD DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: ANY, reading: Reading::SocketInferred, example: ("ONBOARD DIMM_A1", "Not Specified") },
    Rule { id: "C4", locator: r"(?:DIMM|MEMORY)[ -](?:CH)?(?P<channel>[A-Z])(?P<position>\d+)", bank: r"(?:CHANNEL [A-Z]|Channel [A-Z0-9]|CH[A-Z] \d+|BANK \d+)", reading: Reading::SocketInferred, example: ("MEMORY A0", "Channel 0") },
    Rule { id: "C5", locator: r"DIMM (?P<position>\d+)", bank: r"CHANNEL (?P<channel>[A-Z])", reading: Reading::SocketInferred, example: ("DIMM 1", "CHANNEL A") },
    Rule { id: "C5b", locator: r"DIMM(?P<position>\d+)", bank: r"Channel(?P<channel>[A-Z])", reading: Reading::SocketInferred, example: ("DIMM1", "ChannelB") },
    Rule { id: "C5c", locator: r"J\d[A-Z]\d", bank: r"CHAN (?P<channel>[A-Z]) DIMM (?P<position>\d+)", reading: Reading::SocketInferred, example: ("J6H1", "CHAN A DIMM 0") },
    Rule { id: "C5d", locator: r"(?:SO)?DIMM[ _-]?(?P<position>\d+)", bank: r"(?:Memory )?(?:CHANNEL|Channel) ?(?P<channel>[A-Z]|\d+)", reading: Reading::SocketInferred, example: ("SODIMM1", "Memory Channel A") },
    Rule { id: "C5e", locator: ANY, bank: r"(?:CHANNEL|Channel|CHAN|CH)[ _]?(?P<channel>[A-Z])[ _-](?:DIMM|SLOT|Slot) ?(?P<position>\d+)", reading: Reading::SocketInferred, example: ("DIMM1", "CHANNEL A SLOT 0") },
    Rule { id: "C8", locator: ANY, bank: r"(?:P(?P<socket>\d+) )?(?:CHANNEL|Channel) ?(?P<channel>[A-Z])\d?", reading: Reading::ChannelOnly, example: ("Bottom-Slot 1(left)", "P0 CHANNEL A") },
    Rule { id: "C8b", locator: r"(?:CHANNEL|Channel)[ _]?(?P<channel>[A-Z]|\d+)(?:-DRAM|-Onboard\d+)?", bank: ANY, reading: Reading::ChannelOnly, example: ("CHANNEL1", "BANK0") },
    Rule { id: "C6", locator: r"C(?P<channel>\d+)_DIMM(?P<position>\d+)", bank: ANY, reading: Reading::Ambiguous, example: ("C0_DIMM0", "Bank 0") },
    Rule { id: "C7", locator: r"(?P<channel>[A-Z])(?P<slot>\d+)_DIMM(?P<position>\d+)", bank: ANY, reading: Reading::Ambiguous, example: ("H0_DIMM0", "Bank 1") },
    Rule { id: "N1", locator: r"P(?P<socket>\d+)[-_](?:DIMM)?(?P<channel>\d+)(?P<position>[A-Z])", bank: r"(?:BANK\d+|P\d+_BANK\d+|\d+|BANK)?", reading: Reading::Likely, example: ("P1_DIMM1A", "P1_BANK1") },
    Rule { id: "S1", locator: r"PROC\s+(?P<socket>\d+)\s+DIMM\s+(?P<slot>\d+)", bank: ANY, reading: Reading::SocketOnly, example: ("PROC 1 DIMM 1", "Not Specified") },
    Rule { id: "S2", locator: r"P(?:ROC|roc)\s+(?P<socket>\d+)\s+DIMM\s+(?P<slot>\d+)\s?[A-Z]", bank: ANY, reading: Reading::SocketOnly, example: ("PROC 1 DIMM 1D", "Not Specified") },
    Rule { id: "S3", locator: r"(?:DIMM|Dimm) (?P<slot>\d+)", bank: r"CPU (?P<socket>\d+)", reading: Reading::SocketOnly, example: ("Dimm 1", "CPU 1") },
    Rule { id: "S4", locator: r"CPU ?(?P<socket>\d+)[ _-]D(?:IMM|imm)[ _]?(?P<slot>\d+)", bank: ANY, reading: Reading::SocketOnly, example: ("CPU1_DIMM1", "BANK 1") },
    // The Bank Locators beside this label were not kept.
    Rule { id: "S4b", locator: r"DIMM(?P<slot>\d+)_CPU(?P<socket>\d+)", bank: ANY, reading: Reading::SocketOnly, example: ("DIMM5_CPU0", "") },
    Rule { id: "S4c", locator: r"CPU(?P<socket>\d+)_DIMM_[A-Z]", bank: ANY, reading: Reading::SocketOnly, example: ("CPU0_DIMM_A", "BANK 0") },
    Rule { id: "S5", locator: r"D(?P<slot>\d+)", bank: r"/SYS/MB/P(?P<socket>\d+)", reading: Reading::SocketOnly, example: ("D2", "/SYS/MB/P0") },
    Rule { id: "S6", locator: r"CPU(?P<socket>\d+)", bank: r"DIMM(?P<slot>\d+)", reading: Reading::SocketOnly, example: ("CPU0", "DIMM0") },
    Rule { id: "S7", locator: r"Node(?P<socket>\d+)_Dimm(?P<slot>\d+)", bank: ANY, reading: Reading::SocketOnly, example: ("Node0_Dimm0", "NODE 1") },
    Rule { id: "S8", locator: r"DIMM (?P<channel>[A-Z])(?P<slot>\d+)", bank: r"(?:Primary|Secondary) (?:Main|CPU) Board/CPU (?P<socket>\d+)", reading: Reading::SocketOnly, example: ("DIMM A1", "Primary Main Board/CPU 0") },
    Rule { id: "S9", locator: r"NODE(?P<socket>\d+)-(?P<slot>\d+[A-Z])", bank: ANY, reading: Reading::SocketOnly, example: ("NODE0-1A", "BANK0") },
    Rule { id: "S10", locator: r"DIMM(?P<slot>\d+)", bank: r"CPU(?P<socket>\d+)", reading: Reading::SocketOnly, example: ("DIMM1", "CPU0") },
    Rule { id: "S11", locator: r"DIMM_(?P<channel>[A-Z])(?P<position>\d+)", bank: r"CPU (?P<socket>\d+)", reading: Reading::Likely, example: ("DIMM_A0", "CPU 0") },
    Rule { id: "S12", locator: r"Socket (?P<socket>\d+) DIMM (?P<slot>\d+)", bank: ANY, reading: Reading::SocketOnly, example: ("Socket 0 DIMM 0", "Bank 0") },
    Rule { id: "S13", locator: r"[A-Z](?P<slot>\d+)", bank: r"Node(?P<socket>\d+)_Bank\d+", reading: Reading::SocketOnly, example: ("A0", "Node0_Bank0") },
    Rule { id: "A1", locator: r"(?:DIMM_)?(?P<letter>[A-Z])(?P<slot>\d+)", bank: ANY, reading: Reading::Ambiguous, example: ("D2", "BANK2") },
    Rule { id: "A2", locator: r"DIMM[ _-]{0,3}(?P<slot>\d+)(?P<letter>[A-Z])", bank: ANY, reading: Reading::Ambiguous, example: ("DIMM_1A", "Bank 1") },
    Rule { id: "A3", locator: r"Board (?P<board>\d+), DIMM (?P<slot>\d+)(?P<letter>[A-Z])", bank: ANY, reading: Reading::Ambiguous, example: ("Board 1, DIMM 1A", "Not Specified") },
    Rule { id: "A4", locator: r"(?:\d+/){2,3}\d+[A-Z]?", bank: ANY, reading: Reading::Ambiguous, example: ("1/1/0/01A", "1/1/0/0") },
    Rule { id: "O1", locator: r"DIMM[ _]?0*(?P<slot>\d+)(?: J\d+)?", bank: ANY, reading: Reading::SlotOnly, example: ("DIMM1", "DIMM1") },
    Rule { id: "Z1", locator: r"(?:NO DIMM|\[Empty\]|)", bank: ANY, reading: Reading::Placeholder, example: ("NO DIMM", "NO DIMM") },
    // The labels of the invented board in the demo, which name everything.
    Rule { id: "D1", locator: r"s(?P<socket>\d+)\.c(?P<channel>\d+)\.p(?P<position>\d+)", bank: ANY, reading: Reading::Certain, example: ("s1.c2.p3", "") },
];

/// What one pair of labels says, by the first rule that matches.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Label<'a> {
    /// Index into [`RULES`]; `None` where no rule matches.
    pub(crate) rule: Option<usize>,
    /// Processor socket as numbered on the board; bases differ between boards.
    pub(crate) socket: Option<u16>,
    /// Memory controller.
    pub(crate) controller: Option<u16>,
    /// Channel as printed: a letter or a number.
    pub(crate) channel: Option<&'a str>,
    /// Position in the channel as numbered on the board, or the place of its letter in the alphabet.
    pub(crate) position: Option<u16>,
    /// Number of the slot, counted over all channels.
    pub(crate) slot: Option<u16>,
    /// A letter that can mean several things.
    pub(crate) letter: Option<&'a str>,
}

impl Label<'_> {
    /// What the rule proves; `None` where no rule matches.
    pub(crate) fn reading(&self) -> Option<Reading> {
        self.rule.map(|rule| RULES[rule].reading)
    }

    /// The rule's short name; empty where no rule matches.
    #[cfg(test)]
    pub(crate) fn rule_id(&self) -> &'static str {
        self.rule.map_or("", |rule| RULES[rule].id)
    }
}

fn pattern(rule: &Rule) -> String {
    format!("^(?:{})\t(?:{})$", rule.locator, rule.bank)
}

/// All rules in one expression, of which the first that matches counts; `None` only if a rule does not compile,
/// which a test excludes.
fn all_rules() -> Option<&'static Regex> {
    static RULES_COMPILED: OnceLock<Option<Regex>> = OnceLock::new();
    let compile = || {
        let patterns: Vec<String> = RULES.iter().map(pattern).collect();
        let bytes = syntax::Config::new().unicode(false).utf8(false);
        Regex::builder().syntax(bytes).build_many(&patterns).ok()
    };
    RULES_COMPILED.get_or_init(compile).as_ref()
}

/// Compiles the grammar of slot labels, which the first label to be read would otherwise wait for: a few milliseconds
/// that can pass during other work.
pub fn prepare() {
    all_rules();
}

/// What a pair of labels was found to say: as [`Label`], with places in the joined pair for the texts.
#[derive(Debug, Clone, Default)]
struct Found {
    rule: Option<usize>,
    socket: Option<u16>,
    controller: Option<u16>,
    channel: Option<Range<usize>>,
    position: Option<u16>,
    slot: Option<u16>,
    letter: Option<Range<usize>>,
}

/// Pairs that a thread remembers: the machines of a fleet have the same labels over and over, and matching them
/// is costly. When there are more, it starts anew.
const REMEMBERED: usize = 4096;

thread_local! {
    static SEEN: RefCell<HashMap<Box<[u8]>, Found>> = RefCell::new(HashMap::new());
}

/// Reads a pair of labels. Both must be trimmed and have runs of spaces collapsed; `joined` is scratch space.
pub(crate) fn read<'a>(locator: &'a str, bank: &'a str, joined: &mut Vec<u8>) -> Label<'a> {
    joined.clear();
    joined.extend_from_slice(locator.as_bytes());
    joined.push(b'\t');
    joined.extend_from_slice(bank.as_bytes());
    let found = SEEN.with_borrow_mut(|seen| match seen.get(joined.as_slice()) {
        Some(found) => found.clone(),
        None => {
            let found = find(joined);
            if seen.len() >= REMEMBERED {
                seen.clear();
            }
            seen.insert(joined.as_slice().into(), found.clone());
            found
        }
    });
    let split = locator.len();
    let text = |range: Option<Range<usize>>| -> Option<&'a str> {
        let range = range?;
        if range.end <= split {
            locator.get(range)
        } else {
            bank.get(range.start.checked_sub(split + 1)?..range.end - split - 1)
        }
    };
    Label {
        rule: found.rule,
        socket: found.socket,
        controller: found.controller,
        channel: text(found.channel),
        position: found.position,
        slot: found.slot,
        letter: text(found.letter),
    }
}

/// Matches the rules against a pair of labels that is joined by a tab.
fn find(joined: &[u8]) -> Found {
    let Some(rules) = all_rules() else { return Found::default() };
    let mut groups = rules.create_captures();
    // All rules are anchored at both ends, so that the leftmost match is that of the first rule in order.
    rules.captures(joined, &mut groups);
    let Some(rule) = groups.pattern() else { return Found::default() };
    let range = |name: &str| groups.get_group_by_name(name).map(|span| span.range());
    let text = |name: &str| std::str::from_utf8(&joined[range(name)?]).ok();
    let number = |name: &str| text(name).and_then(|text| text.parse().ok());
    let position = text("position").and_then(|text| match text.as_bytes() {
        [letter @ b'A'..=b'Z'] => Some(u16::from(letter - b'A') + 1),
        _ => text.parse().ok(),
    });
    Found {
        rule: Some(rule.as_usize()),
        socket: number("socket"),
        controller: number("controller"),
        channel: range("channel"),
        position,
        slot: number("slot"),
        letter: range("letter"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every example but the demo's comes from a real listing of the data set named at the top of this file.
    #[test]
    fn every_rule_is_the_first_to_match_its_example() {
        for (index, rule) in RULES.iter().enumerate() {
            let label = read(rule.example.0, rule.example.1, &mut Vec::new());
            assert_eq!(
                label.rule,
                Some(index),
                "{}: {:?} is read by {}",
                rule.id,
                rule.example,
                label.rule_id()
            );
        }
    }

    /// Each rule has the groups that its reading promises.
    #[test]
    fn readings_have_their_parts() {
        for rule in RULES {
            let label = read(rule.example.0, rule.example.1, &mut Vec::new());
            let id = rule.id;
            match rule.reading {
                Reading::Certain | Reading::Likely => {
                    assert!(
                        label.socket.is_some() && label.channel.is_some() && label.position.is_some(),
                        "{id}"
                    );
                }
                Reading::SocketInferred => assert!(label.socket.is_none() && label.channel.is_some(), "{id}"),
                Reading::ChannelOnly => assert!(label.channel.is_some() && label.position.is_none(), "{id}"),
                Reading::SocketOnly => assert!(label.socket.is_some(), "{id}"),
                Reading::SlotOnly => assert!(label.socket.is_none() && label.slot.is_some(), "{id}"),
                Reading::Ambiguous | Reading::Placeholder => {}
            }
        }
    }

    #[test]
    fn numbers_and_letters_are_read() {
        let mut joined = Vec::new();
        let label = read("P1-DIMMA1", "P0_Node0_Channel0_Dimm0", &mut joined);
        assert_eq!((label.socket, label.channel, label.position), (Some(1), Some("A"), Some(1)));
        let label = read("DIMMA1", "P1_Node0_Channel0_Dimm0", &mut joined);
        assert_eq!((label.socket, label.channel, label.position), (Some(1), Some("A"), Some(1)));
        let label = read("P1_DIMM3B", "P1_BANK1", &mut joined);
        assert_eq!((label.socket, label.channel, label.position), (Some(1), Some("3"), Some(2)));
        assert_eq!(read("some label nobody knows", "", &mut joined).rule, None);
    }
}
