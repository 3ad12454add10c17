//! The terminal form of a population.

use std::io::{self, Write};

use super::layout::{Page, Tone, columns, pad};
use super::map::{self, Mark};
use super::population_json::notes;
use crate::case::Case;
use crate::population::{CheckBits, Module, Population, Slot, SlotState};
use crate::records::enums::ProcessorStatus;
use crate::units::Bytes;

/// Writes the population for a person: totals, map, modules, what the listing cannot tell.
///
/// # Errors
/// Those of `out`.
pub fn write_population(case: &Case<'_>, out: &mut dyn Write) -> io::Result<()> {
    let population = &case.population;
    let mut page = Page::new(out);
    page.text(0, 2, Tone::Heading, &headline(population))?;
    write_origin(&mut page, case)?;
    page.entry(0, "speed", &speed(population))?;
    page.entry(0, "mapped", &mapped(population))?;
    if population.slots.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Where it is")?;
    map::write(&mut page, population, &|name| match population.slot(name).map(|(_, slot)| &slot.state) {
        Some(SlotState::NotRunning(_)) => Mark::Fault,
        Some(SlotState::Unknown) => Mark::Open,
        _ => Mark::None,
    })?;
    page.blank()?;
    page.text(0, 2, Tone::Heading, "What it is")?;
    write_modules(&mut page, population)?;
    page.blank()?;
    page.text(0, 2, Tone::Heading, "What this listing cannot tell")?;
    for limit in limits(population) {
        page.text(2, 4, Tone::Plain, &format!("- {limit}"))?;
    }
    let notes = notes(case);
    if !notes.is_empty() {
        page.blank()?;
        page.text(0, 2, Tone::Heading, "Noticed while reading")?;
    }
    for note in notes {
        let place = note.line.map_or_else(String::new, |line| format!("line {line}: "));
        let times = if note.count > 1 { format!(" ({} times)", note.count) } else { String::new() };
        page.text(2, 4, Tone::Plain, &format!("- {place}{}{times}", note.text))?;
    }
    Ok(())
}

/// Name and version of the input, and the machine.
pub(super) fn write_origin(page: &mut Page<'_>, case: &Case<'_>) -> io::Result<()> {
    for (key, text) in origin(case) {
        page.entry(0, key, &text)?;
    }
    Ok(())
}

/// As [`write_origin`]: keys and texts.
pub(super) fn origin(case: &Case<'_>) -> Vec<(&'static str, String)> {
    let version = match (case.listing.smbios.get(), case.listing.dmidecode.get()) {
        (Some(smbios), Some(utility)) => format!(" (SMBIOS {smbios}, utility {utility})"),
        (Some(smbios), None) => format!(" (SMBIOS {smbios})"),
        (None, Some(utility)) => format!(" (utility {utility})"),
        (None, None) => String::new(),
    };
    let mut facts = vec![("listing", format!("{}{version}", case.name))];
    let machine = super::slots::machine(case);
    let mut words: Vec<String> = [machine.maker, machine.product].into_iter().flatten().collect();
    words.extend(machine.serial.map(|serial| format!("serial {serial}")));
    if !words.is_empty() {
        facts.push(("machine", words.join(", ")));
    }
    facts
}

/// The sum of the modules in words.
pub(super) fn total(population: &Population<'_>) -> String {
    let totals = population.totals;
    let size = match totals.detected {
        Some(size) => size.to_string(),
        None => format!("at least {}", totals.detected_at_least),
    };
    match totals.persistent.0 {
        0 => size,
        persistent => {
            let volatile = Bytes(totals.detected_at_least.0.saturating_sub(persistent));
            format!("{size} ({volatile} volatile and {} persistent)", totals.persistent)
        }
    }
}

pub(super) fn headline(population: &Population<'_>) -> String {
    let totals = population.totals;
    let size = total(population);
    match totals.slots {
        0 => "No memory slot in this listing".to_owned(),
        slots => format!("{size} in {} of {slots} slots", totals.fitted),
    }
}

/// `1066 MT/s, modules rated 1333 MT/s`.
pub(super) fn speed(population: &Population<'_>) -> String {
    let range = |rates: Vec<u32>| -> Option<String> {
        let (low, high) = (rates.iter().min()?, rates.iter().max()?);
        Some(if high - low <= 2 { format!("{high} MT/s") } else { format!("{low} to {high} MT/s") })
    };
    let configured = range(population.fitted().filter_map(|(_, m)| m.configured).map(|r| r.0).collect());
    let rated = range(population.fitted().filter_map(|(_, m)| m.rated).map(|r| r.0).collect());
    let configured =
        configured.map_or_else(|| "running speed not stated".to_owned(), |speed| format!("runs at {speed}"));
    let rated = rated.map_or_else(|| "rated speed not stated".to_owned(), |speed| format!("rated {speed}"));
    format!("{configured}, {rated}")
}

pub(super) fn mapped(population: &Population<'_>) -> String {
    match population.totals.mapped {
        Some(size) if Some(size) == population.totals.detected => format!("{size}, the sum of the modules"),
        Some(size) => size.to_string(),
        None => "no address ranges in this listing".to_owned(),
    }
}

pub(super) fn status_word(status: ProcessorStatus) -> &'static str {
    match status {
        ProcessorStatus::Unpopulated => "unpopulated",
        ProcessorStatus::Running => "running",
        ProcessorStatus::Disabled => "disabled",
        ProcessorStatus::Populated => "populated",
    }
}

/// Equal modules on one line with the slots that hold them and their serial numbers.
fn write_modules(page: &mut Page<'_>, population: &Population<'_>) -> io::Result<()> {
    let kinds = modules(population);
    let width = kinds.iter().map(|(_, slots)| columns(&slots.len().to_string())).max().unwrap_or(1);
    for (kind, slots) in kinds {
        let count = pad(&slots.len().to_string(), width);
        page.text(2, 5 + width, Tone::Plain, &format!("{count} x {kind}"))?;
        page.text(5 + width, 5 + width, Tone::Quiet, &format!("in {}", slots.join(", ")))?;
    }
    Ok(())
}

/// Each kind of module with the slots that hold one and their serial numbers, in the order of the board.
pub(super) fn modules(population: &Population<'_>) -> Vec<(String, Vec<String>)> {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for index in population.in_board_order() {
        let slot: &Slot<'_> = &population.slots[index];
        let Some(module) = slot.module() else { continue };
        let mut text = describe(&Module { serial: None, ..module.clone() });
        if slot.fitted().is_none() {
            text.push_str(" (named, gives no memory)");
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
    kinds
}

pub(super) fn describe(module: &Module<'_>) -> String {
    let mut text = crate::plan::agreement::describe_found(module);
    if let Some(configured) = module.configured
        && module.rated.is_none_or(|rated| !rated.same_grade(configured))
    {
        text.push_str(&format!(", runs at {configured}"));
    }
    if let Some(voltage) = module.voltage {
        text.push_str(&format!(", {voltage}"));
    }
    match module.check_bits {
        CheckBits::Present => text.push_str(", ECC by its widths"),
        CheckBits::None => text.push_str(", no ECC by its widths"),
        CheckBits::Unknown => {}
    }
    text
}

pub(super) fn limits(population: &Population<'_>) -> Vec<String> {
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
