//! Part numbers, code by code.

use std::io::{self, Write};

use super::layout::{Layout, Page, Tone, pad};
use super::{facts, list, title};
use crate::report::PartReport;
use crate::report::columns::columns;
use crate::report::view::{PartView, part_sources, titles};

/// Writes part numbers for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_parts(reports: &[PartReport], layout: Layout, out: &mut dyn Write) -> io::Result<()> {
    let mut page = Page::new(layout, out);
    for (at, view) in reports.iter().map(PartView::new).enumerate() {
        if at > 0 {
            page.blank()?;
        }
        page.text(0, 2, if view.is_read { Tone::Heading } else { Tone::Doubt }, view.part)?;
        page.entry(2, "module", &view.module)?;
        facts(&mut page, 2, &view.facts)?;
        let widest = |widths: &mut dyn Iterator<Item = usize>| widths.max().unwrap_or(0).min(20);
        let fields = widest(&mut view.codes.iter().map(|code| columns(code.field)));
        let codes = widest(&mut view.codes.iter().map(|code| columns(code.code)));
        for code in &view.codes {
            let head = format!("{} {}", pad(code.field, fields), pad(code.code, codes));
            page.text(
                4,
                8 + fields + codes,
                Tone::Plain,
                &format!("{}  {}", head.replace(' ', "\u{a0}"), code.text),
            )?;
        }
    }
    let sources = part_sources(reports);
    if !sources.is_empty() {
        title(&mut page, titles::SOURCES)?;
        list(&mut page, &sources)?;
    }
    Ok(())
}
