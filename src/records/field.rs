//! What a listing says about one field: stated, unknown or absent.

use crate::evidence::Place;

/// One field of a record.
///
/// What a listing does not say must not be able to pass a check, so the three cases stay apart until the
/// audit has decided what each means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Field<T> {
    /// The line is there and states a value.
    Stated(T, Place),
    /// The line is there and says `Unknown`, `Not Specified`, `<OUT OF SPEC>` or something unreadable.
    Unknown(Place),
    /// The record has no such line.
    #[default]
    Absent,
}

impl<T> Field<T> {
    /// The value if it is stated.
    pub fn stated(&self) -> Option<&T> {
        match self {
            Self::Stated(value, _) => Some(value),
            Self::Unknown(_) | Self::Absent => None,
        }
    }

    /// A copy of the value if it is stated.
    pub fn get(&self) -> Option<T>
    where
        T: Copy,
    {
        self.stated().copied()
    }

    /// Where the line is, unless it is absent.
    pub fn place(&self) -> Option<Place> {
        match self {
            Self::Stated(_, place) | Self::Unknown(place) => Some(*place),
            Self::Absent => None,
        }
    }

    /// A stated or unknown field from what a reader made of the value.
    pub(crate) fn read(value: Option<T>, place: Place) -> Self {
        match value {
            Some(value) => Self::Stated(value, place),
            None => Self::Unknown(place),
        }
    }
}
