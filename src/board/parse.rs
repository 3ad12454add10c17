//! From YAML to a board as its own file describes it, without what a class lends it.

use super::description::{
    Board, BoardChannel, BoardSocket, ChannelLimit, ProcessorGrade, Rules, Source, Sourced, SpeedRow,
};
use super::forms::{
    BoardForm, LimitForm, OnlySourceForm, ProcessorForm, RanksForm, RulesForm, SizeForm, SocketForm,
    SourcesForm, SpeedForm,
};
use super::layout::layout;
use super::model_pattern::ModelPattern;
use crate::base::words::comma_list;
use crate::plan::NamedMode;
use crate::population::ModuleKind;
use crate::population::identity::collapse;
use crate::records::enums::{MEMORY_TYPES, MemoryType};
use crate::units::{Bytes, Millivolts, TransferRate};
use crate::yaml::{self, FileError, Many};

/// A description whose keys are read and whose values are not yet.
///
/// In between, its class is looked up, so that an unknown class is named before errors in rules that may follow
/// from it.
pub(super) struct Description<'t> {
    form: BoardForm,
    reader: Reader<'t>,
}

impl<'t> Description<'t> {
    /// Reads the keys.
    pub(super) fn open(file: &'t str, text: &'t str) -> Result<Self, FileError> {
        let source = yaml::Source { file, text, what: "a board description in YAML", page: "docs/boards.md" };
        let mut form: BoardForm = source.read()?;
        let keys = source_keys(&source, form.sources.take().unwrap_or_default())?;
        Ok(Self { form, reader: Reader { source, keys } })
    }

    /// The file, for errors.
    pub(super) fn source(&self) -> yaml::Source<'t> {
        self.reader.source
    }

    /// The class that it names.
    pub(super) fn class(&self) -> Option<&str> {
        self.form.class.as_deref()
    }

    /// The board; it may have no sockets, such as the rules of a family of classes.
    pub(super) fn board(self) -> Result<Board, FileError> {
        let Self { form, reader } = self;
        let mut rules = reader.rules(form.rules)?;
        rules.generation = form.generation.as_deref().map(|text| reader.generation(text)).transpose()?;
        let sockets = match (&form.layout, form.sockets.is_empty()) {
            (Some(form), true) => layout(form.sockets, form.channels, form.slots),
            (None, _) => reader.sockets(form.sockets)?,
            (Some(_), false) => {
                let line = reader.source.line_of("layout");
                let found = "both `layout` and `sockets`";
                return Err(reader.source.error(line, found, "one of them", "Remove `layout`."));
            }
        };
        Ok(Board {
            name: form.board.unwrap_or_else(|| reader.source.file.to_owned()),
            class: form.class,
            about: form.about,
            sockets,
            first_slot_colour: form.first_slot_colour,
            order_known: form.order_known.unwrap_or(true),
            rules,
            sources: reader.keys,
            unproven: form.unproven.0,
        })
    }
}

/// Sources by their keys.
fn source_keys(source: &yaml::Source<'_>, forms: SourcesForm) -> Result<Vec<(String, String)>, FileError> {
    let mut keys: Vec<(String, String)> = Vec::new();
    for entry in forms {
        if keys.iter().any(|(key, _)| *key == entry.key) {
            let line = source.lines_with(&entry.key).nth(1);
            let found = format!("source `{}` twice", entry.key);
            return Err(source.error(line, found, "each key once", "Rename one."));
        }
        keys.push((entry.key, entry.text));
    }
    Ok(keys)
}

/// What `read` makes of each item, or its first error.
fn each<T, U>(items: Vec<T>, read: impl FnMut(T) -> Result<U, FileError>) -> Result<Vec<U>, FileError> {
    items.into_iter().map(read).collect()
}

/// Reads values, with what errors about them need.
struct Reader<'t> {
    source: yaml::Source<'t>,
    /// Sources by their keys.
    keys: Vec<(String, String)>,
}

impl Reader<'_> {
    fn sockets(&self, forms: Vec<SocketForm>) -> Result<Vec<BoardSocket>, FileError> {
        let mut sockets: Vec<BoardSocket> = Vec::new();
        let mut seen: Vec<String> = Vec::new();
        for form in forms {
            if sockets.iter().any(|socket| socket.number == form.socket) {
                let line = self.source.line_of("socket");
                let found = format!("socket {} twice", form.socket);
                return Err(self.source.error(line, found, "each socket once", "Renumber one."));
            }
            let mut channels: Vec<BoardChannel> = Vec::new();
            for channel in form.channels {
                let slots = channel.slots.0.iter().map(|name| collapse(name).into_owned()).collect();
                let channel = BoardChannel { name: channel.channel, slots };
                if channel.slots.is_empty() || channels.iter().any(|other| other.name == channel.name) {
                    let line = self.source.line_of(&channel.name);
                    let found = format!(
                        "channel `{}` without slots, or twice in socket {}",
                        channel.name, form.socket
                    );
                    return Err(self.source.error(
                        line,
                        found,
                        "each channel once, with its slots",
                        "Correct it.",
                    ));
                }
                self.only_once(&channel.slots, &mut seen)?;
                channels.push(channel);
            }
            sockets.push(BoardSocket { number: form.socket, processor: form.processor, channels });
        }
        Ok(sockets)
    }

    /// A slot belongs to one channel: `seen` holds those of the channels before.
    fn only_once(&self, slots: &[String], seen: &mut Vec<String>) -> Result<(), FileError> {
        for slot in slots {
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
        Ok(())
    }

    fn rules(&self, form: RulesForm) -> Result<Rules, FileError> {
        let ranks = |form: Option<RanksForm>| {
            form.map(|form| self.sourced(form.ranks, form.source.as_deref())).transpose()
        };
        let only = |form: Option<OnlySourceForm>| {
            form.map(|form| self.sourced((), form.source.as_deref())).transpose()
        };
        let largest_module = form.largest_module.map(|form| self.largest_module(&form)).transpose()?;
        Ok(Rules {
            generation: None,
            kinds: self.kinds(&form.kinds)?,
            largest_module,
            voltages: each(form.voltages.0, |text| self.voltage(&text))?,
            ranks_per_channel: ranks(form.ranks_per_channel)?,
            load_reduced_counts: ranks(form.load_reduced_counts)?,
            channel_limits: each(form.channel_limits, |form| self.limit(&form))?,
            never_mix: each(form.never_mix, |form| {
                self.sourced(self.kinds(&form.kinds)?, form.source.as_deref())
            })?,
            first_slot_first: only(form.first_slot_first)?,
            most_ranks_first: only(form.most_ranks_first)?,
            speeds: each(form.speeds, |form| self.speed(form))?,
            processors: each(form.processors, |form| self.processor(form))?,
            modes: each(form.modes, |form| self.sourced(NamedMode::new(form.mode), form.source.as_deref()))?,
        })
    }

    fn sourced<T>(&self, value: T, key: Option<&str>) -> Result<Sourced<T>, FileError> {
        Ok(Sourced { value, source: self.origin(key)? })
    }

    fn largest_module(&self, form: &SizeForm) -> Result<Sourced<Bytes>, FileError> {
        let value = Bytes::parse(&form.size)
            .filter(|size| size.is_plausible())
            .ok_or_else(|| self.source.bad(&form.size, "size", "a size such as `32 GiB`"))?;
        self.sourced(value, form.source.as_deref())
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
        let model = ModelPattern::new(&form.model).ok_or_else(|| {
            let expected = "a regular expression such as `X56` or `E5-26\\d\\d v3`";
            self.source.bad(&form.model, "model", expected)
        })?;
        Ok(ProcessorGrade {
            model,
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
                    let known = comma_list(ModuleKind::WORDS.iter().map(|(_, name)| name));
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
                let known = comma_list(self.keys.iter().map(|(name, _)| name));
                let expected = format!("`memory`, `derived`, `common practice`, or one of {known}");
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
