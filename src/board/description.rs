//! What a description says of a board: sockets, channels, slots and rules, each number with its source.

use super::model_pattern::ModelPattern;
use crate::plan::NamedMode;
use crate::population::ModuleKind;
use crate::records::enums::MemoryType;
use crate::units::{Bytes, Millivolts, TransferRate};

/// One board, or one platform class with placeholder labels.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Board {
    /// Its name.
    pub name: String,
    /// The class whose rules it takes over.
    pub class: Option<String>,
    /// A sentence about it.
    pub about: Option<String>,
    /// Sockets, channels, slots.
    pub sockets: Vec<BoardSocket>,
    /// Colour of each channel's first slot, if known. Never inferred.
    pub first_slot_colour: Option<String>,
    /// Whether the order of slots within a channel is known; where it is not, no rule about it is judged.
    pub order_known: bool,
    /// What may be fitted and how fast it runs.
    pub rules: Rules,
    /// Sources by the keys that rules name.
    pub sources: Vec<(String, String)>,
    /// What could not be proven when the description was derived.
    pub unproven: Vec<String>,
}

/// One processor socket of a board.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BoardSocket {
    /// Its number in slot labels and maps.
    pub number: u16,
    /// Label of its processor in listings.
    pub processor: Option<String>,
    /// Its channels.
    pub channels: Vec<BoardChannel>,
}

/// One channel.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BoardChannel {
    /// Its name within the socket.
    pub name: String,
    /// Its slots in the order in which they are filled.
    pub slots: Vec<String>,
}

/// Where a number comes from.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Source {
    /// A published source, by its key in the description.
    Published(String),
    /// Arithmetic on published rules.
    Derived,
    /// A habit of the trade that no source states.
    CommonPractice,
    /// Remembered, not verified: good for a note at most.
    #[default]
    Memory,
    /// Stated by whoever wrote the description, for example from a lid's diagram.
    Own,
}

impl Source {
    /// Whether a rule with this source may lead to a finding.
    pub fn binds(&self) -> bool {
        !matches!(self, Self::Memory)
    }
}

/// A value with its source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub source: Source,
}

/// Rules of a board.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rules {
    /// Memory generation.
    pub generation: Option<MemoryType>,
    /// Kinds of modules that may be fitted; empty where not stated.
    pub kinds: Vec<ModuleKind>,
    /// Largest module.
    pub largest_module: Option<Sourced<Bytes>>,
    /// Supply voltages that modules may have; empty where not stated.
    pub voltages: Vec<Millivolts>,
    /// Most ranks in one channel.
    pub ranks_per_channel: Option<Sourced<u8>>,
    /// Ranks for which a load-reduced module counts; `None`: its own ranks; 0: it does not count.
    pub load_reduced_counts: Option<Sourced<u8>>,
    /// Most modules of some kind or rank in one channel.
    pub channel_limits: Vec<ChannelLimit>,
    /// Kinds that must not be in one machine together.
    pub never_mix: Vec<Sourced<Vec<ModuleKind>>>,
    /// Whether a channel's slots must be filled from its first one on.
    pub first_slot_first: Option<Sourced<()>>,
    /// Whether, in one channel, modules with more ranks go first.
    pub most_ranks_first: Option<Sourced<()>>,
    /// How fast modules run by kind, ranks, number and voltage.
    pub speeds: Vec<SpeedRow>,
    /// Processors and the memory speed they allow.
    pub processors: Vec<ProcessorGrade>,
    /// Modes in which memory is mirrored or kept in reserve.
    pub modes: Vec<Sourced<NamedMode>>,
}

/// A limit on the number of modules in a channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelLimit {
    /// Kinds that it concerns; empty is all.
    pub kinds: Vec<ModuleKind>,
    /// Fewest ranks that it concerns.
    pub ranks_from: u8,
    /// Most modules in a channel.
    pub most: u8,
    /// Whether one such module limits every channel of its processor.
    pub whole_socket: bool,
    /// Its source.
    pub source: Source,
}

/// One row of a speed table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpeedRow {
    /// Processor family it holds for; `None` is all.
    pub family: Option<String>,
    /// Kinds; empty is all.
    pub kinds: Vec<ModuleKind>,
    /// Ranks of the module with the most ranks in the channel; empty is all.
    pub ranks: Vec<u8>,
    /// Modules in the channel; empty is all.
    pub modules: Vec<u8>,
    /// Slots per channel of the boards it holds for; empty is all.
    pub slots: Vec<u8>,
    /// Voltage the modules are made for; `None` is all.
    pub voltage: Option<Millivolts>,
    /// Rated speed of the modules; `None` is all.
    pub rated: Option<TransferRate>,
    /// The most they run at.
    pub most: TransferRate,
    /// The source says that they run no faster, not that they run that fast.
    pub ceiling: bool,
    /// Its source.
    pub source: Source,
}

/// Processors and what memory speed they allow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProcessorGrade {
    /// What finds it in the model text. The most specific one that matches counts; of several equally specific
    /// ones, all do.
    pub model: ModelPattern,
    /// Family, as speed rows name it.
    pub family: Option<String>,
    /// The memory speed it allows.
    pub most: Option<TransferRate>,
    /// Its source.
    pub source: Source,
}

impl Board {
    /// All channels with their sockets.
    pub fn channels(&self) -> impl Iterator<Item = (&BoardSocket, &BoardChannel)> {
        self.sockets.iter().flat_map(|socket| socket.channels.iter().map(move |channel| (socket, channel)))
    }

    /// All slots.
    pub fn slots(&self) -> impl Iterator<Item = &str> {
        self.channels().flat_map(|(_, channel)| channel.slots.iter().map(String::as_str))
    }

    /// The socket and channel of a slot, and its place in the order of filling, from 1.
    pub fn place(&self, slot: &str) -> Option<(&BoardSocket, &BoardChannel, usize)> {
        self.channels().find_map(|(socket, channel)| {
            channel.slots.iter().position(|name| name == slot).map(|at| (socket, channel, at + 1))
        })
    }

    /// A source's text by its key.
    pub fn source_text(&self, source: &Source) -> String {
        match source {
            Source::Published(key) => match self.sources.iter().find(|(name, _)| name == key) {
                Some((_, text)) => text.clone(),
                None => key.clone(),
            },
            Source::Derived => "derived from published rules".to_owned(),
            Source::CommonPractice => "common practice, no source".to_owned(),
            Source::Memory => "from memory, unverified".to_owned(),
            Source::Own => "this board's description".to_owned(),
        }
    }
}
