//! What is fitted, and what its listing cannot tell.

use super::facts::{self, Fact, Note, notes, total};
use super::map::{self, Drawn, Map};
use super::slots::{self, SlotTable};
use crate::case::Case;
use crate::population::{CheckBits, Module, Population, Slot};

/// What is said of a population.
#[derive(Debug)]
pub(crate) struct PopulationView<'c> {
    pub(crate) title: &'c str,
    pub(crate) headline: String,
    pub(crate) facts: Vec<Fact>,
    pub(crate) map: Map<Drawn>,
    pub(crate) kinds: Vec<ModuleKind>,
    pub(crate) slots: SlotTable,
    /// What the listing cannot tell.
    pub(crate) limits: Vec<String>,
    pub(crate) notes: Vec<Note>,
}

/// Equal modules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ModuleKind {
    pub(crate) count: usize,
    pub(crate) kind: String,
    /// The slots that hold them, with their serial numbers, in the order of the board.
    pub(crate) slots: String,
}

impl<'c> PopulationView<'c> {
    pub(crate) fn new(case: &'c Case<'_>) -> Self {
        let population = &case.population;
        Self {
            title: case.name,
            headline: headline(population),
            facts: facts::of_population(case),
            map: map::of_population(population),
            kinds: kinds(population),
            slots: slots::of_population(case),
            limits: limits(population),
            notes: notes(case),
        }
    }
}

fn headline(population: &Population<'_>) -> String {
    let totals = population.totals;
    let dimms = totals.dimms();
    match (totals.slots, dimms.slots) {
        (0, _) => "No memory slot in this listing".to_owned(),
        (_, slots) => format!("{} in {} of {slots} slots", total(population), dimms.fitted),
    }
}

fn kinds(population: &Population<'_>) -> Vec<ModuleKind> {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for index in population.in_board_order() {
        let slot: &Slot<'_> = &population.slots[index];
        let Some(module) = slot.module() else { continue };
        let mut text = describe(&Module { serial: None, ..module.clone() });
        if slot.fitted().is_none() {
            text.push_str(" (named, not running)");
        }
        let place = match module.serial {
            Some(serial) => format!("{} (serial {serial})", slot.name),
            None => slot.name.to_string(),
        };
        match kinds.iter_mut().find(|(kind, _)| *kind == text) {
            Some((_, slots)) => slots.push(place),
            None => kinds.push((text, vec![place])),
        }
    }
    let kinds = kinds.into_iter().map(|(kind, slots)| ModuleKind {
        count: slots.len(),
        kind,
        slots: format!("in {}", slots.join(", ")),
    });
    kinds.collect()
}

fn describe(module: &Module<'_>) -> String {
    let mut text = crate::plan::agreement::describe_found(module);
    if let Some(configured) = module.configured
        && module.rated.is_none_or(|rated| !rated.same_grade(configured))
    {
        text.push_str(&format!(", runs at {configured}"));
    }
    if let Some(voltage) = module.voltage {
        text.push_str(&format!(", {voltage}"));
    }
    if module.persistent {
        text.push_str(&format!(", {} of it volatile, {} persistent", module.volatile, module.keeps));
    }
    match module.check_bits {
        CheckBits::Present => text.push_str(", ECC by its widths"),
        CheckBits::None => text.push_str(", no ECC by its widths"),
        CheckBits::Unknown => {}
    }
    text
}

fn limits(population: &Population<'_>) -> Vec<String> {
    let mut limits = vec![
        "chip width (x4, x8): SMBIOS has no field for it".to_owned(),
        "whether an empty slot really is empty: an unseated module reads the same".to_owned(),
    ];
    let all = |open: fn(&Module<'_>) -> bool| {
        population.totals.fitted > 0 && population.fitted().any(|(_, module)| open(module))
    };
    for (open, text) in [
        (all(|m| m.configured.is_none()), "the speed at which some modules run"),
        (all(|m| m.ranks.is_none()), "the ranks of some modules"),
        (all(|m| m.kind.is_none()), "whether some modules are registered, unbuffered or load-reduced"),
        (all(|m| m.serial.is_none()), "the serial numbers of some modules"),
        (all(|m| m.part.is_none()), "the part numbers of some modules"),
        (all(|m| m.bytes().is_none()), "the exact size of some modules"),
        (
            population.slots.iter().any(|slot| slot.location.channel.is_none()),
            "the channel of some slots: their labels do not prove it",
        ),
    ] {
        if open {
            limits.push(text.to_owned());
        }
    }
    limits
}
