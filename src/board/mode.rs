//! What is left of the memory in modes that keep part of it in reserve.

use super::fitting::Fitting;
use crate::plan::Mode;
use crate::units::Bytes;

impl Mode {
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
