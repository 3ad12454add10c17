//! What the reader noticed apart from the records: damage, repairs, odd values.

use crate::evidence::Place;

/// Something worth knowing about the listing. Notes never stop the reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// What was noticed.
    pub kind: NoteKind,
    /// Where it was first noticed; `None` for a note about the whole input.
    pub place: Option<Place>,
    /// How many times.
    pub count: u32,
}

/// The kinds of notes. [`NoteKind::explanation`] says what each means for the proof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum NoteKind {
    /// dmidecode stopped at a broken entry: records after it are missing.
    Broken,
    /// The last record is cut.
    Truncated,
    /// The table is shorter than announced.
    WrongStructures,
    /// The listing does not end with the end-of-table record although it is a full one.
    NoEnd,
    /// The compressed input ends early.
    CutShort,
    /// Bytes that are not UTF-8 were replaced.
    NotUtf8,
    /// The input was a raw table.
    DecodedTable,
    /// The file repeats the same listing.
    RepeatedListing,
    /// The file holds another listing, which differs from the one read.
    OtherListing,
    /// Several partial listings of one machine were read as one.
    JoinedListings,
    /// dmidecode corrected a nonsense version.
    VersionFixup,
    /// The firmware is newer than this dmidecode.
    NewerThanDmidecode,
    /// Lines outside the listing's grammar, before or between the records.
    StrayLines,
    /// Field lines without a key, as left by a scrubber.
    ScrubbedLines,
    /// A value that cannot be read; the field counts as unknown.
    UnreadableValue,
    /// The same key twice in one record; where the values differ the field is unknown.
    RepeatedKey,
    /// Two records of the memory types share a handle.
    RepeatedHandle,
}

impl NoteKind {
    /// Whether records may be missing because of it.
    pub(crate) fn hides_records(self) -> bool {
        matches!(self, Self::Broken | Self::Truncated | Self::WrongStructures | Self::NoEnd | Self::CutShort)
    }

    /// One word for JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Broken => "broken",
            Self::Truncated => "truncated",
            Self::WrongStructures => "wrong-structures",
            Self::NoEnd => "no-end",
            Self::CutShort => "cut-short",
            Self::NotUtf8 => "not-utf8",
            Self::DecodedTable => "decoded-table",
            Self::RepeatedListing => "repeated-listing",
            Self::OtherListing => "other-listing",
            Self::JoinedListings => "joined-listings",
            Self::VersionFixup => "version-fixup",
            Self::NewerThanDmidecode => "newer-than-utility",
            Self::StrayLines => "stray-lines",
            Self::ScrubbedLines => "scrubbed-lines",
            Self::UnreadableValue => "unreadable-value",
            Self::RepeatedKey => "repeated-key",
            Self::RepeatedHandle => "repeated-handle",
        }
    }

    /// What it means, in one sentence for the person at the bench.
    pub fn explanation(self) -> &'static str {
        match self {
            Self::Broken => "the table breaks off here; records after this line may be missing",
            Self::Truncated => "this record is cut off; it and records after it may be missing",
            Self::WrongStructures => "the table is shorter than its header says; records may be missing",
            Self::NoEnd => "the listing has no end record; it may have been cut off while copying",
            Self::CutShort => "the compressed file ends early; the rest of the listing is missing",
            Self::DecodedTable => "a raw table was read; lines are counted in its text form",
            Self::NotUtf8 => "some bytes are no UTF-8 text and were replaced; names may show a wrong letter",
            Self::RepeatedListing => "the file repeats the same listing; it was read once",
            Self::OtherListing => "the file also holds another listing, which was not read",
            Self::JoinedListings => {
                "the file holds partial listings of different record types; they were read as one machine"
            }
            Self::VersionFixup => "the firmware announces a nonsense SMBIOS version; dmidecode corrected it",
            Self::NewerThanDmidecode => {
                "the firmware is newer than the dmidecode that printed this; some values may read as unknown"
            }
            Self::StrayLines => "lines that are not part of a listing were skipped",
            Self::ScrubbedLines => {
                "lines without a key stand inside memory records; the fields they replaced read as absent"
            }
            Self::UnreadableValue => "a value that cannot be read counts as unknown",
            Self::RepeatedKey => {
                "a record states one field twice; where the two differ the field counts as unknown"
            }
            Self::RepeatedHandle => {
                "two memory records share one handle; slots are distinguished by their labels"
            }
        }
    }
}

/// Collects notes, one per kind, with the first place and a count.
#[derive(Debug, Default)]
pub(super) struct Notes(pub(super) Vec<Note>);

impl Notes {
    pub(super) fn add(&mut self, kind: NoteKind, place: Option<Place>) {
        match self.0.iter_mut().find(|note| note.kind == kind) {
            Some(note) => note.count += 1,
            None => self.0.push(Note { kind, place, count: 1 }),
        }
    }
}
