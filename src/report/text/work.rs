//! The work order as plain text, to be printed and taken to the machine.

use std::io::{self, Write};

use super::audit::{write_bring, write_cautions};
use super::layout::{Layout, Page, Tone};
use super::{facts, map, title};
use crate::diagnose::Diagnosis;
use crate::report::view::{DiagnosisView, SIGNED, WORK, Work, titles, typed};

/// Writes the work order of an audit, for paper.
///
/// # Errors
/// Those of `out`.
pub fn write_work(diagnosis: &Diagnosis<'_>, out: &mut dyn Write) -> io::Result<()> {
    let view = DiagnosisView::of_order(diagnosis);
    let work = &view.order.work;
    let mut page = Page::new(Layout::default(), out);
    page.text(0, 2, Tone::Heading, &titles::WORK_ORDER.to_uppercase())?;
    facts(&mut page, 0, &view.facts)?;
    page.entry(0, WORK, &work.amount())?;
    write_bring(&mut page, 0, &view.order)?;
    match work {
        Work::Nothing => {}
        Work::Checks(checks) => {
            write_cautions(&mut page, &view.order)?;
            title(&mut page, &work.lead())?;
            boxes(&mut page, checks.iter().map(String::as_str))?;
        }
        Work::Steps { steps, .. } => {
            write_cautions(&mut page, &view.order)?;
            title(&mut page, titles::STEPS)?;
            boxes(&mut page, steps.iter().map(|step| step.text.as_str()))?;
        }
    }
    title(&mut page, &map::marked_title(titles::AS_LISTED))?;
    map::write(&mut page, &view.map)?;
    if matches!(work, Work::Steps { .. }) {
        title(&mut page, titles::AFTERWARDS)?;
        for line in view.order.afterwards {
            page.text(2, 6, Tone::Plain, &format!("[ ] {}", on_paper(line)))?;
        }
        for line in SIGNED {
            page.blank()?;
            page.text(2, 2, Tone::Plain, &format!("{line:<8}{}", "_".repeat(40)))?;
        }
    }
    Ok(())
}

/// What is to be typed stands in quotation marks on paper, where a grave accent is easily taken for dirt or typed too.
fn on_paper(text: &str) -> String {
    let set = |(piece, is_typed): (&str, bool)| {
        if is_typed { format!("\"{piece}\"") } else { piece.to_owned() }
    };
    typed(text).into_iter().map(set).collect()
}

/// Numbered lines with boxes to tick.
fn boxes<'l>(page: &mut Page<'_>, lines: impl Iterator<Item = &'l str>) -> io::Result<()> {
    for (at, line) in lines.enumerate() {
        page.text(2, 10, Tone::Plain, &format!("[ ] {:>2}. {}", at + 1, on_paper(line)))?;
    }
    Ok(())
}
