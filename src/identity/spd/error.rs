//! Why bytes are not read as contents.

use thiserror::Error;

use crate::base::words::counted;

/// Why something is not read as the contents of a module. Each says what was found, what was expected and what to do;
/// the name of the file is for the caller to add.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SpdError {
    /// There is nothing.
    #[error("empty; expected the contents of a module, 128 to 1024 bytes: read the EEPROM again")]
    Empty,
    /// Far more than any module has.
    #[error(
        "{length} bytes, far more than an SPD dump has; expected 128 to 1024 bytes, or a dump of them as text"
    )]
    TooLarge {
        /// How many bytes there are.
        length: usize,
    },
    /// One value throughout.
    #[error(
        "all {length} bytes are {value:02X}h: nothing answered, or the EEPROM is erased; \
         read it again, and look whether the slot is fitted"
    )]
    Blank {
        /// The value.
        value: u8,
        /// How many bytes there are.
        length: usize,
    },
    /// Not even the key byte is there.
    #[error("{}; expected the contents of a module, 128 to 1024 bytes: read the EEPROM again", counted(*length, "byte"))]
    Short {
        /// How many bytes there are.
        length: usize,
    },
    /// Memory of a generation that is not read.
    #[error(
        "byte 2 is {key:02X}h, which is {name}; expected DDR2 (08h), FB-DIMM (09h), DDR3 (0Bh), DDR4 (0Ch) or DDR5 \
         (12h): leave this dump out"
    )]
    OtherMemory {
        /// The key byte.
        key: u8,
        /// What it stands for.
        name: &'static str,
    },
    /// No known key byte.
    #[error(
        "{length} bytes whose byte 2 is {key:02X}h, which no memory has; expected 08h (DDR2), 09h (FB-DIMM), 0Bh (DDR3), \
         0Ch (DDR4) or 12h (DDR5): check that this is a whole SPD dump from its first byte"
    )]
    Key {
        /// The key byte.
        key: u8,
        /// How many bytes there are.
        length: usize,
    },
    /// Too few or too many bytes.
    #[error(
        "{found} bytes of {generation} contents; expected {expected}: read the whole EEPROM, and no more"
    )]
    Length {
        /// How many bytes there are.
        found: usize,
        /// The generation that byte 2 states.
        generation: &'static str,
        /// The lengths that are read.
        expected: &'static str,
    },
    /// Several modules in one file.
    #[error(
        "{length} bytes hold the contents of {} modules one after the other; expected one module: split the file \
         into pieces of {each} bytes", length / each
    )]
    Joined {
        /// How many bytes there are.
        length: usize,
        /// How many each module has.
        each: usize,
    },
    /// A text that is no dump.
    #[error(
        "line {line}: found {found:?}, expected {expected}: write the dump again, with nothing but the bytes"
    )]
    Text {
        /// The line, from 1.
        line: usize,
        /// What is there.
        found: String,
        /// What should be there.
        expected: &'static str,
    },
    /// A dump that says of a byte that it could not be read.
    #[error(
        "line {line}: {found:?} stands for a byte that could not be read; expected all bytes: read the EEPROM again"
    )]
    Unreadable {
        /// The line, from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// The addresses of a dump do not go on.
    #[error(
        "line {line}: found address {found:X}h, expected {expected:X}h: lines are missing; write the dump again"
    )]
    Gap {
        /// The line, from 1.
        line: usize,
        /// The address.
        found: usize,
        /// The address that should be there.
        expected: usize,
    },
}
