//! What rows of the tables say, as values.

use std::fmt;

use super::{Certainty, Known, ModuleKind};
use crate::base::words::or_list;
use crate::enums::MemoryType;
use crate::units::{Bytes, Millivolts, TransferRate};

/// One thing that a code says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Statement {
    Generation(MemoryType),
    Kind(ModuleKind),
    Size(Bytes),
    Ranks(u8),
    Width(u8),
    Rated(TransferRate),
    Voltage(Millivolts),
    /// Data lines of the module, those for ECC included.
    Bus(u8),
    /// Words of 64 bits.
    Depth(u64),
    /// Dies on the module, those for ECC included.
    Dies(u16),
    /// Packages on the module, those for ECC included.
    Packages(u16),
    /// Bits of a die: what is possible.
    Die(Vec<u64>),
    /// Bits of a package.
    Density(u64),
    /// Dies in a package; `None` where ranks do not follow from them.
    Stack(Option<u8>),
    Persistent,
}

impl Statement {
    /// Reads `key=value`, with `code` in the place of `#`.
    pub(super) fn read(says: &str, code: &str) -> Option<Self> {
        if says == "persistent" {
            return Some(Self::Persistent);
        }
        let (key, value) = says.split_once('=')?;
        let value = value.replace('#', code.trim_start_matches('0'));
        let value = value.as_str();
        Some(match key {
            "generation" => Self::Generation(MemoryType::parse(value)?),
            "kind" => Self::Kind(ModuleKind::parse(value)?),
            "size" => {
                Self::Size(Bytes::gib(value.strip_suffix("GB")?.parse().ok().filter(|size| *size <= 4096)?))
            }
            "ranks" => Self::Ranks(value.parse().ok()?),
            "width" => Self::Width(value.parse().ok()?),
            "rated" => Self::Rated(TransferRate(value.parse().ok()?)),
            "voltage" => Self::Voltage(Millivolts(value.parse().ok()?)),
            "bus" => Self::Bus(value.parse().ok()?),
            "depth" => Self::Depth(count(value)?),
            "dies" => Self::Dies(value.parse().ok()?),
            "packages" => Self::Packages(value.parse().ok()?),
            "die" => Self::Die(value.split('|').map(bits).collect::<Option<_>>()?),
            "density" => Self::Density(bits(value)?),
            "stack" if value == "?" => Self::Stack(None),
            "stack" => Self::Stack(Some(value.parse().ok()?)),
            _ => return None,
        })
    }
}

/// `512M`, `4G`.
fn count(text: &str) -> Option<u64> {
    let (number, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    let shift = match unit {
        "M" => 20,
        "G" => 30,
        _ => return None,
    };
    number.parse::<u64>().ok().filter(|number| *number <= 1 << 14).map(|number| number << shift)
}

/// `512Mb`, `16Gb`.
fn bits(text: &str) -> Option<u64> {
    count(text.strip_suffix('b')?)
}

impl fmt::Display for Statement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let giga = |bits: &u64| match bits >> 30 {
            0 => format!("{} Mb", bits >> 20),
            giga => format!("{giga} Gb"),
        };
        match self {
            Self::Generation(generation) => f.write_str(generation.name()),
            Self::Kind(kind) => write!(f, "{kind}"),
            Self::Size(size) => write!(f, "{size}"),
            Self::Ranks(1) => f.write_str("1 rank"),
            Self::Ranks(ranks) => write!(f, "{ranks} ranks"),
            Self::Width(width) => write!(f, "x{width}"),
            Self::Rated(rate) => write!(f, "{rate}"),
            Self::Voltage(voltage) => write!(f, "{voltage}"),
            Self::Bus(bus) => write!(f, "{bus} data lines"),
            Self::Depth(depth) => write!(f, "{} M words", depth >> 20),
            Self::Dies(dies) => write!(f, "{dies} dies"),
            Self::Packages(packages) => write!(f, "{packages} packages"),
            Self::Die(dies) => write!(f, "dies of {}", or_list(dies.iter().map(giga))),
            Self::Density(density) => write!(f, "packages of {}", giga(density)),
            Self::Stack(Some(1) | None) => Ok(()),
            Self::Stack(Some(dies)) => write!(f, "{dies} dies in a package"),
            Self::Persistent => f.write_str("persistent"),
        }
    }
}

/// All that the codes of one number say; the first of a kind counts.
#[derive(Debug, Clone, Default)]
pub(super) struct Statements(Vec<(Statement, Certainty)>);

impl Statements {
    /// Adds what a row says of `code`.
    pub(super) fn add(&mut self, says: &str, code: &str, certainty: Certainty) {
        let read = says.split(' ').filter_map(|says| Statement::read(says, code));
        self.0.extend(read.map(|statement| (statement, certainty)));
    }

    /// The first statement that `pick` takes.
    pub(super) fn find<T>(&self, pick: impl Fn(&Statement) -> Option<T>) -> Option<Known<T>> {
        self.0
            .iter()
            .find_map(|(statement, certainty)| Some(Known { value: pick(statement)?, certainty: *certainty }))
    }
}
