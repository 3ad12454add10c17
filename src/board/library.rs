//! Platform classes: generic boards by number of sockets, channels and slots and by memory generation.
//!
//! Each family of classes is one YAML file in `library/`, whose rules hold for all its layouts.

use super::description::Board;
use super::layout::layout;
use super::parse::Description;
use crate::yaml::FileError;

/// One class.
#[derive(Debug, Clone, Copy)]
pub struct Class {
    /// Its name: generation, sockets x channels x slots.
    pub name: &'static str,
    /// Sockets, channels per socket, slots per channel.
    pub form: (u16, u8, u8),
    text: &'static str,
}

impl Class {
    /// The rules of its family, as a board without sockets.
    fn rules(&self) -> Result<Board, FileError> {
        Description::open(self.name, self.text)?.board()
    }
}

const DDR3_3: &str = include_str!("library/ddr3-3-channels.yaml");
const DDR3_4: &str = include_str!("library/ddr3-4-channels.yaml");
const DDR4_4: &str = include_str!("library/ddr4-4-channels.yaml");
const DDR4_6: &str = include_str!("library/ddr4-6-channels.yaml");
const DDR4_8: &str = include_str!("library/ddr4-8-channels.yaml");
const DDR5_8: &str = include_str!("library/ddr5-8-channels.yaml");
const DDR5_12: &str = include_str!("library/ddr5-12-channels.yaml");

/// All classes.
#[rustfmt::skip]
pub const CLASSES: &[Class] = &[
    Class { name: "ddr3-2x3x3", form: (2, 3, 3), text: DDR3_3 },
    Class { name: "ddr3-2x3x2", form: (2, 3, 2), text: DDR3_3 },
    Class { name: "ddr3-1x3x3", form: (1, 3, 3), text: DDR3_3 },
    Class { name: "ddr3-1x3x2", form: (1, 3, 2), text: DDR3_3 },
    Class { name: "ddr3-2x4x3", form: (2, 4, 3), text: DDR3_4 },
    Class { name: "ddr3-2x4x2", form: (2, 4, 2), text: DDR3_4 },
    Class { name: "ddr3-1x4x3", form: (1, 4, 3), text: DDR3_4 },
    Class { name: "ddr3-1x4x2", form: (1, 4, 2), text: DDR3_4 },
    Class { name: "ddr4-2x4x3", form: (2, 4, 3), text: DDR4_4 },
    Class { name: "ddr4-2x4x2", form: (2, 4, 2), text: DDR4_4 },
    Class { name: "ddr4-1x4x2", form: (1, 4, 2), text: DDR4_4 },
    Class { name: "ddr4-2x6x2", form: (2, 6, 2), text: DDR4_6 },
    Class { name: "ddr4-2x6x1", form: (2, 6, 1), text: DDR4_6 },
    Class { name: "ddr4-1x6x2", form: (1, 6, 2), text: DDR4_6 },
    Class { name: "ddr4-1x6x1", form: (1, 6, 1), text: DDR4_6 },
    Class { name: "ddr4-2x8x2", form: (2, 8, 2), text: DDR4_8 },
    Class { name: "ddr4-2x8x1", form: (2, 8, 1), text: DDR4_8 },
    Class { name: "ddr4-1x8x2", form: (1, 8, 2), text: DDR4_8 },
    Class { name: "ddr4-1x8x1", form: (1, 8, 1), text: DDR4_8 },
    Class { name: "ddr5-2x8x2", form: (2, 8, 2), text: DDR5_8 },
    Class { name: "ddr5-2x8x1", form: (2, 8, 1), text: DDR5_8 },
    Class { name: "ddr5-1x8x2", form: (1, 8, 2), text: DDR5_8 },
    Class { name: "ddr5-1x8x1", form: (1, 8, 1), text: DDR5_8 },
    Class { name: "ddr5-2x12x2", form: (2, 12, 2), text: DDR5_12 },
    Class { name: "ddr5-2x12x1", form: (2, 12, 1), text: DDR5_12 },
    Class { name: "ddr5-1x12x2", form: (1, 12, 2), text: DDR5_12 },
    Class { name: "ddr5-1x12x1", form: (1, 12, 1), text: DDR5_12 },
];

/// The class of that name as a board with placeholder labels.
pub fn class(name: &str) -> Option<Board> {
    let class = CLASSES.iter().find(|class| class.name == name)?;
    let (sockets, channels, slots) = class.form;
    // The files are part of the program; a test reads each of them.
    let family = class.rules().ok()?;
    Some(Board { name: class.name.to_owned(), sockets: layout(sockets, channels, slots), ..family })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_class_reads_and_has_its_form() {
        for entry in CLASSES {
            entry.rules().unwrap_or_else(|error| panic!("{error}"));
            let board = class(entry.name).unwrap();
            let (sockets, channels, slots) = entry.form;
            assert_eq!(
                board.slots().count(),
                usize::from(sockets) * usize::from(channels) * usize::from(slots)
            );
            assert!(board.rules.generation.is_some() && board.about.is_some(), "{}", entry.name);
            for (key, text) in &board.sources {
                assert!(!key.is_empty() && text.len() > 20, "{}: {key}", entry.name);
            }
        }
    }
}
