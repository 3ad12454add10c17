//! The shape of a board's file. Only the reader knows it.

use serde::Deserialize;

use crate::yaml::Many;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted board"))]
/// Sockets, channels, slots and rules of one board.
pub(super) struct BoardForm {
    /// Name of the board.
    pub(super) board: Option<String>,
    /// Platform class of the library whose rules hold, for example `ddr3-2x3x3`.
    pub(super) class: Option<String>,
    /// A sentence about it.
    pub(super) about: Option<String>,
    /// Memory generation, for example `DDR3`.
    pub(super) generation: Option<String>,
    /// Colour of each channel's first slot.
    pub(super) first_slot_colour: Option<String>,
    /// Set to false where the order of slots within a channel is not known.
    pub(super) order_known: Option<bool>,
    /// Sockets with placeholder labels, for a class or a sketch.
    pub(super) layout: Option<LayoutForm>,
    /// Sockets with their channels and slots.
    pub(super) sockets: Vec<SocketForm>,
    /// Rules; those of the class hold where a key is left out.
    pub(super) rules: RulesForm,
    /// Texts of the sources that rules name.
    pub(super) sources: Option<SourcesForm>,
    /// What could not be proved; a note to whoever completes the description.
    pub(super) unproven: Many,
}

/// Sources by key; a list of pairs, so that a key cannot stand twice unnoticed.
pub(super) type SourcesForm = Vec<SourceForm>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One source.
pub(super) struct SourceForm {
    /// The key that rules name.
    pub(super) key: String,
    /// Title, page, place.
    pub(super) text: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A regular layout; labels are made up.
pub(super) struct LayoutForm {
    /// Number of sockets.
    pub(super) sockets: u16,
    /// Channels per socket.
    pub(super) channels: u8,
    /// Slots per channel.
    pub(super) slots: u8,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One processor socket.
pub(super) struct SocketForm {
    /// Its number.
    pub(super) socket: u16,
    /// Label of its processor in listings.
    #[serde(default)]
    pub(super) processor: Option<String>,
    /// Its channels.
    pub(super) channels: Vec<ChannelForm>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One channel.
pub(super) struct ChannelForm {
    /// Its name within the socket.
    pub(super) channel: String,
    /// Its slots in the order in which they are filled.
    pub(super) slots: Many,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// What may be fitted and how fast it runs.
pub(super) struct RulesForm {
    /// Kinds of modules that may be fitted.
    pub(super) kinds: Many,
    /// Supply voltages that modules may have.
    pub(super) voltages: Many,
    /// Largest module.
    pub(super) largest_module: Option<SizeForm>,
    /// Most ranks in one channel.
    pub(super) ranks_per_channel: Option<RanksForm>,
    /// Ranks for which a load-reduced module counts; 0 if it does not count.
    pub(super) load_reduced_counts: Option<RanksForm>,
    /// Most modules of some kind or rank in one channel.
    pub(super) channel_limits: Vec<LimitForm>,
    /// Kinds that must not be in one machine.
    pub(super) never_mix: Vec<MixForm>,
    /// Channels are filled from their first slot on.
    pub(super) first_slot_first: Option<OnlySourceForm>,
    /// In one channel, modules with more ranks go first.
    pub(super) most_ranks_first: Option<OnlySourceForm>,
    /// Speed table.
    pub(super) speeds: Vec<SpeedForm>,
    /// Processors and the memory speed they allow.
    pub(super) processors: Vec<ProcessorForm>,
    /// Modes in which memory is mirrored or kept in reserve.
    pub(super) modes: Vec<ModeForm>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A size with its source.
pub(super) struct SizeForm {
    /// The size, for example `32 GiB`.
    pub(super) size: String,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A number of ranks with its source.
pub(super) struct RanksForm {
    /// The number.
    pub(super) ranks: u8,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A rule without a number.
pub(super) struct OnlySourceForm {
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A limit on the number of modules in a channel.
pub(super) struct LimitForm {
    /// Kinds that it concerns; left out is all.
    #[serde(default)]
    pub(super) kinds: Many,
    /// Fewest ranks that it concerns; left out is all.
    #[serde(default)]
    pub(super) ranks_from: Option<u8>,
    /// Most modules in a channel.
    pub(super) most: u8,
    /// One such module limits every channel of its processor.
    #[serde(default)]
    pub(super) whole_socket: bool,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Kinds that must not be in one machine.
pub(super) struct MixForm {
    /// The kinds.
    pub(super) kinds: Many,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One row of the speed table; what is left out matches everything.
pub(super) struct SpeedForm {
    /// Processor family.
    #[serde(default)]
    pub(super) family: Option<String>,
    /// Kinds of modules.
    #[serde(default)]
    pub(super) kinds: Many,
    /// Ranks of the module with the most ranks in the channel.
    #[serde(default)]
    pub(super) ranks: Vec<u8>,
    /// Modules in the channel.
    #[serde(default)]
    pub(super) modules: Vec<u8>,
    /// Slots per channel of the boards it holds for.
    #[serde(default)]
    pub(super) slots: Vec<u8>,
    /// The source says that they run no faster, not that they run that fast.
    #[serde(default)]
    pub(super) ceiling: bool,
    /// Voltage the modules are made for.
    #[serde(default)]
    pub(super) voltage: Option<String>,
    /// Rated speed of the modules in MT/s.
    #[serde(default)]
    pub(super) rated: Option<u32>,
    /// The most they run at, in MT/s.
    pub(super) most: u32,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Processors and the memory speed they allow.
pub(super) struct ProcessorForm {
    /// Regular expression that finds it in the processor's model text.
    pub(super) model: String,
    /// Family, as speed rows name it.
    #[serde(default)]
    pub(super) family: Option<String>,
    /// The memory speed they allow, in MT/s.
    #[serde(default)]
    pub(super) most: Option<u32>,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A mode of the memory.
pub(super) struct ModeForm {
    /// Its name, for example `mirroring`.
    pub(super) mode: String,
    /// Its source.
    #[serde(default)]
    pub(super) source: Option<String>,
}

/// The JSON Schema of board descriptions, for editors.
#[cfg(feature = "schema")]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(BoardForm).to_value()
}
