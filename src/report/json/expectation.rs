//! What the rules of a board lead to expect.

use serde::Serialize;

use crate::board::{Board, Prediction, Raise};

/// What to expect of a fitting.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ExpectationJson {
    /// Total; null where a module has no size.
    pub total_bytes: Option<u64>,
    /// The speed below which something is wrong, in MT/s; null where the rules do not cover the fitting.
    pub least_mts: Option<u32>,
    /// The most to expect, in MT/s.
    pub most_mts: Option<u32>,
    /// All limits, the tightest first.
    pub limits: Vec<LimitJson>,
    /// Peak bandwidth per socket.
    pub bandwidth: Vec<BandwidthJson>,
    /// `balanced`, `near-balanced` or `uneven`.
    pub evenness: &'static str,
    /// Changes that would let it run faster.
    pub lifts: Vec<RaiseJson>,
    /// Things to know that decide nothing.
    pub notes: Vec<String>,
}

/// One limit on the speed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LimitJson {
    /// `rating`, `processor` or `population`.
    pub limit: &'static str,
    /// The lowest value a source gives, in MT/s.
    pub low_mts: u32,
    /// The highest value a source gives, in MT/s.
    pub high_mts: u32,
    /// The limit in words.
    pub text: String,
    /// Slots it comes from.
    pub slots: Vec<String>,
    /// Its sources.
    pub sources: Vec<String>,
}

/// Peak bandwidth of one socket.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BandwidthJson {
    /// The socket.
    pub socket: u16,
    /// Channels in use × MT/s × 8 bytes, in MB/s.
    pub peak_mb_per_s: u32,
}

/// One change that would raise the speed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "LiftJson"))]
pub struct RaiseJson {
    /// What to change.
    pub text: String,
    /// The speed then, in MT/s.
    pub speed_mts: u32,
    /// Memory that it costs, in bytes.
    pub lost_bytes: u64,
}

pub(super) fn expectation_json(board: &Board, prediction: &Prediction, raises: &[Raise]) -> ExpectationJson {
    ExpectationJson {
        total_bytes: prediction.total.map(|size| size.0),
        least_mts: prediction.speed.least().map(|rate| rate.0),
        most_mts: prediction.speed.most().map(|rate| rate.0),
        limits: prediction
            .limits
            .iter()
            .map(|limit| LimitJson {
                limit: limit.kind.word(),
                low_mts: limit.low.0,
                high_mts: limit.high.0,
                text: limit.text.clone(),
                slots: limit.slots.clone(),
                sources: limit.sources.iter().map(|source| board.source_text(source)).collect(),
            })
            .collect(),
        bandwidth: prediction
            .peak_mb_per_s
            .iter()
            .map(|(socket, peak)| BandwidthJson { socket: *socket, peak_mb_per_s: *peak })
            .collect(),
        evenness: prediction.balance.word(),
        lifts: raises
            .iter()
            .map(|raise| RaiseJson {
                text: raise.text.clone(),
                speed_mts: raise.speed.0,
                lost_bytes: raise.lost.0,
            })
            .collect(),
        notes: prediction.notes.clone(),
    }
}
