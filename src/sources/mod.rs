//! Sources of evidence other than the SMBIOS listing: the operating system and the management controller.
//!
//! A stage beside the records: each source is read as it states things, with the line of every statement, and
//! compared with nothing. Which source a text is, is recognised by its content.
//!
//! Everything about one source is in its own file, which has a `READER`; `reader` is the table of them.

mod edac;
mod events;
mod kernel;
mod meminfo;
mod redfish;

pub use edac::{ChipRow, Controller, Counted, Edac};
pub use events::{EventCode, EventInfo, EventKind, EventLog, MemoryEvent, Weight};
pub use kernel::{CommandLine, Parameter, ParameterKind};
pub use meminfo::{Meminfo, usual_reservation};
pub use redfish::{Redfish, Resource, State, StateInfo};

use thiserror::Error;

use crate::evidence::{SectionKind, Source, Text};

/// All sources of evidence that were given with the listing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sources {
    /// `/proc/meminfo`.
    pub meminfo: Option<Meminfo>,
    /// The kernel's command line.
    pub command_line: Option<CommandLine>,
    /// The kernel's error counters.
    pub edac: Option<Edac>,
    /// The management controller's event log.
    pub events: Option<EventLog>,
    /// The management controller's memory resources.
    pub redfish: Option<Redfish>,
    /// Whether a capture was cut off, or has a section that cannot be read: what it would have stated is not known.
    pub cut: bool,
    /// What a capture could not read when it was taken, and what that hides.
    pub not_read: Vec<String>,
}

/// How one source is named, recognised, read and captured: the row of a source in the table of readers.
pub(crate) struct Reader {
    /// What a file of it is, among those that are expected in place of an unknown one.
    pub(crate) expected: &'static str,
    /// What it is called in the help of `--with`; `None` leaves it out there.
    #[cfg_attr(not(feature = "cli"), expect(dead_code, reason = "the help is the command's"))]
    pub(crate) help: Option<&'static str>,
    /// What a second one is called, where there can be only one; `None` where several add up.
    once: Option<&'static str>,
    /// Whether the source is among these.
    is_in: fn(&Sources) -> bool,
    /// Reads a text with the number of its first line; `None` where it is not this source.
    read: Read,
    /// How a file that may be any source is known to be this one.
    recognise: Recognise,
    /// The part of a capture that holds it; `None` where no file of the system does.
    pub(crate) part: Option<Part>,
}

/// Gives sources of which only the one that was read is there.
type Read = fn(&str, u32) -> Option<Sources>;

enum Recognise {
    /// By reading it: a text of anything else gives nothing.
    ByReading,
    /// By this, and only where no other source is recognised, since a text of its form may be anything.
    Last(Read),
}

/// One part of a capture: where a running system keeps it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    /// Its section.
    pub(crate) section: SectionKind,
    /// The file or folder it is read from, relative to the root.
    pub(crate) path: &'static str,
    /// How that is read.
    pub(crate) form: PartForm,
    /// What stays hidden without it.
    pub(crate) hides: &'static str,
    /// Whether an ordinary server has it; what is missing elsewhere is no reason for a warning.
    pub(crate) usual: bool,
}

/// How a part of a capture is read.
#[derive(Debug, Clone, Copy)]
pub(crate) enum PartForm {
    /// The SMBIOS table, which becomes its text form.
    Table,
    /// A folder with a file for each name of the machine.
    Names,
    /// Folders of error counters, one file each.
    Counters,
    /// One file, taken as it is, or redacted: without what distinguishes one machine from others of its kind.
    File {
        /// The text without that.
        redacted: fn(&str) -> String,
    },
}

/// The table of readers; `None` for the listing, which the records are read from.
pub(crate) const fn reader(source: Source) -> Option<&'static Reader> {
    match source {
        Source::Listing => None,
        Source::Meminfo => Some(&meminfo::READER),
        Source::CommandLine => Some(&kernel::READER),
        Source::Edac => Some(&edac::READER),
        Source::Events => Some(&events::READER),
        Source::Redfish => Some(&redfish::READER),
    }
}

/// All readers, in the order of the sources.
pub(crate) fn readers() -> impl Iterator<Item = &'static Reader> {
    Source::ALL.iter().copied().filter_map(reader)
}

/// Why a file cannot be taken as a source of evidence.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SourceError {
    /// Nothing in it is known.
    #[error("{name}: line 1: found {found}, expected {} or a capture. Check the file", expected())]
    Unknown {
        /// The file.
        name: String,
        /// How it starts.
        found: String,
    },
    /// There is one of its kind already.
    #[error("{name}: line 1: found a second {what}, expected one. Leave one out")]
    Twice {
        /// The file.
        name: String,
        /// The kind of source.
        what: &'static str,
    },
}

fn expected() -> String {
    readers().map(|reader| reader.expected).collect::<Vec<_>>().join(", ")
}

impl Sources {
    /// The sources inside a capture; none for a plain listing.
    pub fn of_capture(text: &Text) -> Self {
        let mut sources = Self::default();
        let Some(capture) = &text.capture else { return sources };
        sources.cut = !capture.is_whole;
        sources.not_read = capture.not_read.clone();
        for section in &capture.sections {
            let Some(reader) = section.kind.info().source.and_then(reader) else { continue };
            match (reader.read)(&section.body, section.first_line) {
                Some(read) => sources.join(read),
                None => sources.cut |= !section.body.trim().is_empty(),
            }
        }
        sources
    }

    /// Adds every source in `text`, whichever they are. Event logs and Redfish resources add up; of the others there
    /// can be one.
    ///
    /// # Errors
    /// [`SourceError`] where the text is none that is known, or one that there is already.
    pub fn add(&mut self, text: &Text) -> Result<(), SourceError> {
        let body = text.as_str();
        let other = if text.capture.is_some() { Self::of_capture(text) } else { Self::recognised(body) };
        if other.is_empty() && text.capture.is_none() {
            let first = body.lines().map(str::trim).find(|line| !line.is_empty()).unwrap_or("nothing");
            let found = first.chars().take(60).collect();
            return Err(SourceError::Unknown { name: text.name().to_owned(), found });
        }
        let mut twice = readers().filter(|reader| (reader.is_in)(self) && (reader.is_in)(&other));
        if let Some(what) = twice.find_map(|reader| reader.once) {
            return Err(SourceError::Twice { name: text.name().to_owned(), what });
        }
        self.join(other);
        Ok(())
    }

    /// The sources in a text that may be any of them, or several.
    fn recognised(body: &str) -> Self {
        let mut sources = Self::default();
        for reader in readers() {
            if matches!(reader.recognise, Recognise::ByReading)
                && let Some(read) = (reader.read)(body, 1)
            {
                sources.join(read);
            }
        }
        if !sources.is_empty() {
            return sources;
        }
        for reader in readers() {
            if let Recognise::Last(recognise) = reader.recognise
                && let Some(read) = recognise(body, 1)
            {
                sources.join(read);
            }
        }
        sources
    }

    /// Takes over what `other` has: what is there already stays, logs and resources add up.
    pub fn join(&mut self, other: Self) {
        let Self { meminfo, command_line, edac, events, redfish, cut, not_read } = other;
        self.meminfo = self.meminfo.take().or(meminfo);
        self.command_line = self.command_line.take().or(command_line);
        self.edac = self.edac.take().or(edac);
        if let Some(log) = events {
            self.events.get_or_insert_default().append(log);
        }
        if let Some(redfish) = redfish {
            self.redfish.get_or_insert_default().append(redfish);
        }
        self.cut |= cut;
        self.not_read.extend(not_read);
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Lines of a text with their numbers, counted from `first`.
fn numbered(text: &str, first: u32) -> impl Iterator<Item = (u32, &str)> {
    (first..).zip(text.lines().map(str::trim))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(body: &str) -> Text {
        Text::from_bytes("file", body.as_bytes().to_vec()).unwrap()
    }

    /// The smallest file of each source.
    fn example(source: Source) -> Option<&'static str> {
        match source {
            Source::Listing => None,
            Source::Meminfo => Some("MemTotal:       32858820 kB\nMemFree: 1 kB\n"),
            Source::CommandLine => Some("BOOT_IMAGE=/vmlinuz root=/dev/sda1 mem=16G\n"),
            Source::Edac => Some("/sys/devices/system/edac/mc/mc0/dimm0/size:16384\n"),
            Source::Events => Some("04 00 02 10 20 30 40 20 00 04 0c 53 6f 04 ff 02\n"),
            Source::Redfish => Some("{\"CapacityMiB\": 16384, \"Status\": {\"State\": \"Enabled\"}}\n"),
        }
    }

    /// Every source with its reader and its example, which its reader reads and `join` takes over.
    fn examples() -> impl Iterator<Item = (Source, &'static Reader, &'static str)> {
        Source::ALL.iter().filter_map(|source| {
            let (reader, body) = (reader(*source)?, example(*source)?);
            let read = (reader.read)(body, 1);
            let read = read.unwrap_or_else(|| panic!("{source:?}: its reader gives nothing for its example"));
            assert!((reader.is_in)(&read), "{source:?}: `read` and `is_in` of its reader differ");
            let mut joined = Sources::default();
            joined.join(read);
            assert!((reader.is_in)(&joined), "{source:?}: `Sources::join` leaves it out");
            Some((*source, reader, body))
        })
    }

    /// Which sources are there.
    fn there(sources: &Sources) -> Vec<Source> {
        let is_there = |source: &Source| reader(*source).is_some_and(|reader| (reader.is_in)(sources));
        Source::ALL.iter().copied().filter(is_there).collect()
    }

    #[test]
    fn each_source_is_recognised_by_its_content_alone() {
        for (source, _, body) in examples() {
            let mut sources = Sources::default();
            sources.add(&text(body)).unwrap();
            assert_eq!(there(&sources), [source], "{body}");
        }
        let error = Sources::default().add(&text("a letter\nto someone\n")).unwrap_err().to_string();
        assert!(
            error.contains("file: line 1: found a letter") && error.contains("Check the file"),
            "{error}"
        );
    }

    #[test]
    fn of_each_source_there_is_one_or_they_add_up() {
        let mut all = Sources::default();
        for (_, _, body) in examples() {
            all.add(&text(body)).unwrap();
        }
        assert_eq!(there(&all), Source::ALL[1..]);
        for (source, reader, body) in examples() {
            let second = all.clone().add(&text(body));
            match reader.once {
                Some(what) => {
                    assert_eq!(second, Err(SourceError::Twice { name: "file".to_owned(), what }));
                }
                None => assert!(second.is_ok(), "{source:?}"),
            }
        }
    }

    /// What is captured is read again from its section, and from no other.
    #[test]
    fn sections_of_a_capture_are_read() {
        for (source, reader, body) in examples() {
            let section = SectionKind::ALL.iter().find(|kind| kind.info().source == Some(source));
            if let Some(part) = reader.part {
                assert_eq!(Some(&part.section), section, "{source:?}: its part names another section");
            }
            let Some(section) = section else { continue };
            let capture = format!("asfitted capture 1\n\n[{}]\n{body}\n[end]\n", section.name());
            let sources = Sources::of_capture(&text(&capture));
            assert_eq!((there(&sources), sources.cut), (vec![source], false));
        }
    }
}
