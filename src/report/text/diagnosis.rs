//! A diagnosis: where memory is lost, which slots are suspect, and then as an audit.

use std::io::{self, Write};

use super::audit::{write_body, write_head};
use super::layout::{Layout, Page, Tone};
use super::title;
use crate::diagnose::{Diagnosis, Shortfall};
use crate::report::view::{DiagnosisView, ShortfallView, titles};

/// Writes a diagnosis for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_diagnosis(
    diagnosis: &Diagnosis<'_>,
    shortfall: &Shortfall,
    layout: Layout,
    out: &mut dyn Write,
) -> io::Result<()> {
    let view = DiagnosisView::of_shortfall(diagnosis, shortfall);
    let mut page = Page::new(layout, out);
    write_head(&mut page, &view)?;
    if let Some(shortfall) = &view.shortfall {
        write_shortfall(&mut page, shortfall)?;
    }
    write_body(&mut page, &view, layout.extent)
}

fn write_shortfall(page: &mut Page<'_>, shortfall: &ShortfallView) -> io::Result<()> {
    title(page, titles::LOST)?;
    for stage in &shortfall.stages {
        page.entry(2, stage.title, &stage.text)?;
        for reason in &stage.reasons {
            page.text(12, 14, Tone::Plain, &format!("- {reason}"))?;
        }
    }
    if let Some(stated) = &shortfall.stated {
        title(page, titles::STATED)?;
        for (side, kinds) in &stated.sides {
            for (at, kind) in kinds.iter().enumerate() {
                page.entry(2, if at == 0 { side } else { "" }, kind)?;
            }
        }
        page.text(2, 2, Tone::Plain, &stated.text)?;
    }
    let Some(suspects) = &shortfall.suspects else { return Ok(()) };
    title(page, titles::SUSPECTS)?;
    for text in &suspects.missing {
        page.text(2, 4, Tone::Plain, text)?;
    }
    for text in &suspects.texts {
        page.text(2, 2, Tone::Plain, text)?;
    }
    Ok(())
}
