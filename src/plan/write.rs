//! A plan as YAML, the way people write it by hand: one line per kind of module.

use std::fmt::Write;

use super::demand::{Demand, Expectation, MachineSelector, ModuleSpec, Plan, Processor};
use super::sticker::parse_sticker;
use crate::base::words::comma_list;
use crate::units::{Bytes, TransferRate};
use crate::yaml::{scalar, write_comments};

/// Writes `plan`, with `comments` at its head.
pub fn to_yaml(plan: &Plan, comments: &[String]) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_plan(&mut out, plan, comments);
    out
}

/// `plan` as JSON with the same keys as the YAML, which reads it back.
pub fn to_json(plan: &Plan) -> serde_json::Value {
    crate::yaml::from_str(&to_yaml(plan, &[])).unwrap_or_default()
}

fn write_plan(out: &mut String, plan: &Plan, comments: &[String]) -> std::fmt::Result {
    write_comments(out, comments)?;
    if let Some(name) = &plan.name {
        writeln!(out, "name: {}", scalar(name))?;
    }
    write_machine(out, &plan.machine)?;
    if let Some(board) = &plan.board {
        writeln!(out, "board: {}", scalar(board))?;
    }
    if let Some(mode) = &plan.mode {
        writeln!(out, "mode: {}", scalar(mode.name()))?;
    }
    if !plan.processors.is_empty() {
        writeln!(out, "processors:")?;
        for processor in &plan.processors {
            let text = match processor {
                Processor::Model(model) => scalar(model),
                Processor::Absent => "none".to_owned(),
            };
            writeln!(out, "  - {text}")?;
        }
    }
    if !plan.order.is_empty() {
        writeln!(out, "order:")?;
        for (count, wanted) in &plan.order {
            writeln!(out, "  - count: {count}")?;
            write_module(out, wanted, "    ")?;
        }
    }
    write_fit(out, plan)?;
    for (key, demand) in [("empty", Demand::Empty), ("idle", Demand::Idle)] {
        let names: Vec<&str> =
            plan.slots.iter().filter(|s| s.demand == demand).map(|s| s.slot.as_str()).collect();
        if !names.is_empty() {
            writeln!(out, "{key}:")?;
            for name in names {
                writeln!(out, "  - {}", scalar(name))?;
            }
        }
    }
    write_expectation(out, &plan.expect)?;
    if !plan.waived.is_empty() {
        writeln!(out, "waive: [{}]", comma_list(plan.waived.iter().map(|field| field.word())))?;
    }
    Ok(())
}

fn write_machine(out: &mut String, machine: &MachineSelector) -> std::fmt::Result {
    let marks = [
        ("serial", &machine.serial),
        ("asset_tag", &machine.asset_tag),
        ("host", &machine.host),
        ("product", &machine.product),
    ];
    if marks.iter().any(|(_, value)| value.is_some()) {
        writeln!(out, "machine:")?;
        for (key, value) in marks {
            if let Some(value) = value {
                writeln!(out, "  {key}: {}", scalar(value))?;
            }
        }
    }
    Ok(())
}

fn write_expectation(out: &mut String, expect: &Expectation) -> std::fmt::Result {
    if *expect == Expectation::default() {
        return Ok(());
    }
    writeln!(out, "expect:")?;
    if let Some(TransferRate(speed)) = expect.speed {
        writeln!(out, "  speed: {speed}")?;
    }
    for (key, total) in
        [("total", expect.total), ("hbm", expect.hbm), ("cxl", expect.cxl), ("persistent", expect.persistent)]
    {
        if let Some(total) = total {
            writeln!(out, "  {key}: {}", total.exact())?;
        }
    }
    if let Some(ecc) = expect.ecc {
        writeln!(out, "  ecc: {}", scalar(if ecc { "on" } else { "off" }))?;
    }
    Ok(())
}

type SlotAndSerial<'p> = (&'p str, Option<&'p str>);

/// Lines of equal modules, in the order in which each kind first appears.
fn write_fit(out: &mut String, plan: &Plan) -> std::fmt::Result {
    let mut lines: Vec<(&ModuleSpec, Vec<SlotAndSerial<'_>>)> = Vec::new();
    for (planned, wanted) in plan.modules() {
        let entry = (planned.slot.as_str(), wanted.serial.as_deref());
        // A line has a serial for each of its slots or for none.
        match lines
            .iter_mut()
            .find(|(first, _)| first.same_kind(wanted) && first.serial.is_some() == wanted.serial.is_some())
        {
            Some((_, slots)) => slots.push(entry),
            None => lines.push((wanted, vec![entry])),
        }
    }
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "fit:")?;
    for (wanted, slots) in lines {
        write_module(out, wanted, "  - ")?;
        writeln!(out, "    slots:")?;
        for (slot, _) in &slots {
            writeln!(out, "      - {}", scalar(slot))?;
        }
        if wanted.serial.is_some() {
            writeln!(out, "    serials:")?;
            for (_, serial) in &slots {
                writeln!(out, "      - {}", scalar(serial.unwrap_or_default()))?;
            }
        }
    }
    Ok(())
}

fn write_module(out: &mut String, wanted: &ModuleSpec, start: &str) -> std::fmt::Result {
    // The label states the rest, so only what is not on it is written as fields.
    let own = wanted.sticker.as_deref().and_then(|text| parse_sticker(text).ok()).unwrap_or_default();
    let mut fields: Vec<(&str, String)> = Vec::new();
    if let Some(sticker) = &wanted.sticker {
        fields.push(("sticker", scalar(sticker)));
    }
    let mut put = |key, value: Option<String>, known: bool| {
        if let Some(value) = value
            && !known
        {
            fields.push((key, value));
        }
    };
    put("size", wanted.size.map(Bytes::exact), own.size.is_some());
    put("type", wanted.memory_type.map(|v| scalar(v.name())), own.memory_type.is_some());
    put("kind", wanted.kind.map(|v| scalar(v.word())), own.kind.is_some());
    put("ranks", wanted.ranks.map(|v| v.to_string()), own.ranks.is_some());
    put("width", wanted.width.map(|v| v.to_string()), own.width.is_some());
    put("rated", wanted.rated.map(|v| v.0.to_string()), own.rated.is_some());
    put("voltage", wanted.voltage.map(|v| v.to_string()), own.voltage.is_some());
    put("ecc", wanted.ecc.map(|v| scalar(if v { "on" } else { "off" })), own.ecc.is_some());
    put("maker", wanted.maker.as_deref().map(scalar), false);
    put("part", wanted.part.as_deref().map(scalar), false);
    if fields.is_empty() {
        // A module of which the listing states nothing but that it is there.
        writeln!(out, "{start}module: any")?;
        return Ok(());
    }
    writeln!(out, "{start}module:")?;
    for (key, value) in fields {
        writeln!(out, "      {key}: {value}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::read;

    #[test]
    fn what_is_written_reads_back() {
        let text = "\
name: \"no\"
machine: {product: 'a: b', serial: '007'}
fit:
  - module: {sticker: 32GB 4Rx4 PC3L-10600R, part: '1e3'}
    slots: [A1, B1]
    serials: [S1, '0x10']
  - module: {size: 16 GiB, kind: LRDIMM, maker: \"x # y\"}
    slots: ['C1 @ BANK #2']
empty: [A2, '~']
idle: [B2]
expect: {speed: 1333, total: 80 GiB, ecc: off}
waive: [width, voltage]
";
        let plan = read("a", text).unwrap();
        let yaml = to_yaml(&plan, &["written by a test".to_owned()]);
        let mut again = read("a", &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
        for (slot, old) in again.slots.iter_mut().zip(&plan.slots) {
            slot.line = old.line;
        }
        assert_eq!(again, plan, "{yaml}");
    }
}
