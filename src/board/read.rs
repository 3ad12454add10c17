//! From YAML to a board. The forms below are the file's shape; nothing else knows them.

use serde::Deserialize;

use super::{
    Board, BoardChannel, BoardSocket, ChannelLimit, ProcessorGrade, Rules, Source, Sourced, SpeedRow, library,
};
use crate::population::identity::collapse;
use crate::population::{MODULE_KINDS, ModuleKind};
use crate::records::enums::{MEMORY_TYPES, MemoryType};
use crate::units::{Bytes, Millivolts, TransferRate};
use crate::yaml::{self, FileError, Many, did_you_mean};

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted board"))]
/// Sockets, channels, slots and rules of one board.
struct BoardForm {
    /// Name of the board.
    board: Option<String>,
    /// Platform class of the library whose rules hold, for example `ddr3-2x3x3`.
    class: Option<String>,
    /// A sentence about it.
    about: Option<String>,
    /// Memory generation, for example `DDR3`.
    generation: Option<String>,
    /// Colour of each channel's first slot.
    first_slot_colour: Option<String>,
    /// Set to false where the order of slots within a channel is not known.
    order_known: Option<bool>,
    /// Sockets with placeholder labels, for a class or a sketch.
    layout: Option<LayoutForm>,
    /// Sockets with their channels and slots.
    sockets: Vec<SocketForm>,
    /// Rules; those of the class hold where a key is left out.
    rules: RulesForm,
    /// Texts of the sources that rules name.
    sources: Option<SourcesForm>,
    /// What could not be proved; a note to whoever completes the description.
    unproven: Many,
}

/// Sources by key; a list of pairs, so that a key cannot stand twice unnoticed.
type SourcesForm = Vec<SourceForm>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One source.
struct SourceForm {
    /// The key that rules name.
    key: String,
    /// Title, page, place.
    text: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A regular layout; labels are made up.
struct LayoutForm {
    /// Number of sockets.
    sockets: u16,
    /// Channels per socket.
    channels: u8,
    /// Slots per channel.
    slots: u8,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One processor socket.
struct SocketForm {
    /// Its number.
    socket: u16,
    /// Label of its processor in listings.
    #[serde(default)]
    processor: Option<String>,
    /// Its channels.
    channels: Vec<ChannelForm>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One channel.
struct ChannelForm {
    /// Its name within the socket.
    channel: String,
    /// Its slots in the order in which they are filled.
    slots: Many,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// What may be fitted and how fast it runs.
struct RulesForm {
    /// Kinds of modules that may be fitted.
    kinds: Many,
    /// Supply voltages that modules may have.
    voltages: Many,
    /// Largest module.
    largest_module: Option<SizeForm>,
    /// Most ranks in one channel.
    ranks_per_channel: Option<RanksForm>,
    /// Ranks for which a load-reduced module counts; 0 if it does not count.
    load_reduced_counts: Option<RanksForm>,
    /// Most modules of some kind or rank in one channel.
    channel_limits: Vec<LimitForm>,
    /// Kinds that must not be in one machine.
    never_mix: Vec<MixForm>,
    /// Channels are filled from their first slot on.
    first_slot_first: Option<OnlySourceForm>,
    /// In one channel, modules with more ranks go first.
    most_ranks_first: Option<OnlySourceForm>,
    /// Speed table.
    speeds: Vec<SpeedForm>,
    /// Processors and the memory speed they allow.
    processors: Vec<ProcessorForm>,
    /// Modes in which memory is mirrored or kept in reserve.
    modes: Vec<ModeForm>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A size with its source.
struct SizeForm {
    /// The size, for example `32 GiB`.
    size: String,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A number of ranks with its source.
struct RanksForm {
    /// The number.
    ranks: u8,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A rule without a number.
struct OnlySourceForm {
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A limit on the number of modules in a channel.
struct LimitForm {
    /// Kinds that it concerns; left out is all.
    #[serde(default)]
    kinds: Many,
    /// Fewest ranks that it concerns; left out is all.
    #[serde(default)]
    ranks_from: Option<u8>,
    /// Most modules in a channel.
    most: u8,
    /// One such module limits every channel of its processor.
    #[serde(default)]
    whole_socket: bool,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Kinds that must not be in one machine.
struct MixForm {
    /// The kinds.
    kinds: Many,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One row of the speed table; what is left out matches everything.
struct SpeedForm {
    /// Processor family.
    #[serde(default)]
    family: Option<String>,
    /// Kinds of modules.
    #[serde(default)]
    kinds: Many,
    /// Ranks of the module with the most ranks in the channel.
    #[serde(default)]
    ranks: Vec<u8>,
    /// Modules in the channel.
    #[serde(default)]
    modules: Vec<u8>,
    /// Slots per channel of the boards it holds for.
    #[serde(default)]
    slots: Vec<u8>,
    /// The source says that they run no faster, not that they run that fast.
    #[serde(default)]
    ceiling: bool,
    /// Voltage the modules are made for.
    #[serde(default)]
    voltage: Option<String>,
    /// Rated speed of the modules in MT/s.
    #[serde(default)]
    rated: Option<u32>,
    /// The most they run at, in MT/s.
    most: u32,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Processors and the memory speed they allow.
struct ProcessorForm {
    /// Regular expression that finds it in the processor's model text.
    model: String,
    /// Family, as speed rows name it.
    #[serde(default)]
    family: Option<String>,
    /// The memory speed they allow, in MT/s.
    #[serde(default)]
    most: Option<u32>,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A mode of the memory.
struct ModeForm {
    /// Its name, for example `mirroring`.
    mode: String,
    /// Its source.
    #[serde(default)]
    source: Option<String>,
}

/// The JSON Schema of board descriptions, for editors.
#[cfg(feature = "schema")]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(BoardForm).to_value()
}

/// Reads and checks a board description.
///
/// # Errors
/// [`FileError`] with the line, what was found, what was expected and what to do.
pub fn read(file: &str, text: &str) -> Result<Board, FileError> {
    let board = read_any(file, text)?;
    if board.sockets.is_empty() {
        let source = source_of(file, text);
        let advice =
            "Write each socket's channels with their slots in the order of filling, or name a `class`.";
        return Err(source.error(None, "no sockets", "`sockets`, `layout` or `class`", advice));
    }
    Ok(board)
}

fn source_of<'t>(file: &'t str, text: &'t str) -> yaml::Source<'t> {
    yaml::Source { file, text, what: "a board description in YAML", page: "docs/boards.md" }
}

/// Reads a description that may have no sockets, such as the rules of a family of classes.
pub(super) fn read_any(file: &str, text: &str) -> Result<Board, FileError> {
    let source = source_of(file, text);
    let form: BoardForm = source.read()?;
    let mut keys: Vec<(String, String)> = Vec::new();
    for entry in form.sources.unwrap_or_default() {
        if keys.iter().any(|(key, _)| *key == entry.key) {
            let line = source.lines_with(&entry.key).nth(1);
            return Err(source.error(
                line,
                format!("source `{}` twice", entry.key),
                "each key once",
                "Rename one.",
            ));
        }
        keys.push((entry.key, entry.text));
    }
    let class = form.class.as_deref().map(|name| known_class(&source, name)).transpose()?;
    let reader = Reader { source, keys: &keys };
    let mut rules = reader.rules(form.rules)?;
    rules.generation = form.generation.as_deref().map(|text| reader.generation(text)).transpose()?;
    let sockets = match (&form.layout, form.sockets.is_empty()) {
        (Some(layout), true) => library::layout(layout.sockets, layout.channels, layout.slots),
        (None, _) => reader.sockets(form.sockets)?,
        (Some(_), false) => {
            let found = "both `layout` and `sockets`";
            return Err(source.error(source.line_of("layout"), found, "one of them", "Remove `layout`."));
        }
    };
    let mut board = Board {
        name: form.board.unwrap_or_else(|| file.to_owned()),
        class: form.class,
        about: form.about,
        sockets,
        first_slot_colour: form.first_slot_colour,
        order_known: form.order_known.unwrap_or(true),
        rules,
        sources: keys.clone(),
        unproven: form.unproven.0,
    };
    if let Some(class) = class {
        inherit(&mut board, class);
    }
    Ok(board)
}

fn known_class(source: &yaml::Source<'_>, name: &str) -> Result<Board, FileError> {
    library::class(name).ok_or_else(|| {
        let names = library::CLASSES.iter().map(|class| class.name);
        let expected = format!("one of {}", names.clone().collect::<Vec<_>>().join(", "));
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

struct Reader<'t> {
    source: yaml::Source<'t>,
    keys: &'t [(String, String)],
}

impl Reader<'_> {
    fn sockets(&self, forms: Vec<SocketForm>) -> Result<Vec<BoardSocket>, FileError> {
        let mut sockets: Vec<BoardSocket> = Vec::new();
        let mut seen: Vec<String> = Vec::new();
        for form in forms {
            if sockets.iter().any(|socket| socket.number == form.socket) {
                let found = format!("socket {} twice", form.socket);
                return Err(self.source.error(
                    self.source.line_of("socket"),
                    found,
                    "each socket once",
                    "Renumber one.",
                ));
            }
            let mut channels: Vec<BoardChannel> = Vec::new();
            for channel in form.channels {
                let slots: Vec<String> =
                    channel.slots.0.iter().map(|name| collapse(name).into_owned()).collect();
                if slots.is_empty() || channels.iter().any(|other| other.name == channel.channel) {
                    let found = format!(
                        "channel `{}` without slots, or twice in socket {}",
                        channel.channel, form.socket
                    );
                    let line = self.source.line_of(&channel.channel);
                    return Err(self.source.error(
                        line,
                        found,
                        "each channel once, with its slots",
                        "Correct it.",
                    ));
                }
                for slot in &slots {
                    if seen.contains(slot) {
                        let line = self.source.lines_with(slot).nth(1);
                        let advice = "A slot belongs to one channel; keep one of the two.";
                        return Err(self.source.error(
                            line,
                            format!("slot `{slot}` twice"),
                            "each slot once",
                            advice,
                        ));
                    }
                    seen.push(slot.clone());
                }
                channels.push(BoardChannel { name: channel.channel, slots });
            }
            sockets.push(BoardSocket { number: form.socket, processor: form.processor, channels });
        }
        Ok(sockets)
    }

    fn rules(&self, form: RulesForm) -> Result<Rules, FileError> {
        let ranks = |form: Option<RanksForm>| -> Result<Option<Sourced<u8>>, FileError> {
            form.map(|form| Ok(Sourced { value: form.ranks, source: self.origin(form.source.as_deref())? }))
                .transpose()
        };
        let only = |form: Option<OnlySourceForm>| -> Result<Option<Sourced<()>>, FileError> {
            form.map(|form| Ok(Sourced { value: (), source: self.origin(form.source.as_deref())? }))
                .transpose()
        };
        let largest_module = match form.largest_module {
            Some(form) => {
                let value = Bytes::parse(&form.size).filter(|size| size.is_plausible());
                let value =
                    value.ok_or_else(|| self.source.bad(&form.size, "size", "a size such as `32 GiB`"))?;
                Some(Sourced { value, source: self.origin(form.source.as_deref())? })
            }
            None => None,
        };
        Ok(Rules {
            generation: None,
            kinds: self.kinds(&form.kinds)?,
            largest_module,
            voltages: form.voltages.0.iter().map(|text| self.voltage(text)).collect::<Result<_, _>>()?,
            ranks_per_channel: ranks(form.ranks_per_channel)?,
            load_reduced_counts: ranks(form.load_reduced_counts)?,
            channel_limits: form
                .channel_limits
                .into_iter()
                .map(|form| self.limit(&form))
                .collect::<Result<_, _>>()?,
            never_mix: form
                .never_mix
                .into_iter()
                .map(|form| {
                    Ok(Sourced {
                        value: self.kinds(&form.kinds)?,
                        source: self.origin(form.source.as_deref())?,
                    })
                })
                .collect::<Result<_, FileError>>()?,
            first_slot_first: only(form.first_slot_first)?,
            most_ranks_first: only(form.most_ranks_first)?,
            speeds: form.speeds.into_iter().map(|form| self.speed(form)).collect::<Result<_, _>>()?,
            processors: form
                .processors
                .into_iter()
                .map(|form| self.processor(form))
                .collect::<Result<_, _>>()?,
            modes: form
                .modes
                .into_iter()
                .map(|form| Ok(Sourced { value: form.mode, source: self.origin(form.source.as_deref())? }))
                .collect::<Result<_, FileError>>()?,
        })
    }

    fn limit(&self, form: &LimitForm) -> Result<ChannelLimit, FileError> {
        Ok(ChannelLimit {
            kinds: self.kinds(&form.kinds)?,
            ranks_from: form.ranks_from.unwrap_or(1),
            most: form.most,
            whole_socket: form.whole_socket,
            source: self.origin(form.source.as_deref())?,
        })
    }

    fn speed(&self, form: SpeedForm) -> Result<SpeedRow, FileError> {
        Ok(SpeedRow {
            family: form.family,
            kinds: self.kinds(&form.kinds)?,
            ranks: form.ranks,
            modules: form.modules,
            slots: form.slots,
            ceiling: form.ceiling,
            voltage: form.voltage.as_deref().map(|text| self.voltage(text)).transpose()?,
            rated: form.rated.map(|rate| self.rate(rate, "rated")).transpose()?,
            most: self.rate(form.most, "most")?,
            source: self.origin(form.source.as_deref())?,
        })
    }

    fn processor(&self, form: ProcessorForm) -> Result<ProcessorGrade, FileError> {
        if form.model.is_empty() || regex::Regex::new(&form.model).is_err() {
            return Err(self.source.bad(
                &form.model,
                "model",
                "a regular expression such as `X56` or `E5-26\\d\\d v3`",
            ));
        }
        Ok(ProcessorGrade {
            model: form.model,
            family: form.family,
            most: form.most.map(|rate| self.rate(rate, "most")).transpose()?,
            source: self.origin(form.source.as_deref())?,
        })
    }

    fn generation(&self, text: &str) -> Result<MemoryType, FileError> {
        let known = MEMORY_TYPES.iter().find(|(_, name)| name.eq_ignore_ascii_case(text));
        known
            .map(|(code, _)| MemoryType(*code))
            .filter(|t| !t.says_nothing() && !t.is_general())
            .ok_or_else(|| self.source.bad(text, "generation", "a generation such as `DDR4`"))
    }

    fn kinds(&self, names: &Many) -> Result<Vec<ModuleKind>, FileError> {
        names
            .0
            .iter()
            .map(|name| {
                ModuleKind::parse(name).ok_or_else(|| {
                    let known = MODULE_KINDS.iter().map(|(_, name)| *name).collect::<Vec<_>>().join(", ");
                    self.source.bad(name, "kinds", &format!("one of {known}"))
                })
            })
            .collect()
    }

    fn voltage(&self, text: &str) -> Result<Millivolts, FileError> {
        Millivolts::parse(text)
            .filter(|voltage| voltage.is_plausible())
            .ok_or_else(|| self.source.bad(text, "voltage", "a voltage such as `1.35 V`"))
    }

    fn rate(&self, rate: u32, key: &str) -> Result<TransferRate, FileError> {
        Some(TransferRate(rate))
            .filter(|rate| rate.is_plausible())
            .ok_or_else(|| self.source.bad(&rate.to_string(), key, "a speed in MT/s such as `1333`"))
    }

    fn origin(&self, key: Option<&str>) -> Result<Source, FileError> {
        Ok(match key {
            None => Source::Own,
            Some("memory") => Source::Memory,
            Some("derived") => Source::Derived,
            Some("common practice") => Source::CommonPractice,
            Some(key) if self.keys.iter().any(|(name, _)| name == key) => Source::Published(key.to_owned()),
            Some(key) => {
                let known: Vec<&str> = self.keys.iter().map(|(name, _)| name.as_str()).collect();
                let expected =
                    format!("`memory`, `derived`, `common practice`, or one of {}", known.join(", "));
                let advice =
                    "Add it under `sources`, or leave `source` out for what the board's own maker says.";
                return Err(self.source.error(
                    self.source.line_of(key),
                    format!("source `{key}`"),
                    expected,
                    advice,
                ));
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
