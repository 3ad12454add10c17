//! The plan that a listing fulfils exactly.

use super::demand::{Demand, DemandField, Expectation, MachineSelector, ModuleSpec, Plan, PlannedSlot};
use crate::base::words::comma_list;
use crate::population::{CheckBits, Module, ModuleKind, Population, Slot, SlotState, Tier, identity};
use crate::records::Listing;
use crate::records::enums::ErrorType;
use crate::units::Bytes;

/// A derived plan and what it takes for granted.
#[derive(Debug, Clone, PartialEq)]
pub struct Derived {
    /// The plan.
    pub plan: Plan,
    /// Sentences for the person who is going to use it: what in the listing looks wrong and is now planned.
    pub cautions: Vec<String>,
}

/// Derives the plan that `population` fulfils exactly.
///
/// What the listing states about a module is demanded, except for a range of voltages and for equal widths, which many
/// registered modules print. Empty slots without a name of their own are left out. With `any_serial` the serial
/// numbers of machine and modules are left out, so that the plan serves every machine that is fitted alike.
pub fn from_population(listing: &Listing<'_>, population: &Population<'_>, any_serial: bool) -> Derived {
    let mut cautions = Vec::new();
    let slots: Vec<PlannedSlot> = population
        .in_board_order()
        .into_iter()
        .map(|index| &population.slots[index])
        .filter_map(|slot| {
            let demand = demand(slot, any_serial, &mut cautions)?;
            Some(PlannedSlot { slot: slot.name.to_string(), line: None, demand })
        })
        .collect();
    cautions.extend(inexact(population));
    let expect = expectation(population, listing, &slots, &mut cautions);
    let waived = errors(listing, population, &mut cautions).into_iter().collect();
    let plan = Plan {
        source: String::new(),
        name: None,
        machine: machine(listing, any_serial),
        board: None,
        processors: Vec::new(),
        mode: None,
        order: Vec::new(),
        slots,
        expect,
        waived,
    };
    Derived { plan, cautions }
}

/// Modules whose size the listing does not state exactly: the plan cannot demand it.
fn inexact(population: &Population<'_>) -> Option<String> {
    let names = population.fitted().filter(|(_, module)| module.bytes().is_none());
    let names: Vec<&str> = names.map(|(slot, _)| slot.name.as_ref()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "{}: the listing does not state the exact size, so the plan demands none here and no total; write it in",
            comma_list(&names)
        )
    })
}

/// Errors that the firmware keeps of fitted modules: what a listing shows is what its plan accepts.
fn errors(
    listing: &Listing<'_>,
    population: &Population<'_>,
    cautions: &mut Vec<String>,
) -> Option<DemandField> {
    let has_error = |slot: &&Slot<'_>| {
        let error = listing.devices.get(slot.device).and_then(|device| listing.error(device.error_handle));
        slot.fitted().is_some() && error.and_then(|error| error.kind.get()).is_some_and(ErrorType::is_error)
    };
    let names: Vec<&str> = population.slots.iter().filter(has_error).map(|slot| slot.name.as_ref()).collect();
    (!names.is_empty()).then(|| {
        cautions.push(format!(
            "{}: the firmware keeps a record of an error here; the plan accepts that",
            comma_list(&names)
        ));
        DemandField::Errors
    })
}

fn machine(listing: &Listing<'_>, any_serial: bool) -> MachineSelector {
    let system = listing.systems.first();
    let text = |field: Option<&str>| field.and_then(identity::clean).map(str::to_owned);
    MachineSelector {
        serial: if any_serial { None } else { text(system.and_then(|s| s.serial.get())) },
        asset_tag: None,
        host: None,
        product: text(system.and_then(|s| s.product.get())),
    }
}

fn demand(slot: &Slot<'_>, any_serial: bool, cautions: &mut Vec<String>) -> Option<Demand> {
    match &slot.state {
        // A name such as `NO DIMM` is there only while the slot is empty: filled, the slot has another one.
        SlotState::Empty if slot.is_nameless() => None,
        SlotState::Empty => Some(Demand::Empty),
        SlotState::Fitted(module) => Some(Demand::Module(wanted(module, any_serial))),
        SlotState::NotRunning(_) => {
            cautions.push(format!(
                "{}: the firmware names a module here that is not running; the plan lists the slot as idle, which accepts that",
                slot.name
            ));
            Some(Demand::Idle)
        }
        SlotState::Unknown => {
            cautions.push(format!(
                "{}: the listing does not say whether a module is there; the plan demands nothing",
                slot.name
            ));
            None
        }
    }
}

/// The demand for a module like this one, with its serial number unless any is as good.
pub(crate) fn wanted(module: &Module<'_>, any_serial: bool) -> ModuleSpec {
    ModuleSpec {
        sticker: None,
        size: module.bytes(),
        ranks: module.ranks,
        package_ranks: None,
        width: None,
        memory_type: module.memory_type,
        kind: module.kind,
        rated: module.rated,
        // What the board drives is not a property of the module; its limits are, where they are one value.
        voltage: module.minimum_voltage.filter(|low| module.maximum_voltage == Some(*low)),
        maker: module.maker.map(|maker| maker.name().to_owned()),
        part: module.part.as_deref().map(str::to_owned),
        serial: if any_serial { None } else { module.serial.map(str::to_owned) },
        ecc: check_bits(module),
    }
}

/// Equal widths are printed for many registered modules; only a kind without check bits makes equal widths a statement.
fn check_bits(module: &Module<'_>) -> Option<bool> {
    match (module.check_bits, module.kind) {
        (CheckBits::Present, _) => Some(true),
        (CheckBits::None, Some(ModuleKind::Udimm | ModuleKind::SoDimm)) => Some(false),
        _ => None,
    }
}

fn expectation(
    population: &Population<'_>,
    listing: &Listing<'_>,
    slots: &[PlannedSlot],
    cautions: &mut Vec<String>,
) -> Expectation {
    // What is on another link or on the package runs at a speed of its own.
    let mut speeds = population.dimms().map(|(_, module)| module.configured);
    let first = speeds.next().flatten();
    let speed = first.filter(|first| speeds.all(|speed| speed.is_some_and(|speed| speed.same_grade(*first))));
    // Modules that may be one record read twice have no total to demand.
    let summed = population.totals.fitted > 0 && population.doubled.is_empty();
    let totals = population.totals;
    let some = |size: Bytes| (size.0 > 0).then_some(size);
    let total = totals.main().filter(|_| summed).and_then(some);
    // Sizes that are all known are as good as the total.
    let of = |tier| totals.detected.filter(|_| summed).and_then(|_| some(totals.size_of(tier)));
    let (hbm, cxl, persistent) = (of(Tier::Hbm), of(Tier::Cxl), of(Tier::Persistent));
    let ecc = error_correction(population, listing, slots, cautions);
    Expectation { speed, total, hbm, cxl, persistent, ecc }
}

/// What to demand of error correction: what is proven, or that none is needed where the modules would else demand it.
fn error_correction(
    population: &Population<'_>,
    listing: &Listing<'_>,
    slots: &[PlannedSlot],
    cautions: &mut Vec<String>,
) -> Option<bool> {
    let wants = |planned: &PlannedSlot| match &planned.demand {
        Demand::Module(wanted) => wanted.wants_ecc() == Some(true),
        Demand::Empty | Demand::Idle => false,
    };
    let wanted = slots.iter().any(wants);
    // Some firmware states correction although the modules have no check bits to correct with.
    let can = population.fitted().any(|(_, module)| check_bits(module) != Some(false));
    match population.correction(listing) {
        Some(true) => can.then_some(true),
        Some(false) if wanted => {
            cautions.push(
                "the modules have check bits, yet the array states no error correction; the plan accepts that"
                    .to_owned(),
            );
            Some(false)
        }
        None if wanted => {
            cautions.push(
                "the modules have check bits, and the listing does not prove error correction; the plan demands none"
                    .to_owned(),
            );
            Some(false)
        }
        Some(false) | None => None,
    }
}
