//! A population: totals, map, modules, what the listing cannot tell.

use std::io::{self, Write};

use super::layout::{Layout, Page, Tone, pad};
use super::{facts, list, map, title};
use crate::case::Case;
use crate::report::columns::columns;
use crate::report::view::{ModuleKind, Note, PopulationView, titles};

/// Writes the population for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_population(case: &Case<'_>, layout: Layout, out: &mut dyn Write) -> io::Result<()> {
    let view = PopulationView::new(case);
    let mut page = Page::new(layout, out);
    page.text(0, 2, Tone::Heading, &view.headline)?;
    facts(&mut page, 0, &view.facts)?;
    if view.slots.rows.is_empty() {
        return Ok(());
    }
    title(&mut page, titles::WHERE)?;
    map::write(&mut page, &view.map)?;
    title(&mut page, titles::MODULES)?;
    write_kinds(&mut page, &view.kinds)?;
    title(&mut page, titles::LIMITS)?;
    list(&mut page, &view.limits)?;
    if !view.notes.is_empty() {
        title(&mut page, titles::NOTES)?;
        list(&mut page, &view.notes.iter().map(Note::sentence).collect::<Vec<_>>())?;
    }
    Ok(())
}

/// Equal modules on one line with the slots that hold them beneath.
fn write_kinds(page: &mut Page<'_>, kinds: &[ModuleKind]) -> io::Result<()> {
    let width = kinds.iter().map(|kind| columns(&kind.count.to_string())).max().unwrap_or(1);
    for ModuleKind { count, kind, slots } in kinds {
        let count = pad(&count.to_string(), width);
        page.text(2, 5 + width, Tone::Plain, &format!("{count} x {kind}"))?;
        page.text(5 + width, 5 + width, Tone::Quiet, slots)?;
    }
    Ok(())
}
