//! Where evidence comes from: the sources, and the sections of a capture that hold them.

table! {
    /// Which source of evidence states something.
    #[non_exhaustive]
    pub enum Source {
        /// The SMBIOS listing.
        Listing = "listing",
        /// `/proc/meminfo`.
        Meminfo = "meminfo",
        /// The kernel's command line.
        CommandLine = "command-line",
        /// The kernel's memory error counters.
        Edac = "edac",
        /// The event log of the management controller.
        Events = "event-log",
        /// What the management controller states over Redfish.
        Redfish = "redfish",
    }
}

/// What a section of a capture is called, and of which source it is.
#[derive(Debug, Clone, Copy)]
pub struct SectionInfo {
    /// Its name in brackets.
    pub name: &'static str,
    /// The source that it holds; `None` where nothing in it is evidence.
    pub source: Option<Source>,
}

table! {
    /// What a section of a capture holds.
    #[non_exhaustive]
    pub enum SectionKind: SectionInfo {
        /// Names of the machine that anyone may read, from `/sys/class/dmi/id`.
        Identity { name: "identity", source: None },
        /// The SMBIOS table in its text form.
        Listing { name: "listing", source: Some(Source::Listing) },
        /// `/proc/meminfo`.
        Meminfo { name: "meminfo", source: Some(Source::Meminfo) },
        /// `/proc/cmdline`.
        CommandLine { name: "kernel command line", source: Some(Source::CommandLine) },
        /// The kernel's error counters under `/sys/devices/system/edac/mc`, one `path:value` a line.
        Edac { name: "edac", source: Some(Source::Edac) },
        /// The event log of the management controller.
        Events { name: "event log", source: Some(Source::Events) },
        /// The SMBIOS table, entry point first, as hexadecimal bytes: for whoever wants it as it was.
        Table { name: "smbios table", source: None },
    }
}

impl SectionKind {
    /// The section's name.
    pub const fn name(self) -> &'static str {
        self.info().name
    }
}

/// Where something is in the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// 1-based line number.
    pub line: u32,
    /// Byte offset of the line's first character. Input is capped far below 4 GiB.
    pub offset: u32,
}

/// One line of an input that shows something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Evidence {
    /// Which source states it.
    pub source: Source,
    /// 1-based line in that source's input.
    pub line: u32,
    /// The line's text, trimmed.
    pub text: String,
}
