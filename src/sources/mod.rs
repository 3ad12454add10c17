//! What others than the SMBIOS listing say about the memory: the operating system and the management
//! controller.
//!
//! A stage beside the records: each witness is read as it states things, with the line of every statement, and
//! compared with nothing. Which witness a text is, is recognised by its content.

mod edac;
mod events;
mod kernel;
mod meminfo;
mod redfish;

pub use edac::{Controller, Counted, Edac};
pub use events::{EVENT_KINDS, EventKind, EventLog, MemoryEvent, Weight};
pub use kernel::{CommandLine, Parameter, ParameterKind};
pub use meminfo::{Meminfo, usual_reservation};
pub use redfish::{Redfish, Resource, STATES, State};

use thiserror::Error;

use crate::evidence::{SectionKind, Text};

/// All witnesses that were given, besides the listing.
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
    /// Whether a capture was cut off, or has a section that cannot be read: what it would have said is not known.
    pub cut: bool,
    /// What a capture could not read when it was taken, and what that hides.
    pub not_read: Vec<String>,
}

/// Why a file cannot be taken as a witness.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SourceError {
    /// Nothing in it is known.
    #[error(
        "{name}: line 1: found {found}, expected /proc/meminfo, /proc/cmdline, the output of \
         `grep -r . /sys/devices/system/edac/mc`, an IPMI event log, Redfish memory resources or a \
         capture. Check the file"
    )]
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
        /// The kind of witness.
        what: &'static str,
    },
}

impl Sources {
    /// The witnesses inside a capture; none for a plain listing.
    pub fn of_capture(text: &Text) -> Self {
        let mut sources = Self::default();
        if let Some(capture) = &text.capture {
            sources.cut = !capture.is_whole;
            sources.not_read = capture.not_read.clone();
        }
        for section in text.capture.iter().flat_map(|capture| &capture.sections) {
            let (body, first) = (section.body.as_str(), section.first_line);
            match section.kind {
                SectionKind::Meminfo => sources.meminfo = meminfo::read(body, first),
                SectionKind::CommandLine => sources.command_line = kernel::read(body, first),
                SectionKind::Edac => sources.edac = edac::read(body, first),
                SectionKind::Events => sources.events = events::read(body, first),
                SectionKind::Listing | SectionKind::Table | SectionKind::Identity => continue,
            }
            let read = match section.kind {
                SectionKind::Meminfo => sources.meminfo.is_some(),
                SectionKind::CommandLine => sources.command_line.is_some(),
                SectionKind::Edac => sources.edac.is_some(),
                _ => sources.events.is_some(),
            };
            sources.cut |= !read && !body.trim().is_empty();
        }
        sources
    }

    /// Adds every witness in `text`, whichever they are. Event logs and Redfish resources add up; of the others there
    /// can be one.
    ///
    /// # Errors
    /// [`SourceError`] where the text is none that is known, or one that there is already.
    pub fn add(&mut self, text: &Text) -> Result<(), SourceError> {
        let body = text.as_str();
        let other = if text.capture.is_some() {
            Self::of_capture(text)
        } else {
            let mut other = Self {
                meminfo: meminfo::read(body, 1),
                command_line: None,
                edac: edac::read(body, 1),
                events: events::read(body, 1),
                redfish: redfish::read(body, 1),
                ..Self::default()
            };
            if other.is_empty() {
                other.command_line = kernel::recognise(body);
            }
            other
        };
        if other.is_empty() && text.capture.is_none() {
            let first = body.lines().map(str::trim).find(|line| !line.is_empty()).unwrap_or("nothing");
            let found = first.chars().take(60).collect();
            return Err(SourceError::Unknown { name: text.name().to_owned(), found });
        }
        for (twice, what) in [
            (self.meminfo.is_some() && other.meminfo.is_some(), "/proc/meminfo"),
            (self.command_line.is_some() && other.command_line.is_some(), "kernel command line"),
            (self.edac.is_some() && other.edac.is_some(), "set of error counters"),
        ] {
            if twice {
                return Err(SourceError::Twice { name: text.name().to_owned(), what });
            }
        }
        self.join(other);
        Ok(())
    }

    /// Takes over what `other` has: what is there already stays, logs and resources add up.
    pub fn join(&mut self, other: Self) {
        self.meminfo = self.meminfo.take().or(other.meminfo);
        self.command_line = self.command_line.take().or(other.command_line);
        self.edac = self.edac.take().or(other.edac);
        self.cut |= other.cut;
        self.not_read.extend(other.not_read);
        if let Some(log) = other.events {
            let own = self.events.get_or_insert_default();
            own.events.extend(log.events);
            own.others += log.others;
        }
        if let Some(redfish) = other.redfish {
            self.redfish.get_or_insert_default().modules.extend(redfish.modules);
        }
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

    #[test]
    fn sources_are_recognised_by_content() {
        let mut all = Sources::default();
        for body in [
            "MemTotal:       32858820 kB\nMemFree: 1 kB\n",
            "BOOT_IMAGE=/vmlinuz root=/dev/sda1 mem=16G\n",
            "/sys/devices/system/edac/mc/mc0/dimm0/size:16384\n",
            "04 00 02 10 20 30 40 20 00 04 0c 53 6f 04 ff 02\n",
        ] {
            all.add(&text(body)).unwrap();
        }
        assert!(all.meminfo.is_some() && all.command_line.is_some() && all.edac.is_some());
        assert_eq!(all.events.unwrap().events.len(), 1);
        let error = Sources::default().add(&text("a letter\nto someone\n")).unwrap_err().to_string();
        assert!(
            error.contains("file: line 1: found a letter") && error.contains("Check the file"),
            "{error}"
        );
    }
}
