//! Why the label of a module cannot be read.

use thiserror::Error;

use crate::base::words::counted;
use crate::units::Bytes;

/// Why a sticker cannot be read.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum StickerError {
    /// A word that does not belong on a label.
    #[error("`{word}`, which is not part of a module label")]
    Word {
        /// The word.
        word: String,
    },
    /// A word that may be a part number.
    #[error(
        "`{word}`, which is not part of a module label; a part number or a maker is a field of its own in a plan"
    )]
    Part {
        /// The word.
        word: String,
    },
    /// A number that could be anything.
    #[error("`{word}`, a number without its unit; write `{word}GB` if it is the size")]
    NoUnit {
        /// The word.
        word: String,
    },
    /// A speed that is not a JEDEC grade.
    #[error("`{word}`, whose speed is not a JEDEC grade of that generation")]
    Speed {
        /// The word.
        word: String,
    },
    /// A letter for the kind of module that the generation does not have.
    #[error("`{word}`, whose letter `{letter}` names no kind of module")]
    Kind {
        /// The word.
        word: String,
        /// The letter.
        letter: String,
    },
    /// Size, ranks and width that no chips can make.
    #[error("{size} from {} of x{width} chips, which would need chips of {chip}", counted(usize::from(*.ranks), "rank"))]
    Impossible {
        /// The size.
        size: Bytes,
        /// Ranks.
        ranks: u8,
        /// Chip width.
        width: u8,
        /// The chip that would be needed.
        chip: String,
    },
    /// Something twice, such as two sizes.
    #[error("`{word}` after another word of the same meaning")]
    Twice {
        /// The second word.
        word: String,
    },
    /// Nothing at all.
    #[error("an empty label")]
    Empty,
}
