//! What follows from several codes together.
//!
//! A module's size is its depth times 8 bytes: 64 data lines, those for ECC never count. Its ranks are its depth over
//! that of one die, or its dies times their data lines over those of the module. Both are how memory modules are built
//! (JESD21-C, module standards); the limits that choose between two possible dies are common practice, no source, and
//! hold for every module of the data set.

use super::statement::{Statement, Statements};
use super::{Certainty, Coded, Known, ModuleKind};
use crate::enums::MemoryType;
use crate::units::Bytes;

/// The module that `statements` describe.
pub(super) fn module(statements: &Statements) -> Coded {
    let bus = bus(statements);
    let generation = statements.find(|s| match s {
        Statement::Generation(generation) => Some(*generation),
        _ => None,
    });
    let kind = statements.find(|s| match s {
        Statement::Kind(kind) => Some(*kind),
        _ => None,
    });
    // Where the code says unbuffered alone, the data lines tell the two kinds apart.
    let kind = match (kind, bus) {
        (
            Some(Known { value: ModuleKind::Udimm, certainty }),
            Some(Known { value: 72, certainty: lines }),
        ) => Some(Known { value: ModuleKind::EccUdimm, certainty: certainty.max(lines) }),
        (kind, _) => kind,
    };
    Coded {
        generation,
        kind,
        size: size(statements),
        ranks: ranks(statements, kind, generation),
        width: width(statements),
        rated: statements.find(|s| match s {
            Statement::Rated(rate) => Some(*rate),
            _ => None,
        }),
        voltage: statements.find(|s| match s {
            Statement::Voltage(voltage) => Some(*voltage),
            _ => None,
        }),
        ecc: bus.map(|bus| Known { value: bus.value > 64, certainty: bus.certainty }),
        persistent: statements.find(|s| (*s == Statement::Persistent).then_some(())).is_some(),
    }
}

fn bus(statements: &Statements) -> Option<Known<u8>> {
    statements.find(|s| match s {
        Statement::Bus(lines) => Some(*lines),
        _ => None,
    })
}

fn width(statements: &Statements) -> Option<Known<u8>> {
    statements.find(|s| match s {
        Statement::Width(width) => Some(*width),
        _ => None,
    })
}

fn size(statements: &Statements) -> Option<Known<Bytes>> {
    statements.find(|s| match s {
        Statement::Size(size) => Some(*size),
        Statement::Depth(depth) => Some(Bytes(depth * 8)),
        _ => None,
    })
}

fn ranks(
    statements: &Statements,
    kind: Option<Known<ModuleKind>>,
    generation: Option<Known<MemoryType>>,
) -> Option<Known<u8>> {
    let stated = statements.find(|s| match s {
        Statement::Ranks(ranks) => Some(*ranks),
        _ => None,
    });
    let width = || width(statements);
    stated
        .or_else(|| by_dies(statements, width()?))
        .or_else(|| by_depth(statements, width()?, kind, generation))
}

/// All dies of the module over those of one rank.
fn by_dies(statements: &Statements, width: Known<u8>) -> Option<Known<u8>> {
    let bus = bus(statements)?;
    let (dies, stack) = dies(statements)?;
    let (lines, bus_lines) =
        (dies.value * u16::from(stack.value) * u16::from(width.value), u16::from(bus.value));
    let certainty = [bus.certainty, dies.certainty, stack.certainty, width.certainty].into_iter().max()?;
    let ranks = lines.is_multiple_of(bus_lines).then(|| u8::try_from(lines / bus_lines).ok())??;
    Some(Known { value: ranks, certainty })
}

/// The dies of the module: their number, or that of packages with the dies in each.
fn dies(statements: &Statements) -> Option<(Known<u16>, Known<u8>)> {
    let dies = statements.find(|s| match s {
        Statement::Dies(dies) => Some(*dies),
        _ => None,
    });
    if let Some(dies) = dies {
        return Some((dies, Known { value: 1, certainty: Certainty::Published }));
    }
    let packages = statements.find(|s| match s {
        Statement::Packages(packages) => Some(*packages),
        _ => None,
    })?;
    let stack = stack(statements)?;
    Some((packages, Known { value: stack.value?, certainty: stack.certainty }))
}

/// Dies in a package; `None` inside where ranks do not follow from them.
fn stack(statements: &Statements) -> Option<Known<Option<u8>>> {
    statements.find(|s| match s {
        Statement::Stack(dies) => Some(*dies),
        _ => None,
    })
}

/// The depth of the module over that of one die, where only one of the possible dies gives a module that can be.
fn by_depth(
    statements: &Statements,
    width: Known<u8>,
    kind: Option<Known<ModuleKind>>,
    generation: Option<Known<MemoryType>>,
) -> Option<Known<u8>> {
    let stack = stack(statements);
    if stack.is_some_and(|stack| stack.value.is_none()) {
        return None;
    }
    let per_package = stack.and_then(|stack| stack.value);
    let dies = statements.find(|s| match s {
        Statement::Die(bits) => Some(bits.clone()),
        Statement::Density(bits) => Some(vec![bits / u64::from(per_package.unwrap_or(1).max(1))]),
        _ => None,
    })?;
    let size = size(statements)?;
    let words = size.value.0 / 8;
    let possible = dies.value.iter().filter_map(|bits| {
        let depth = bits / u64::from(width.value.max(1));
        (depth > 0 && words.is_multiple_of(depth))
            .then(|| u8::try_from(words / depth).ok())?
            .filter(|ranks| *ranks > 0)
    });
    let mut possible: Vec<u8> = possible.collect();
    if possible.len() > 1 {
        let lines = bus(statements).map_or(64, |bus| bus.value);
        let limits = Limits {
            kind: kind.map(|kind| kind.value),
            generation: generation.map(|generation| generation.value),
            per_package,
            chips_per_rank: u16::from(lines).div_ceil(u16::from(width.value.max(1))),
        };
        possible.retain(|ranks| limits.allow(*ranks));
    }
    let [ranks] = possible.as_slice() else { return None };
    let stack = stack.map_or(Certainty::Published, |stack| stack.certainty);
    let certainty = [dies.certainty, size.certainty, width.certainty, stack].into_iter().max()?;
    Some(Known { value: *ranks, certainty })
}

/// What a module can be.
struct Limits {
    kind: Option<ModuleKind>,
    generation: Option<MemoryType>,
    per_package: Option<u8>,
    chips_per_rank: u16,
}

impl Limits {
    fn allow(&self, ranks: u8) -> bool {
        let by_kind = match self.kind {
            Some(ModuleKind::Udimm | ModuleKind::EccUdimm | ModuleKind::SoDimm) => 2,
            Some(ModuleKind::Rdimm) => 4,
            _ => 8,
        };
        let by_packages = match self.per_package {
            // At most 36 chips find room on a module.
            Some(1) => {
                u16::from(ranks) * self.chips_per_rank <= 36
                    && (self.generation != Some(MemoryType::DDR4) || ranks <= 2)
            }
            // Dies of one package belong to different ranks.
            Some(dies) => ranks >= dies,
            None => true,
        };
        ranks <= by_kind && by_packages
    }
}
