//! The module that contents describe, as part numbers describe it: the two can be compared.

use super::organisation::at_most;
use super::{Certainty, Known, ModuleKind, Spd};
use crate::identity::Coded;
use crate::units::Millivolts;

impl From<&Spd> for Coded {
    /// What the contents say of the module.
    ///
    /// - Ranks are left open for stacked dies (3DS), where package ranks and logical ranks differ and either may be meant.
    /// - Width is left open where ranks have chips of different widths.
    /// - The voltage is the lowest that it is made for.
    /// - Nothing binds where a check is wrong: it cannot be told which byte has changed.
    fn from(spd: &Spd) -> Self {
        let organisation = &spd.organisation;
        let stacked = organisation.stack.value.is_none_or(|stack| stack.value.is_3ds);
        let odd_width = organisation.odd_width.map(|width| width.value);
        let module = Self {
            generation: Some(Known { value: spd.generation, certainty: Certainty::Secondary }),
            kind: kind(spd),
            size: organisation.size,
            ranks: organisation.package_ranks.value.filter(|_| !stacked),
            width: organisation
                .width
                .value
                .filter(|own| odd_width.is_none_or(|odd| odd.is_some_and(|odd| odd.value == own.value))),
            rated: spd.rated,
            voltage: lowest_voltage(spd),
            ecc: organisation.has_check_lines(),
            persistent: spd.hybrid.is_some(),
        };
        if spd.is_damaged() { informing(&module) } else { module }
    }
}

/// Unbuffered with lines for check bits is a kind of its own, and so is what keeps its contents.
fn kind(spd: &Spd) -> Option<Known<ModuleKind>> {
    if let Some(hybrid) = spd.hybrid {
        return hybrid.value.map(|hybrid| Known { value: ModuleKind::Nvdimm, certainty: hybrid.certainty });
    }
    let form = spd.form.value?;
    let kind = Known { value: form.value.kind?, certainty: form.certainty };
    match (kind.value, spd.organisation.has_check_lines()) {
        (ModuleKind::Udimm, Some(Known { value: true, certainty })) => {
            Some(at_most(Known { value: ModuleKind::EccUdimm, ..kind }, certainty))
        }
        _ => Some(kind),
    }
}

fn lowest_voltage(spd: &Spd) -> Option<Known<Millivolts>> {
    let own = spd.supplies.iter().filter(|supply| supply.name == "VDD").map(|supply| supply.voltage);
    own.min_by_key(|voltage| voltage.value)
}

/// The same module, with nothing that could make or clear a fault.
fn informing(module: &Coded) -> Coded {
    fn lower<T>(known: Option<Known<T>>) -> Option<Known<T>> {
        known.map(|known| at_most(known, Certainty::Inferred))
    }
    Coded {
        generation: lower(module.generation),
        kind: lower(module.kind),
        size: lower(module.size),
        ranks: lower(module.ranks),
        width: lower(module.width),
        rated: lower(module.rated),
        voltage: lower(module.voltage),
        ecc: lower(module.ecc),
        persistent: module.persistent,
    }
}
