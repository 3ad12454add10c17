//! From YAML to a checked plan. The forms below are the plan file's shape; nothing else knows them.

use std::collections::{HashMap, HashSet};
use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error, MapAccess, Visitor, value::MapAccessDeserializer};

use super::{
    DEMAND_FIELDS, Demand, DemandField, Expectation, MachineSelector, ModuleSpec, Plan, PlannedSlot,
    Processor, parse_sticker,
};
use crate::population::identity::{clean, collapse};
use crate::population::{MODULE_KINDS, ModuleKind};
use crate::records::enums::{MEMORY_TYPES, MemoryType};
use crate::units::{Bytes, Millivolts, TransferRate};
use crate::yaml::{FileError, Many, Source, did_you_mean};

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted plan"))]
/// What should be fitted in one machine.
struct PlanForm {
    /// Name of the plan, shown in reports.
    name: Option<String>,
    /// Marks by which the machine is recognised; what is left out selects nothing.
    machine: Option<MachineForm>,
    /// Name of the board description.
    board: Option<String>,
    /// Processor models, one per socket in the board's order; `none` for an empty socket. They tell the speed to
    /// expect and are not compared with the listing.
    processors: Many,
    /// Mode of the memory for the visible total to expect: `mirroring` or `rank sparing`.
    mode: Option<String>,
    /// Modules without slots, for `plan place`: `12 x 32GB 4Rx4 PC3L-10600R`, or a count and a module.
    order: Vec<OrderForm>,
    /// Which modules go into which slots.
    fit: Vec<FitForm>,
    /// Slots that must hold nothing.
    empty: Many,
    /// Slots whose module is known not to run.
    idle: Many,
    /// Demands on the whole machine.
    expect: Option<ExpectForm>,
    /// Fields that need no proof: a listing that does not state them does not make the verdict unproven.
    waive: Many,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Marks by which a machine is recognised.
struct MachineForm {
    /// Serial number of the machine.
    serial: Option<String>,
    /// Asset tag of the machine or its board.
    asset_tag: Option<String>,
    /// Host name.
    host: Option<String>,
    /// Product name.
    product: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One kind of module and the slots it goes into.
struct FitForm {
    /// The module: the label on its sticker, or fields, or `any`.
    module: ModuleForm,
    /// The slots, by their names in the listing.
    slots: Many,
    /// Serial numbers, one per slot in the same order.
    #[serde(default)]
    serials: Many,
}

/// So many modules of a kind: as an order line, or as count and module.
#[derive(Debug)]
enum OrderForm {
    Line(String),
    Fields(CountForm),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A number of modules of one kind.
struct CountForm {
    /// How many.
    count: u32,
    /// The module.
    module: ModuleForm,
}

impl<'de> Deserialize<'de> for OrderForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct OrderVisitor;
        impl<'de> Visitor<'de> for OrderVisitor {
            type Value = OrderForm;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an order line such as `12 x 32GB 4Rx4 PC3L-10600R`, or a count and a module")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<OrderForm, E> {
                Ok(OrderForm::Line(text.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<OrderForm, A::Error> {
                CountForm::deserialize(MapAccessDeserializer::new(map)).map(OrderForm::Fields)
            }
        }
        deserializer.deserialize_any(OrderVisitor)
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Demands on the whole machine.
struct ExpectForm {
    /// Configured speed of every module in MT/s.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    speed: Option<String>,
    /// Total of all modules, for example `384 GiB`.
    total: Option<String>,
    /// Whether the machine corrects errors: `on` or `off`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    ecc: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A module by its fields; what is left out is not demanded.
struct FieldsForm {
    /// The label on the sticker, for example `32GB 4Rx4 PC3L-10600R`; fields add to it.
    sticker: Option<String>,
    /// Size, for example `32 GiB`.
    size: Option<String>,
    /// Ranks, 1 to 16.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    ranks: Option<String>,
    /// Data lines per chip: 4, 8, 16 or 32.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    width: Option<String>,
    /// Generation, for example `DDR4`.
    #[serde(rename = "type")]
    memory_type: Option<String>,
    /// Kind: UDIMM, ECC UDIMM, RDIMM, LRDIMM, FB-DIMM, SO-DIMM, MRDIMM, NVDIMM.
    kind: Option<String>,
    /// Rated speed in MT/s.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    rated: Option<String>,
    /// Supply voltage, for example `1.35 V`.
    voltage: Option<String>,
    /// Maker.
    maker: Option<String>,
    /// Part number.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    part: Option<String>,
    /// Serial number, for a line with one slot.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    serial: Option<String>,
    /// Whether the module has check bits: `on` or `off`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    ecc: Option<String>,
}

/// A text or a number, for the schema: YAML readers take either.
#[cfg(feature = "schema")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "describes the file's shape to editors only")]
enum Scalar {
    Number(f64),
    Text(String),
    Flag(bool),
}

/// A module as a sticker or as fields.
#[derive(Debug)]
enum ModuleForm {
    Sticker(String),
    Fields(Box<FieldsForm>),
}

impl<'de> Deserialize<'de> for ModuleForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct ModuleVisitor;
        impl<'de> Visitor<'de> for ModuleVisitor {
            type Value = ModuleForm;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a module: its sticker as text, or its fields")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<ModuleForm, E> {
                Ok(ModuleForm::Sticker(text.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<ModuleForm, A::Error> {
                FieldsForm::deserialize(MapAccessDeserializer::new(map)).map(Box::new).map(ModuleForm::Fields)
            }
        }
        deserializer.deserialize_any(ModuleVisitor)
    }
}

#[cfg(feature = "schema")]
mod schema_impls;

/// The JSON Schema of plan files, for editors.
#[cfg(feature = "schema")]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(PlanForm).to_value()
}

/// Reads and checks a plan.
///
/// # Errors
/// [`FileError`] with the line, what was found, what was expected and what to do.
pub fn read(file: &str, text: &str) -> Result<Plan, FileError> {
    let source = Source { file, text, what: "a plan in YAML", page: "docs/plan.md" };
    let form: PlanForm = source.read()?;
    Reader { source, lines: source.index() }.plan(form)
}

struct Reader<'t> {
    source: Source<'t>,
    /// Where names stand, since a plan can hold thousands of them.
    lines: HashMap<String, u32>,
}

/// The slots read so far, with their names.
#[derive(Default)]
struct Slots {
    all: Vec<PlannedSlot>,
    names: HashSet<String>,
}

impl Reader<'_> {
    fn plan(&self, form: PlanForm) -> Result<Plan, FileError> {
        let mut slots = Slots::default();
        for fit in form.fit {
            self.fit(fit, &mut slots)?;
        }
        for (names, demand) in [(form.empty, Demand::Empty), (form.idle, Demand::Idle)] {
            for name in names.0 {
                self.add(&mut slots, &name, demand.clone())?;
            }
        }
        let order = form.order.into_iter().map(|line| self.order(line)).collect::<Result<Vec<_>, _>>()?;
        let expect = form.expect.map(|expect| self.expectation(&expect)).transpose()?.unwrap_or_default();
        let machine = form.machine.unwrap_or_default();
        let waived = form.waive.0.iter().map(|word| self.waived(word)).collect::<Result<_, _>>()?;
        let plan = Plan {
            source: self.source.file.to_owned(),
            name: form.name,
            machine: MachineSelector {
                serial: machine.serial,
                asset_tag: machine.asset_tag,
                host: machine.host,
                product: machine.product,
            },
            board: form.board,
            mode: form.mode,
            processors: form.processors.0.into_iter().map(processor).collect(),
            order,
            slots: slots.all,
            expect,
            waived,
        };
        if plan.order.is_empty() && !plan.demands_anything() {
            let advice = "Write at least one line under `fit`, or start from `asfitted plan from LISTING`.";
            return Err(self.source.error(
                None,
                "no demand at all",
                "slots under `fit`, `empty` or `idle`, or a key under `expect`",
                advice,
            ));
        }
        Ok(plan)
    }

    fn order(&self, form: OrderForm) -> Result<(u32, ModuleSpec), FileError> {
        let (count, wanted, text) = match form {
            OrderForm::Line(text) => {
                let split =
                    text.split_once(['x', 'X', '×']).filter(|(count, _)| count.trim().parse::<u32>().is_ok());
                let Some((count, sticker)) = split else {
                    return Err(self.source.bad(
                        &text,
                        "order",
                        "a line such as `12 x 32GB 4Rx4 PC3L-10600R`",
                    ));
                };
                (count.trim().parse().unwrap_or(0), self.sticker(sticker.trim())?, text.clone())
            }
            OrderForm::Fields(form) => {
                (form.count, self.module(form.module, "order")?, form.count.to_string())
            }
        };
        if !(1..=4096).contains(&count) {
            return Err(self.source.bad(&text, "order", "a count from 1 to 4096"));
        }
        Ok((count, wanted))
    }

    fn waived(&self, word: &str) -> Result<DemandField, FileError> {
        DEMAND_FIELDS.iter().find(|(_, name)| *name == word).map(|(field, _)| *field).ok_or_else(|| {
            let names = DEMAND_FIELDS.iter().map(|(_, name)| *name);
            let expected = format!("one of {}", names.clone().collect::<Vec<_>>().join(", "));
            self.source.error(
                self.source.line_of(word),
                format!("`{word}` under `waive`"),
                expected,
                did_you_mean(word, names),
            )
        })
    }

    fn fit(&self, fit: FitForm, slots: &mut Slots) -> Result<(), FileError> {
        let names = fit.slots.0;
        let wanted = self.module(fit.module, names.first().map_or("", String::as_str))?;
        let line = names.first().and_then(|name| self.source.line_of(name));
        if names.is_empty() {
            let advice = "Name the slots under `slots`, or remove the line.";
            return Err(self.source.error(None, "a line of `fit` without slots", "one slot or more", advice));
        }
        let serials = fit.serials.0;
        if !serials.is_empty() && serials.len() != names.len() {
            let found = format!("{} slots and {} serial numbers", names.len(), serials.len());
            return Err(self.source.error(
                line,
                found,
                "one serial per slot, in the same order",
                "Add or remove serials.",
            ));
        }
        if wanted.serial.is_some() && names.len() > 1 {
            let found = format!("one serial for {} slots", names.len());
            let advice = "Write `serials: [...]` with one serial per slot, or split the line.";
            return Err(self.source.error(line, found, "one serial per module", advice));
        }
        if let Some(serial) = serials.iter().find(|serial| clean(serial).is_none()) {
            let line = self.lines.get(serial.as_str()).copied().or(line);
            let found = format!("`{serial}` under `serials`, which is no serial number but a placeholder");
            let advice = "Read it off the sticker, or leave `serials` out to take any serial number.";
            return Err(self.source.error(line, found, "the serial number of each module", advice));
        }
        for (index, name) in names.iter().enumerate() {
            let serial = serials.get(index).cloned().or_else(|| wanted.serial.clone());
            self.add(slots, name, Demand::Module(ModuleSpec { serial, ..wanted.clone() }))?;
        }
        Ok(())
    }

    fn add(&self, slots: &mut Slots, name: &str, demand: Demand) -> Result<(), FileError> {
        let slot = collapse(name).into_owned();
        if slot.is_empty() {
            return Err(self.source.error(
                None,
                "an empty slot name",
                "the name of a slot",
                "Remove it, or name the slot.",
            ));
        }
        if !slots.names.insert(slot.clone()) {
            let line = self.source.lines_with(&slot).nth(1).or_else(|| self.source.line_of(&slot));
            let advice = "Keep one of the two.";
            return Err(self.source.error(line, format!("slot `{slot}` twice"), "each slot once", advice));
        }
        let line = self.lines.get(&slot).copied().or_else(|| self.source.line_of(&slot)).unwrap_or(0);
        slots.all.push(PlannedSlot { slot, line, demand });
        Ok(())
    }

    fn module(&self, form: ModuleForm, near: &str) -> Result<ModuleSpec, FileError> {
        match form {
            ModuleForm::Sticker(text) if text.trim() == "any" => Ok(ModuleSpec::default()),
            ModuleForm::Sticker(text) => self.sticker(&text),
            ModuleForm::Fields(fields) => self.fields(*fields, near),
        }
    }

    fn sticker(&self, text: &str) -> Result<ModuleSpec, FileError> {
        parse_sticker(text).map_err(|error| {
            let advice = "Copy the label as printed, or write the module as fields (size, ranks, type, ...).";
            let line = self.source.line_of(text);
            self.source.error(
                line,
                error.to_string(),
                "a module label such as `16GB 2Rx4 PC3L-12800R`",
                advice,
            )
        })
    }

    fn fields(&self, form: FieldsForm, near: &str) -> Result<ModuleSpec, FileError> {
        let mut wanted = match &form.sticker {
            Some(text) => self.sticker(text)?,
            None => ModuleSpec::default(),
        };
        if let Some(text) = &form.size {
            let size = Bytes::parse(text).filter(|size| size.is_plausible());
            let size =
                size.ok_or_else(|| self.source.bad(text, "size", "a size such as `16 GiB`, up to 16 TiB"))?;
            self.set(&mut wanted.size, size, "size", text)?;
        }
        if let Some(text) = &form.ranks {
            let ranks = text.parse().ok().filter(|ranks| (1..=16).contains(ranks));
            let ranks = ranks.ok_or_else(|| self.source.bad(text, "ranks", "a number from 1 to 16"))?;
            self.set(&mut wanted.ranks, ranks, "ranks", text)?;
        }
        if let Some(text) = &form.width {
            let width =
                text.trim_start_matches('x').parse().ok().filter(|width| matches!(width, 4 | 8 | 16 | 32));
            let width = width.ok_or_else(|| self.source.bad(text, "width", "4, 8, 16 or 32"))?;
            self.set(&mut wanted.width, width, "width", text)?;
        }
        if let Some(text) = &form.memory_type {
            let known = MEMORY_TYPES.iter().find(|(_, name)| name.eq_ignore_ascii_case(text.trim()));
            let memory_type = known.map(|(code, _)| MemoryType(*code)).filter(|t| !t.says_nothing());
            let memory_type =
                memory_type.ok_or_else(|| self.source.bad(text, "type", "a generation such as `DDR4`"))?;
            self.set(&mut wanted.memory_type, memory_type, "type", text)?;
        }
        if let Some(text) = &form.kind {
            let names = MODULE_KINDS.iter().map(|(_, name)| *name).collect::<Vec<_>>().join(", ");
            let kind = ModuleKind::parse(text)
                .ok_or_else(|| self.source.bad(text, "kind", &format!("one of {names}")))?;
            self.set(&mut wanted.kind, kind, "kind", text)?;
        }
        if let Some(text) = &form.rated {
            let rated = plausible_rate(text)
                .ok_or_else(|| self.source.bad(text, "rated", "a speed in MT/s such as `1333`"))?;
            self.set(&mut wanted.rated, rated, "rated", text)?;
        }
        if let Some(text) = &form.voltage {
            let voltage = Millivolts::parse(text).filter(|v| v.is_plausible());
            let voltage =
                voltage.ok_or_else(|| self.source.bad(text, "voltage", "a voltage such as `1.35 V`"))?;
            self.set(&mut wanted.voltage, voltage, "voltage", text)?;
        }
        if let Some(text) = &form.ecc {
            let ecc = self.flag(text)?;
            self.set(&mut wanted.ecc, ecc, "ecc", text)?;
        }
        for (field, text, key) in [
            (&mut wanted.maker, form.maker, "maker"),
            (&mut wanted.part, form.part, "part"),
            (&mut wanted.serial, form.serial, "serial"),
        ] {
            if let Some(text) = text {
                let text = text.trim().to_owned();
                if clean(&text).is_none() {
                    return Err(self.source.bad(
                        &text,
                        key,
                        "something printed on the module, no placeholder",
                    ));
                }
                *field = Some(text);
            }
        }
        if wanted == ModuleSpec::default() {
            let advice = "Write its size at least, or the label on its sticker.";
            return Err(self.source.error(
                self.source.line_of(near),
                "a module without any field",
                "a module",
                advice,
            ));
        }
        Ok(wanted)
    }

    /// A field may repeat what the sticker says, and not contradict it.
    fn set<T: PartialEq>(
        &self,
        field: &mut Option<T>,
        value: T,
        key: &str,
        text: &str,
    ) -> Result<(), FileError> {
        if field.as_ref().is_some_and(|old| *old != value) {
            let found = format!("`{key}: {text}`, which contradicts the sticker beside it");
            return Err(self.source.error(
                self.source.line_of(key),
                found,
                "a field that adds to the sticker",
                "Correct one of the two.",
            ));
        }
        *field = Some(value);
        Ok(())
    }

    fn flag(&self, text: &str) -> Result<bool, FileError> {
        match text {
            "on" | "true" | "yes" => Ok(true),
            "off" | "false" | "no" => Ok(false),
            _ => Err(self.source.bad(text, "ecc", "`on` or `off`")),
        }
    }

    fn expectation(&self, form: &ExpectForm) -> Result<Expectation, FileError> {
        let speed = form.speed.as_deref().map(|text| {
            plausible_rate(text)
                .ok_or_else(|| self.source.bad(text, "speed", "a speed in MT/s such as `1333`"))
        });
        let total = form.total.as_deref().map(|text| {
            Bytes::parse(text)
                .filter(|t| t.0 > 0)
                .ok_or_else(|| self.source.bad(text, "total", "a size such as `384 GiB`"))
        });
        let ecc = form.ecc.as_deref().map(|text| self.flag(text));
        Ok(Expectation { speed: speed.transpose()?, total: total.transpose()?, ecc: ecc.transpose()? })
    }
}

fn processor(model: String) -> Processor {
    if model.trim().eq_ignore_ascii_case("none") { Processor::Absent } else { Processor::Model(model) }
}

fn plausible_rate(text: &str) -> Option<TransferRate> {
    TransferRate::parse(text).filter(|rate| rate.is_plausible())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error_of(text: &str) -> String {
        read("p.yaml", text).unwrap_err().to_string()
    }

    #[test]
    fn a_plan_reads_in_both_forms() {
        let text = "\
name: bench 3
machine: {serial: X1}
fit:
  - module: 32GB 4Rx4 PC3L-10600R
    slots: [A1, B  1]
  - module: {size: 16 GiB, type: DDR3, ranks: 2, part: 00123}
    slots: C1
    serials: [S9]
empty: [A2]
expect: {speed: 1333, total: 80 GiB, ecc: on}
waive: [width]
";
        let plan = read("p.yaml", text).unwrap();
        assert_eq!(plan.slots.len(), 4);
        assert_eq!((plan.slots[1].slot.as_str(), plan.slots[1].line), ("B 1", 5));
        let Demand::Module(wanted) = &plan.demand("C1").unwrap().demand else { panic!() };
        assert_eq!((wanted.part.as_deref(), wanted.serial.as_deref()), (Some("00123"), Some("S9")));
        assert_eq!(plan.planned_total(), Some(Bytes::gib(80)));
        assert_eq!(plan.expect.ecc, Some(true));
    }

    #[test]
    fn errors_name_line_found_expected_and_advice() {
        for (text, parts) in [
            (
                "name: x\nfit:\n  - modul: a\n    slots: [A1]\n",
                ["p.yaml:3:", "unknown key `modul`", "one of module", "Did you mean `module`?"],
            ),
            (
                "fit:\n  - module: 8GB\n    slots: [A1, A2]\n  - module: 8GB\n    slots: [A1]\n",
                ["p.yaml:5:", "slot `A1` twice", "each slot once", "Keep one"],
            ),
            (
                "fit:\n  - module: {size: 0 GiB}\n    slots: [A1]\n",
                ["p.yaml:2:", "`size: 0 GiB`", "a size such as", "Correct `size`"],
            ),
            (
                "fit:\n  - module: {size: 8 GiB, type: DDR9}\n    slots: [A1]\n",
                ["p.yaml:2:", "DDR9", "a generation", "leave it out"],
            ),
            (
                "fit:\n  - module: 8GB 2Rx4 PC3-99999R\n    slots: [A1]\n",
                ["p.yaml:2:", "PC3-99999R", "a module label", "Copy the label"],
            ),
            (
                "fit:\n  - module: 8GB\n    slots: [A1]\nempty: [A1]\n",
                ["p.yaml:4:", "slot `A1` twice", "each slot once", "Keep"],
            ),
            (
                "fit:\n  - module: 8GB\n    slots: [A1, A2]\n    serials: [S1]\n",
                ["p.yaml:3:", "2 slots and 1 serial numbers", "one serial per slot", "Add"],
            ),
            (
                "fit:\n  - module: {sticker: 8GB, size: 16 GiB}\n    slots: [A1]\n",
                ["p.yaml:2:", "contradicts", "adds to the sticker", "Correct"],
            ),
            (
                "fit:\n  - module: 8GB\n    slots: [A1]\n    serials: [UNKNOWN]\n",
                ["p.yaml:4:", "`UNKNOWN` under `serials`", "the serial number", "leave `serials` out"],
            ),
            ("name: x\nname: y\n", ["p.yaml:2:", "`name` twice", "each key once", "Merge"]),
            (
                "waive: [widht]\nempty: [A1]\n",
                ["p.yaml:1:", "`widht`", "one of presence", "Did you mean `width`?"],
            ),
            ("name: x\n", ["p.yaml:", "no demand", "slots under `fit`", "plan from"]),
            ("fit: [\n", ["p.yaml:", "something else", "a plan in YAML", "docs/plan.md"]),
        ] {
            let message = error_of(text);
            for part in parts {
                assert!(message.contains(part), "{text}\n{message}\nlacks {part}");
            }
        }
    }
}
