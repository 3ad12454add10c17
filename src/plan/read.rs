//! From YAML to a checked plan.

use std::collections::{HashMap, HashSet};

use super::demand::{
    Demand, DemandField, Expectation, MachineSelector, ModuleSpec, Plan, PlannedSlot, Processor,
};
use super::forms::{ExpectForm, FitForm, OrderForm, PlanForm};
use super::mode::{Mode, NamedMode};
use super::module::{FLAG, RATE, flag, module, plausible_rate};
use super::order::{ORDER_FORM, parse_order};
use crate::base::words::comma_list;
use crate::population::identity::{clean, collapse};
use crate::units::Bytes;
use crate::yaml::{FileError, Source, did_you_mean};

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
    /// Lines of names, since a plan can hold thousands of them.
    lines: HashMap<String, u32>,
}

/// The slots read so far, and their names for looking them up.
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
            mode: form.mode.map(|name| self.mode(name)).transpose()?,
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
        let (count, wanted) = match form {
            OrderForm::Line(text) => {
                return parse_order(&text).map_err(|error| {
                    let line =
                        self.source.bad(&text, "order", "").line.or_else(|| self.source.line_of(&text));
                    let advice = format!("Write {ORDER_FORM}, or a count and a module as fields.");
                    self.source.error(
                        line,
                        format!("{error}, in `{text}`"),
                        "so many modules of a kind",
                        advice,
                    )
                });
            }
            OrderForm::Fields(form) => (form.count, module(&self.source, form.module, "order")?),
        };
        if !(1..=4096).contains(&count) {
            return Err(self.source.bad(&count.to_string(), "count", "a count from 1 to 4096"));
        }
        Ok((count, wanted))
    }

    /// A mode that this tool knows. What it does not know it cannot reckon with, and most often is a typing mistake.
    fn mode(&self, name: String) -> Result<NamedMode, FileError> {
        let mode = NamedMode::new(name);
        if mode.known().is_some() {
            return Ok(mode);
        }
        let names = || Mode::WORDS.iter().map(|(_, name)| *name);
        let line = self.source.bad(mode.name(), "mode", "").line;
        let suggestion = did_you_mean(mode.name(), names());
        let advice =
            if suggestion.is_empty() { "Correct `mode`, or leave it out.".to_owned() } else { suggestion };
        let expected = format!("one of {}", comma_list(names()));
        Err(self.source.error(line, format!("`mode: {}`", mode.name()), expected, advice))
    }

    fn waived(&self, word: &str) -> Result<DemandField, FileError> {
        DemandField::WORDS.iter().find(|(_, name)| *name == word).map(|(field, _)| *field).ok_or_else(|| {
            let names = DemandField::WORDS.iter().map(|(_, name)| *name);
            let expected = format!("one of {}", comma_list(names.clone()));
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
        let wanted = module(&self.source, fit.module, names.first().map_or("", String::as_str))?;
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
            let found = format!("`{serial}` under `serials`, which is not a serial number but a placeholder");
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
        let line = self.lines.get(&slot).copied().or_else(|| self.source.line_of(&slot));
        slots.all.push(PlannedSlot { slot, line, demand });
        Ok(())
    }

    fn expectation(&self, form: &ExpectForm) -> Result<Expectation, FileError> {
        let speed = form
            .speed
            .as_deref()
            .map(|text| plausible_rate(text).ok_or_else(|| self.source.bad(text, "speed", RATE)));
        let total = |text: &Option<String>, key| {
            let read = |text: &str| {
                Bytes::parse(text)
                    .filter(|total| total.0 > 0)
                    .ok_or_else(|| self.source.bad(text, key, "a size such as `384 GiB`"))
            };
            text.as_deref().map(read).transpose()
        };
        let ecc =
            form.ecc.as_deref().map(|text| flag(text).ok_or_else(|| self.source.bad(text, "ecc", FLAG)));
        Ok(Expectation {
            speed: speed.transpose()?,
            total: total(&form.total, "total")?,
            hbm: total(&form.hbm, "hbm")?,
            cxl: total(&form.cxl, "cxl")?,
            persistent: total(&form.persistent, "persistent")?,
            ecc: ecc.transpose()?,
        })
    }
}

fn processor(model: String) -> Processor {
    if model.trim().eq_ignore_ascii_case("none") { Processor::Absent } else { Processor::Model(model) }
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
        assert_eq!((plan.slots[1].slot.as_str(), plan.slots[1].line), ("B 1", Some(5)));
        let Demand::Module(wanted) = &plan.demand("C1").unwrap().demand else { panic!() };
        assert_eq!((wanted.part.as_deref(), wanted.serial.as_deref()), (Some("00123"), Some("S9")));
        assert_eq!(plan.planned_total(), Some(Bytes::gib(80)));
        assert_eq!(plan.expect.ecc, Some(true));
    }

    /// Long, since it lists every error.
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
            (
                "empty: [A1]\nmode: mirorring\n",
                [
                    "p.yaml:2:",
                    "`mode: mirorring`",
                    "one of mirroring, rank sparing",
                    "Did you mean `mirroring`?",
                ],
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
