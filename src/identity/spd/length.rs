//! How long contents are, and which of the bytes of a file are theirs.

use super::error::SpdError;
use super::tables::{GENERATIONS, OTHER_KEYS};
use crate::enums::MemoryType;

/// The lengths of one generation's contents.
#[derive(Debug)]
pub(super) struct Layout {
    /// Byte 2.
    pub(super) key: u8,
    pub(super) generation: MemoryType,
    /// All lengths that are read, the longest first.
    pub(super) lengths: &'static [usize],
    pub(super) lengths_in_words: &'static str,
}

/// The layout of `bytes`, and those of them that belong to one module.
pub(super) fn own(bytes: &[u8]) -> Result<(&'static Layout, &[u8]), SpdError> {
    let Some(first) = bytes.first() else { return Err(SpdError::Empty) };
    if matches!(first, 0 | 0xFF) && bytes.iter().all(|byte| byte == first) {
        return Err(SpdError::Blank { value: *first, length: bytes.len() });
    }
    let Some(key) = bytes.get(2) else { return Err(SpdError::Short { length: bytes.len() }) };
    let Some(layout) = layout(*key) else {
        let name = OTHER_KEYS.iter().find(|(other, _)| other == key).map(|(_, name)| *name);
        return Err(match name {
            Some(name) => SpdError::OtherMemory { key: *key, name },
            None => SpdError::Key { key: *key, length: bytes.len() },
        });
    };
    if layout.lengths.contains(&bytes.len()) && !is_joined(bytes, layout) {
        return Ok((layout, bytes));
    }
    // A reader that asks for more than a module has gets filler or the beginning again.
    for length in layout.lengths {
        let Some((own, rest)) = bytes.split_at_checked(*length) else { continue };
        // Anything but whole pages more is a reading that broke off.
        if !rest.len().is_multiple_of(128) {
            continue;
        }
        let filler = |value: u8| rest.iter().all(|byte| *byte == value);
        if filler(0) || filler(0xFF) || rest.chunks(*length).all(|again| own.starts_with(again)) {
            return Ok((layout, own));
        }
    }
    if is_joined(bytes, layout) {
        return Err(SpdError::Joined { length: bytes.len(), each: usual(layout) });
    }
    Err(SpdError::Length {
        found: bytes.len(),
        generation: layout.generation.name(),
        expected: layout.lengths_in_words,
    })
}

/// The layout with this key byte.
pub(super) fn layout(key: u8) -> Option<&'static Layout> {
    GENERATIONS.iter().find(|layout| layout.key == key)
}

/// Whether there are several modules' contents one after the other: each block begins like the first.
fn is_joined(bytes: &[u8], layout: &Layout) -> bool {
    let each = usual(layout);
    bytes.len() > each
        && bytes.len().is_multiple_of(each)
        && bytes.chunks(each).all(|block| block.get(2) == Some(&layout.key) && !blank(block))
        && bytes.chunks(each).skip(1).any(|block| !bytes.starts_with(block))
}

fn blank(block: &[u8]) -> bool {
    block.iter().all(|byte| *byte == 0) || block.iter().all(|byte| *byte == 0xFF)
}

/// The length of a whole EEPROM of this generation.
fn usual(layout: &Layout) -> usize {
    match layout.generation {
        MemoryType::DDR4 => 512,
        MemoryType::DDR5 => 1024,
        _ => 256,
    }
}
