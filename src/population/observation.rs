//! What there is to observe in a listing.

use crate::evidence::Place;

/// One observation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Observation {
    /// What it is.
    pub kind: ObservationKind,
    /// A sentence for the person at the bench.
    pub text: String,
    /// The line that shows it.
    pub place: Option<Place>,
}

/// Kinds of observations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ObservationKind {
    /// The array's error correction and the modules' widths disagree.
    EccContradiction,
    /// The array promises another number of slots than it has records.
    SlotCount,
    /// The modules sum to more than the array's maximum.
    AboveMaximum,
    /// The address ranges do not sum to the modules.
    MappedDiffers,
    /// A speed that no memory has.
    NonsenseSpeed,
    /// Configured speeds that are half the rated ones and below what the generation runs.
    ClockForSpeed,
    /// Widths that no module has.
    NonsenseWidth,
    /// A size that no module of the generation has.
    NonsenseSize,
    /// A slot points to an array that is not in the listing.
    ArrayMissing,
    /// A module of 32 GiB or more whose exact size the record cannot hold.
    SizeMarker,
    /// The listing has no processor records.
    NoProcessors,
    /// The listing has no array records, so flash devices cannot be recognised by their array.
    NoArrays,
    /// A slot with a module whose memory is not in use.
    NotRunning,
    /// A slot without a size whose record states of a module what no other empty slot's does.
    Trace,
    /// A record that is there twice.
    RepeatedRecord,
}

impl ObservationKind {
    /// One word for JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::EccContradiction => "ecc-contradiction",
            Self::SlotCount => "slot-count",
            Self::AboveMaximum => "above-maximum",
            Self::MappedDiffers => "mapped-differs",
            Self::NonsenseSpeed => "nonsense-speed",
            Self::ClockForSpeed => "clock-for-speed",
            Self::NonsenseWidth => "nonsense-width",
            Self::NonsenseSize => "nonsense-size",
            Self::ArrayMissing => "array-missing",
            Self::SizeMarker => "size-marker",
            Self::NoProcessors => "no-processors",
            Self::NoArrays => "no-arrays",
            Self::NotRunning => "not-running",
            Self::Trace => "trace",
            Self::RepeatedRecord => "repeated-record",
        }
    }
}
