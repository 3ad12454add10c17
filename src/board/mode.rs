//! Modes that keep part of the memory in reserve, and what is left.

use super::Fitting;
use crate::units::Bytes;

/// A mode of the memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Every byte is held twice: half is left.
    Mirroring,
    /// One rank of each channel, the largest, is kept in reserve.
    RankSparing,
}

/// Modes and their names.
pub const MODES: &[(Mode, &str)] = &[(Mode::Mirroring, "mirroring"), (Mode::RankSparing, "rank sparing")];

impl Mode {
    /// Reads a name.
    pub fn parse(text: &str) -> Option<Self> {
        MODES.iter().find(|(_, name)| name.eq_ignore_ascii_case(text.trim())).map(|(mode, _)| *mode)
    }

    /// What the operating system sees of `fitting`; `None` where a module's size or ranks are not known.
    pub fn visible(self, fitting: &Fitting) -> Option<Bytes> {
        let total: Bytes = fitting.loads().map(|load| load.size).sum::<Option<Bytes>>()?;
        match self {
            Self::Mirroring => Some(Bytes(total.0 / 2)),
            Self::RankSparing => {
                let mut spare = 0;
                for channel in &fitting.channels {
                    let ranks = channel.loads().map(|load| Some(load.size?.0 / u64::from(load.ranks?)));
                    spare += ranks.collect::<Option<Vec<u64>>>()?.into_iter().max().unwrap_or(0);
                }
                Some(Bytes(total.0.saturating_sub(spare)))
            }
        }
    }
}
