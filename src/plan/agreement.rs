//! One planned module against one found module, field by field.

use super::{DemandField, ModuleSpec};
use crate::base::words::counted;
use crate::evidence::Place;
use crate::identity::text_of_bytes;
use crate::population::identity::Maker;
use crate::population::{CheckBits, Module, ModuleKind, ModuleSize};
use crate::records::MemoryDevice;
use crate::records::enums::MemoryType;
use crate::units::{Bytes, Millivolts};

/// Whether nothing that the listing states about a module contradicts the demand.
pub(crate) fn could_be(wanted: &ModuleSpec, found: &Module<'_>) -> bool {
    agrees(&compare(wanted, found))
}

/// The fields in which a found module differs from a planned one or leaves a demand unproven, by their words.
pub(crate) fn differing_fields(wanted: &ModuleSpec, found: &Module<'_>) -> Vec<&'static str> {
    compare(wanted, found).into_iter().map(|(field, _)| field.word()).collect()
}

/// The fields of a module that the plan demands, in the order in which they are compared.
pub(crate) fn demanded_fields(wanted: &ModuleSpec) -> impl Iterator<Item = DemandField> {
    [
        (DemandField::Size, wanted.size.is_some()),
        (DemandField::Type, wanted.memory_type.is_some()),
        (DemandField::Kind, wanted.kind.is_some()),
        (DemandField::Ranks, wanted.ranks.is_some()),
        (DemandField::Rated, wanted.rated.is_some()),
        (DemandField::Voltage, wanted.voltage.is_some()),
        (DemandField::Ecc, wanted.ecc.is_some()),
        // A maker that names nobody is compared with nothing.
        (DemandField::Maker, wanted.maker.as_deref().and_then(Maker::read).is_some()),
        (DemandField::Part, wanted.part.is_some()),
        (DemandField::Serial, wanted.serial.is_some()),
        (DemandField::Width, wanted.width.is_some()),
    ]
    .into_iter()
    .filter_map(|(field, demanded)| demanded.then_some(field))
}

/// The fields in which the listing states something else than was planned, by their words.
pub(crate) fn contradicted_fields(wanted: &ModuleSpec, found: &Module<'_>) -> Vec<&'static str> {
    let differing = compare(wanted, found).into_iter().filter(|(_, outcome)| *outcome == Outcome::Differs);
    differing.map(|(field, _)| field.word()).collect()
}

/// What a field's comparison gave, where it did not simply agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// The listing states something else.
    Differs,
    /// The listing does not state it.
    Unproven,
}

/// The fields in which a found module differs from the planned one or leaves it open. Nothing is allocated
/// where all agree.
pub(crate) fn compare(wanted: &ModuleSpec, found: &Module<'_>) -> Vec<(DemandField, Outcome)> {
    let mut result = Vec::new();
    let mut check = |field, outcome: Option<Outcome>| {
        if let Some(outcome) = outcome {
            result.push((field, outcome));
        }
    };
    check(DemandField::Size, wanted.size.and_then(|size| compare_size(size, found)));
    check(
        DemandField::Type,
        wanted.memory_type.and_then(|t| match found.memory_type {
            Some(f) if t.same_generation(f) => None,
            Some(f) if f.is_general() && !t.is_general() => Some(Outcome::Unproven),
            // What a persistent module is to the system says nothing of the slot that it is made for.
            Some(MemoryType::LOGICAL_NON_VOLATILE) | None => Some(Outcome::Unproven),
            Some(_) => Some(Outcome::Differs),
        }),
    );
    check(DemandField::Kind, wanted.kind.and_then(|kind| compare_kind(kind, found)));
    check(
        DemandField::Ranks,
        wanted.ranks.and_then(|ranks| stated(found.ranks, |r| r == ranks || wanted.package_ranks == Some(r))),
    );
    check(DemandField::Rated, wanted.rated.and_then(|rated| stated(found.rated, |r| r.same_grade(rated))));
    check(DemandField::Voltage, wanted.voltage.and_then(|voltage| compare_voltage(voltage, found)));
    check(DemandField::Ecc, wanted.ecc.and_then(|ecc| compare_ecc(ecc, found.check_bits)));
    check(
        DemandField::Maker,
        wanted.maker.as_deref().and_then(|maker| match Maker::read(maker) {
            // A code that can be read in two ways denies no maker.
            Some(maker) => {
                stated(found.maker.filter(|m| !m.undecided || m.same_as(&maker)), |m| m.same_as(&maker))
            }
            None => None,
        }),
    );
    let part_agrees =
        wanted.part.as_deref().map(|part| stated(found.part.as_deref(), |found| same_part(found, part)));
    check(DemandField::Part, part_agrees.flatten());
    check(
        DemandField::Serial,
        wanted
            .serial
            .as_deref()
            .and_then(|serial| stated(found.serial, |s| s.eq_ignore_ascii_case(serial.trim()))),
    );
    // No record has a field for the chip width; only the part number, if it is demanded and agrees, stands
    // for the module's design.
    let by_part = part_agrees == Some(None);
    check(DemandField::Width, wanted.width.filter(|_| !by_part).map(|_| Outcome::Unproven));
    result
}

/// Whether two part numbers are one: firmware pads them or prints their bytes, and people type them in either case, with
/// or without blanks.
pub(crate) fn same_part(one: &str, other: &str) -> bool {
    let letters = |part: &'_ str| -> Vec<char> {
        let decoded = text_of_bytes(part.trim());
        let part = decoded.as_deref().unwrap_or(part);
        let kept = part.chars().filter(|c| !c.is_whitespace() && !c.is_control());
        kept.map(|c| c.to_ascii_uppercase()).collect()
    };
    letters(one) == letters(other)
}

fn stated<T>(found: Option<T>, agrees: impl FnOnce(T) -> bool) -> Option<Outcome> {
    let Some(value) = found else { return Some(Outcome::Unproven) };
    if agrees(value) { None } else { Some(Outcome::Differs) }
}

/// What persistent modules are sold as, and what firmware states of them: 26 modules of `129408 MB` and 2 of `258496 MB`
/// whose part numbers name 128 and 256 GB (data set "DMI Tables" of the linuxhw project).
const NOMINAL_SIZES: &[(Bytes, Bytes)] =
    &[(Bytes::gib(128), Bytes::mib(129_408)), (Bytes::gib(256), Bytes::mib(258_496))];

/// How far below its label a persistent module of another size may be. From memory, unverified, so that it leaves the
/// size open and proves nothing.
const NOMINAL_SLACK_PERCENT: u64 = 3;

fn compare_size(wanted: Bytes, found: &Module<'_>) -> Option<Outcome> {
    match found.size {
        ModuleSize::Exactly(size) if size == wanted => None,
        ModuleSize::Exactly(size) if found.persistent && NOMINAL_SIZES.contains(&(wanted, size)) => None,
        ModuleSize::Exactly(size) if found.persistent => {
            let least = wanted.0 - wanted.0 / 100 * NOMINAL_SLACK_PERCENT;
            let near = (least..wanted.0).contains(&size.0);
            Some(if near { Outcome::Unproven } else { Outcome::Differs })
        }
        ModuleSize::Exactly(_) => Some(Outcome::Differs),
        ModuleSize::AtLeast(size) if wanted < size => Some(Outcome::Differs),
        ModuleSize::AtLeast(_) | ModuleSize::Unknown => Some(Outcome::Unproven),
    }
}

fn compare_kind(wanted: ModuleKind, found: &Module<'_>) -> Option<Outcome> {
    match (wanted, found.kind) {
        (wanted, Some(kind)) if kind == wanted => None,
        // Many firmwares print load-reduced modules as registered, which they are too.
        (_, None) | (ModuleKind::Lrdimm, Some(ModuleKind::Rdimm)) => Some(Outcome::Unproven),
        (ModuleKind::EccUdimm, Some(ModuleKind::Udimm)) if found.check_bits == CheckBits::Unknown => {
            Some(Outcome::Unproven)
        }
        _ => Some(Outcome::Differs),
    }
}

/// A module made for a range of voltages meets a demand inside it; the voltage it is driven at proves only
/// that it can do that one.
fn compare_voltage(wanted: Millivolts, found: &Module<'_>) -> Option<Outcome> {
    match (found.minimum_voltage, found.maximum_voltage) {
        (Some(low), Some(high)) if low <= high => {
            if (low..=high).contains(&wanted) {
                None
            } else {
                Some(Outcome::Differs)
            }
        }
        _ if found.voltage == Some(wanted) => None,
        _ => Some(Outcome::Unproven),
    }
}

fn compare_ecc(wanted: bool, found: CheckBits) -> Option<Outcome> {
    match (wanted, found) {
        (true, CheckBits::Present) | (false, CheckBits::None) => None,
        (_, CheckBits::Unknown) => Some(Outcome::Unproven),
        _ => Some(Outcome::Differs),
    }
}

/// Whether nothing the listing states contradicts the demand.
pub(crate) fn agrees(differences: &[(DemandField, Outcome)]) -> bool {
    differences.iter().all(|(_, outcome)| *outcome == Outcome::Unproven)
}

/// What the plan demands of a field, as text.
pub(crate) fn wanted_text(wanted: &ModuleSpec, field: DemandField) -> String {
    let show = |value: Option<String>| value.unwrap_or_default();
    match field {
        DemandField::Size => show(wanted.size.map(|v| v.to_string())),
        DemandField::Ranks => show(wanted.ranks.map(|v| counted(usize::from(v), "rank"))),
        DemandField::Width => show(wanted.width.map(|v| format!("x{v} chips"))),
        DemandField::Type => show(wanted.memory_type.map(|v| v.to_string())),
        DemandField::Kind => show(wanted.kind.map(|v| v.to_string())),
        DemandField::Rated => show(wanted.rated.map(|v| format!("rated {v}"))),
        DemandField::Voltage => show(wanted.voltage.map(|v| v.to_string())),
        DemandField::Maker => show(wanted.maker.clone()),
        DemandField::Part => show(wanted.part.as_ref().map(|v| format!("part {v}"))),
        DemandField::Serial => show(wanted.serial.as_ref().map(|v| format!("serial {v}"))),
        DemandField::Ecc => match wanted.ecc {
            Some(true) => "check bits".to_owned(),
            Some(false) => "no check bits".to_owned(),
            None => String::new(),
        },
        DemandField::Presence
        | DemandField::Speed
        | DemandField::Total
        | DemandField::Machine
        | DemandField::Errors => String::new(),
    }
}

/// What the listing says of a field, as text.
pub(crate) fn found_text(found: &Module<'_>, field: DemandField) -> String {
    let show = |value: Option<String>| value.unwrap_or_else(|| "not stated".to_owned());
    match field {
        DemandField::Size => match found.size {
            ModuleSize::Exactly(size) => size.to_string(),
            ModuleSize::AtLeast(_) => "32 GiB or more".to_owned(),
            ModuleSize::Unknown => "size not stated".to_owned(),
        },
        DemandField::Ranks => show(found.ranks.map(|v| counted(usize::from(v), "rank"))),
        DemandField::Type => show(found.memory_type.map(|v| v.to_string())),
        DemandField::Kind => show(found.kind.map(|v| v.to_string())),
        DemandField::Rated => show(found.rated.map(|v| format!("rated {v}"))),
        DemandField::Voltage => match (found.minimum_voltage, found.maximum_voltage) {
            (Some(low), Some(high)) if low == high => low.to_string(),
            (Some(low), Some(high)) => format!("{low} to {high}"),
            _ => show(found.voltage.map(|v| format!("driven at {v}"))),
        },
        DemandField::Maker => show(found.maker.map(|v| v.name().to_owned())),
        DemandField::Part => show(found.part.as_deref().map(|v| format!("part {v}"))),
        DemandField::Serial => show(found.serial.map(|v| format!("serial {v}"))),
        DemandField::Ecc => match found.check_bits {
            CheckBits::Present => "check bits".to_owned(),
            CheckBits::None => "no check bits".to_owned(),
            CheckBits::Unknown => "check bits not shown".to_owned(),
        },
        DemandField::Width => "not stated".to_owned(),
        DemandField::Presence
        | DemandField::Speed
        | DemandField::Total
        | DemandField::Machine
        | DemandField::Errors => String::new(),
    }
}

/// The line of the record that states a field, or leaves it unknown.
pub(crate) fn place_of(device: &MemoryDevice<'_>, field: DemandField) -> Option<Place> {
    match field {
        DemandField::Size | DemandField::Presence | DemandField::Total => device.size.place(),
        DemandField::Ranks => device.rank.place(),
        DemandField::Type => device.memory_type.place(),
        DemandField::Kind => device.type_detail.place().or(device.form_factor.place()),
        DemandField::Rated => device.speed.place(),
        DemandField::Voltage => device.minimum_voltage.place().or(device.configured_voltage.place()),
        DemandField::Maker => device.manufacturer.place(),
        DemandField::Part => device.part_number.place(),
        DemandField::Serial => device.serial.place(),
        DemandField::Ecc => device.total_width.place(),
        DemandField::Speed => device.configured_speed.place(),
        DemandField::Width | DemandField::Machine | DemandField::Errors => None,
    }
}

/// A short description of a planned module: its sticker, or its fields.
pub(crate) fn describe_wanted(wanted: &ModuleSpec) -> String {
    let mut words: Vec<String> = Vec::new();
    if let Some(sticker) = &wanted.sticker {
        words.push(sticker.clone());
    } else {
        for field in
            [DemandField::Size, DemandField::Type, DemandField::Kind, DemandField::Ranks, DemandField::Rated]
        {
            words.push(wanted_text(wanted, field));
        }
    }
    for field in [DemandField::Maker, DemandField::Part, DemandField::Serial] {
        words.push(wanted_text(wanted, field));
    }
    join(words, "a module")
}

/// A short description of a found module.
pub(crate) fn describe_found(found: &Module<'_>) -> String {
    let fields = [
        (DemandField::Size, true),
        (DemandField::Type, found.memory_type.is_some()),
        (DemandField::Kind, found.kind.is_some()),
        (DemandField::Ranks, found.ranks.is_some()),
        (DemandField::Rated, found.rated.is_some()),
        (DemandField::Maker, found.maker.is_some()),
        (DemandField::Part, found.part.is_some()),
        (DemandField::Serial, found.serial.is_some()),
    ];
    join(
        fields.iter().filter(|(_, known)| *known).map(|(field, _)| found_text(found, *field)).collect(),
        "a module",
    )
}

fn join(words: Vec<String>, nothing: &str) -> String {
    let words: Vec<String> = words.into_iter().filter(|word| !word.is_empty()).collect();
    if words.is_empty() { nothing.to_owned() } else { words.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn part_numbers_are_the_same_in_any_case_and_with_any_blanks() {
        for (one, other) in [
            ("P03052-091", "p03052-091"),
            ("M393A2K43 BB1-CRC  ", "m393a2k43bb1-crc"),
            ("A\u{0}", "a"),
            ("0x48594D503131325336344352362D53362020", "hymp112s64cr6-s6"),
        ] {
            assert!(same_part(one, other), "{one} {other}");
        }
        assert!(!same_part("P03052-091", "P03052-09"));
        assert!(!same_part("P03052-091", "P03052091"));
    }
}
