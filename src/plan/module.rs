//! From the form of a module to what is demanded of it.

use super::demand::ModuleSpec;
use super::forms::{FieldsForm, ModuleForm};
use super::order::parse_order;
use super::sticker::parse_sticker;
use crate::base::words::comma_list;
use crate::population::ModuleKind;
use crate::population::identity::clean;
use crate::records::enums::{MEMORY_TYPES, MemoryType};
use crate::units::{Bytes, Millivolts, TransferRate};
use crate::yaml::{FileError, Source};

/// Reads a module; `near` is a word of the plan close to it, for errors.
pub(super) fn module(source: &Source<'_>, form: ModuleForm, near: &str) -> Result<ModuleSpec, FileError> {
    match form {
        ModuleForm::Sticker(text) if text.trim() == "any" => Ok(ModuleSpec::default()),
        ModuleForm::Sticker(text) => sticker(source, &text),
        ModuleForm::Fields(form) => fields(source, *form, near),
    }
}

/// Reads the label of a module.
pub(super) fn sticker(source: &Source<'_>, text: &str) -> Result<ModuleSpec, FileError> {
    parse_sticker(text).map_err(|error| {
        let advice = match parse_order(text) {
            Ok(_) => "Leave the count out: each slot holds one module.",
            Err(_) => "Copy the label as printed, or write the module as fields (size, ranks, type, ...).",
        };
        let line = source.line_of(text);
        source.error(line, error.to_string(), "a module label such as `16GB 2Rx4 PC3L-12800R`", advice)
    })
}

/// `on` or `off`, which YAML readers also know by other names.
pub(super) fn flag(text: &str) -> Option<bool> {
    match text {
        "on" | "true" | "yes" => Some(true),
        "off" | "false" | "no" => Some(false),
        _ => None,
    }
}

/// What [`flag`] expects.
pub(super) const FLAG: &str = "`on` or `off`";

/// A speed that memory can have.
pub(super) fn plausible_rate(text: &str) -> Option<TransferRate> {
    TransferRate::parse(text).filter(|rate| rate.is_plausible())
}

/// What [`plausible_rate`] expects.
pub(super) const RATE: &str = "a speed in MT/s such as `1333`";

fn fields(source: &Source<'_>, form: FieldsForm, near: &str) -> Result<ModuleSpec, FileError> {
    let mut spec = match &form.sticker {
        Some(text) => sticker(source, text)?,
        None => ModuleSpec::default(),
    };
    let kinds = comma_list(ModuleKind::WORDS.iter().map(|(_, name)| name));
    let kind = format!("one of {kinds}");
    let reader = FieldReader { source };
    reader.put(&mut spec.size, form.size, "size", "a size such as `16 GiB`, up to 16 TiB", size)?;
    reader.put(&mut spec.ranks, form.ranks, "ranks", "a number from 1 to 16", ranks)?;
    reader.put(&mut spec.width, form.width, "width", "4, 8, 16 or 32", width)?;
    reader.put(
        &mut spec.memory_type,
        form.memory_type,
        "type",
        "a generation such as `DDR4`",
        memory_type,
    )?;
    reader.put(&mut spec.kind, form.kind, "kind", &kind, ModuleKind::parse)?;
    reader.put(&mut spec.rated, form.rated, "rated", RATE, plausible_rate)?;
    reader.put(&mut spec.voltage, form.voltage, "voltage", "a voltage such as `1.35 V`", voltage)?;
    reader.put(&mut spec.ecc, form.ecc, "ecc", FLAG, flag)?;
    for (field, text, key) in [
        (&mut spec.maker, form.maker, "maker"),
        (&mut spec.part, form.part, "part"),
        (&mut spec.serial, form.serial, "serial"),
    ] {
        if let Some(text) = text {
            let text = text.trim().to_owned();
            if clean(&text).is_none() {
                return Err(source.bad(&text, key, "something printed on the module, no placeholder"));
            }
            *field = Some(text);
        }
    }
    if spec == ModuleSpec::default() {
        let line = source.line_of(near);
        let advice = "Write its size at least, or the label on its sticker.";
        return Err(source.error(line, "a module without any field", "a module", advice));
    }
    Ok(spec)
}

/// Reads fields that may repeat what the sticker says, and not contradict it.
struct FieldReader<'s, 't> {
    source: &'s Source<'t>,
}

impl FieldReader<'_, '_> {
    fn put<T: PartialEq>(
        &self,
        field: &mut Option<T>,
        text: Option<String>,
        key: &str,
        expected: &str,
        read: impl FnOnce(&str) -> Option<T>,
    ) -> Result<(), FileError> {
        let Some(text) = text else { return Ok(()) };
        let value = read(&text).ok_or_else(|| self.source.bad(&text, key, expected))?;
        if field.as_ref().is_some_and(|old| *old != value) {
            let line = self.source.line_of(key);
            let found = format!("`{key}: {text}`, which contradicts the sticker beside it");
            let expected = "a field that adds to the sticker";
            return Err(self.source.error(line, found, expected, "Correct one of the two."));
        }
        *field = Some(value);
        Ok(())
    }
}

fn size(text: &str) -> Option<Bytes> {
    Bytes::parse(text).filter(|size| size.is_plausible())
}

fn ranks(text: &str) -> Option<u8> {
    text.parse().ok().filter(|ranks| (1..=16).contains(ranks))
}

fn width(text: &str) -> Option<u8> {
    text.trim_start_matches('x').parse().ok().filter(|width| matches!(width, 4 | 8 | 16 | 32))
}

fn memory_type(text: &str) -> Option<MemoryType> {
    let known = MEMORY_TYPES.iter().find(|(_, name)| name.eq_ignore_ascii_case(text.trim()));
    known.map(|(code, _)| MemoryType(*code)).filter(|t| !t.says_nothing())
}

fn voltage(text: &str) -> Option<Millivolts> {
    Millivolts::parse(text).filter(|voltage| voltage.is_plausible())
}
