//! A table of serial numbers, or of other texts, that stays small: their bytes in one buffer, places in it instead
//! of strings.

use std::hash::BuildHasher;

use hashbrown::{DefaultHashBuilder, HashTable};

use crate::population::identity;

/// A serial number as it is compared: without spaces at its ends, in capitals, without a leading `0x`; `None` for
/// a placeholder.
pub(super) fn normal(text: &str) -> Option<String> {
    // No module has a number as long as that.
    let text = identity::clean(text).filter(|text| text.len() <= 256)?;
    let text = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")).unwrap_or(text);
    Some(text.to_ascii_uppercase())
}

/// Texts, each once, with something about each.
#[derive(Debug)]
pub(super) struct Serials<T> {
    bytes: Vec<u8>,
    entries: Vec<(u32, u32, T)>,
    table: HashTable<u32>,
    hasher: DefaultHashBuilder,
}

impl<T> Default for Serials<T> {
    fn default() -> Self {
        Self {
            bytes: Vec::new(),
            entries: Vec::new(),
            table: HashTable::new(),
            hasher: DefaultHashBuilder::default(),
        }
    }
}

impl<T> Serials<T> {
    /// Room for so many.
    pub(super) fn with_capacity(count: usize) -> Self {
        let mut serials = Self::default();
        serials.entries.reserve_exact(count);
        serials.bytes.reserve_exact(count.saturating_mul(10));
        serials.table.reserve(count, |_| 0);
        serials
    }

    /// The bytes of an entry; none for one that is not there.
    fn text(&self, entry: usize) -> &[u8] {
        self.entries.get(entry).map_or(&[], |entry| place_of(&self.bytes, entry))
    }

    /// The text of an entry; empty for one that is not there.
    pub(super) fn serial(&self, entry: usize) -> &str {
        std::str::from_utf8(self.text(entry)).unwrap_or("")
    }

    /// The entry of a serial number, made if it is not there; and whether it was there.
    pub(super) fn entry(&mut self, serial: &str, new: impl FnOnce() -> T) -> (usize, bool) {
        let hash = self.hasher.hash_one(serial.as_bytes());
        let found = self.table.find(hash, |entry| self.text(*entry as usize) == serial.as_bytes());
        if let Some(entry) = found {
            return (*entry as usize, true);
        }
        let entry = self.entries.len();
        let place = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        // Four GiB of serial numbers are no fleet; what goes beyond is not kept apart.
        self.entries.push((place(self.bytes.len()), place(serial.len()), new()));
        self.bytes.extend(serial.as_bytes());
        let (entries, bytes, hasher) = (&self.entries, &self.bytes, &self.hasher);
        self.table.insert_unique(hash, place(entry), |entry| {
            hasher.hash_one(entries.get(*entry as usize).map_or(&[][..], |entry| place_of(bytes, entry)))
        });
        (entry, false)
    }

    /// What is known of an entry.
    pub(super) fn get(&self, entry: usize) -> &T {
        &self.entries[entry].2
    }

    /// Number of entries.
    #[cfg(test)]
    pub(super) fn len(&self) -> usize {
        self.entries.len()
    }
}

/// The text of an entry; none where it lies beyond what can be counted.
fn place_of<'b, T>(bytes: &'b [u8], (start, length, _): &(u32, u32, T)) -> &'b [u8] {
    let start = *start as usize;
    bytes.get(start..start.saturating_add(*length as usize)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serials_are_compared_without_their_dress() {
        assert_eq!(normal(" 0x1a2b "), Some("1A2B".to_owned()));
        assert_eq!(normal("00000000"), None);
        assert_eq!(normal("Not Specified"), None);
    }

    #[test]
    fn entries_are_found_again() {
        let mut serials = Serials::default();
        for number in 0..10_000 {
            assert_eq!(serials.entry(&format!("S{number}"), || number), (number, false));
        }
        for number in (0..10_000).rev() {
            assert_eq!(serials.entry(&format!("S{number}"), || 0), (number, true));
            assert_eq!(
                (*serials.get(number), serials.serial(number)),
                (number, format!("S{number}").as_str())
            );
        }
        assert_eq!(serials.len(), 10_000);
    }
}
