//! How evenly modules are spread over channels and sockets.

use super::fitting::{ChannelLoad, Fitting, Load};
use crate::units::Bytes;

/// How evenly modules are spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Balance {
    /// Every channel of every socket holds the same modules.
    Balanced,
    /// Equal modules, symmetric over the sockets, and not every channel equal.
    NearBalanced,
    /// Anything else.
    Uneven,
}

impl Balance {
    /// The word for reports and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Balanced => "balanced",
            Self::NearBalanced => "near-balanced",
            Self::Uneven => "uneven",
        }
    }
}

/// Balanced: every channel of every socket in use holds the same modules. Near-balanced: every channel has the
/// same size, or equal modules are placed alike on every socket with every channel in use holding as many
/// (common practice, no source).
pub(super) fn balance(fitting: &Fitting) -> Balance {
    let sockets = fitting.sockets();
    let content = |channel: &ChannelLoad| -> Vec<Load> {
        let mut loads: Vec<Load> = channel.loads().copied().collect();
        loads.sort_unstable();
        loads
    };
    let used: Vec<&ChannelLoad> =
        fitting.channels.iter().filter(|channel| sockets.contains(&channel.socket)).collect();
    let Some(first) = used.first().map(|channel| content(channel)) else { return Balance::Balanced };
    if used.iter().all(|channel| content(channel) == first) {
        return Balance::Balanced;
    }
    // Unlike modules that give every channel the same size still interleave over all of them.
    let capacity = |channel: &ChannelLoad| channel.loads().map(|load| load.size).sum::<Option<Bytes>>();
    let first = used.first().and_then(|channel| capacity(channel));
    if first.is_some() && used.iter().all(|channel| capacity(channel) == first) {
        return Balance::NearBalanced;
    }
    let mut sizes: Vec<Option<Bytes>> = fitting.loads().map(|load| load.size).collect();
    sizes.sort_unstable();
    sizes.dedup();
    let per_socket = |socket: u16| -> Vec<usize> {
        let mut counts: Vec<usize> =
            used.iter().filter(|channel| channel.socket == socket).map(|channel| channel.count()).collect();
        counts.sort_unstable();
        counts
    };
    let alike = sockets.windows(2).all(|pair| per_socket(pair[0]) == per_socket(pair[1]));
    let mut filled: Vec<usize> =
        used.iter().map(|channel| channel.count()).filter(|count| *count > 0).collect();
    filled.dedup();
    let even_channels =
        filled.len() == 1 || (filled.iter().max().zip(filled.iter().min())).is_some_and(|(a, b)| a - b <= 1);
    if sizes.len() == 1 && alike && even_channels { Balance::NearBalanced } else { Balance::Uneven }
}
