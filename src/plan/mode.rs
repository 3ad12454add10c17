//! Modes that keep part of the memory in reserve, as plans and boards name them.

use std::fmt;

table! {
    /// A mode of the memory.
    #[non_exhaustive]
    pub enum Mode {
        /// Every byte is held twice: half is left.
        Mirroring = "mirroring",
        /// One rank of each channel, the largest, is kept in reserve.
        RankSparing = "rank sparing",
    }
}

impl Mode {
    /// Reads a name.
    pub fn parse(text: &str) -> Option<Self> {
        Mode::WORDS.iter().find(|(_, name)| name.eq_ignore_ascii_case(text.trim())).map(|(mode, _)| *mode)
    }
}

/// A mode as a file names it. Boards may offer modes that this tool does not know, and a plan may ask for one: its
/// name is kept as written, for messages and for writing it back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedMode {
    name: String,
    mode: Option<Mode>,
}

impl NamedMode {
    /// The mode of that name.
    pub fn new(name: String) -> Self {
        let mode = Mode::parse(&name);
        Self { name, mode }
    }

    /// The name as written.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Which mode it is; `None` for one that is not known.
    pub fn known(&self) -> Option<Mode> {
        self.mode
    }

    /// Whether both have the same name, in any case of letters.
    pub fn same_name(&self, other: &Self) -> bool {
        self.name.eq_ignore_ascii_case(&other.name)
    }
}

impl fmt::Display for NamedMode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_kept_and_recognised() {
        let mode = NamedMode::new(" Rank Sparing".to_owned());
        assert_eq!((mode.known(), mode.name()), (Some(Mode::RankSparing), " Rank Sparing"));
        let unknown = NamedMode::new("lockstep".to_owned());
        assert_eq!((unknown.known(), unknown.to_string().as_str()), (None, "lockstep"));
        assert!(unknown.same_name(&NamedMode::new("Lockstep".to_owned())));
    }
}
