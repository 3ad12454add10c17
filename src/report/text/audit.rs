//! An audit: what is wrong, where, what to do next, in that order.

use std::io::{self, Write};

use super::layout::{Page, Tone};
use super::{facts, list, map, title};
use crate::diagnose::Diagnosis;
use crate::report::view::{
    BECAUSE, BRING, CHECK, DiagnosisView, Group, LINE, Order, Work, more_lines, sourced, titles,
};

/// Evidence lines shown per finding; the JSON form has all.
const EVIDENCE_SHOWN: usize = 4;

/// Writes the audit for a person at a bench.
///
/// # Errors
/// Those of `out`.
pub fn write_audit(diagnosis: &Diagnosis<'_>, out: &mut dyn Write) -> io::Result<()> {
    let view = DiagnosisView::of_audit(diagnosis);
    let mut page = Page::new(out);
    write_head(&mut page, &view)?;
    write_body(&mut page, &view)
}

/// The headline and what it is about.
pub(super) fn write_head(page: &mut Page<'_>, view: &DiagnosisView<'_>) -> io::Result<()> {
    page.text(0, 2, view.headline.mark.into(), &view.headline.in_capitals())?;
    facts(page, 0, &view.facts)
}

/// Findings, work, cautions and map.
pub(super) fn write_body(page: &mut Page<'_>, view: &DiagnosisView<'_>) -> io::Result<()> {
    for group in &view.groups {
        page.blank()?;
        write_group(page, group)?;
    }
    if let Work::Steps { steps, title: heading, closing, .. } = &view.order.work {
        title(page, heading)?;
        write_bring(page, 2, &view.order)?;
        let texts = steps.iter().map(|step| step.text.as_str()).chain([closing.as_str()]);
        for (at, text) in texts.enumerate() {
            page.text(2, 6, Tone::Plain, &format!("{:>2}. {text}", at + 1))?;
        }
        write_cautions(page, &view.order)?;
    }
    title(page, &map::marked_title(titles::WHERE))?;
    map::write(page, &view.map)
}

/// What to mind before anything else.
pub(super) fn write_cautions(page: &mut Page<'_>, order: &Order<'_>) -> io::Result<()> {
    title(page, titles::CAUTIONS)?;
    list(page, &order.cautions)
}

/// The modules to bring, if there are any.
pub(super) fn write_bring(page: &mut Page<'_>, indent: usize, order: &Order<'_>) -> io::Result<()> {
    for (at, part) in order.bring.iter().enumerate() {
        page.entry(indent, if at == 0 { BRING } else { "" }, part)?;
    }
    Ok(())
}

fn write_group(page: &mut Page<'_>, group: &Group<'_>) -> io::Result<()> {
    let head = format!("{:>2}  {}  {}", group.number, group.kind_and_severity(), group.summary);
    page.text(0, 4, group.mark.into(), &head)?;
    for (key, texts) in &group.compared {
        for (at, text) in texts.iter().enumerate() {
            page.entry(4, if at == 0 { key } else { "" }, text)?;
        }
    }
    write_evidence(page, group)?;
    for cause in group.causes {
        page.blank()?;
        page.entry(4, cause.likelihood.word(), &cause.cause)?;
        page.entry(4, &format!("  {BECAUSE}"), &cause.why)?;
        page.entry(4, &format!("  {CHECK}"), &cause.check)?;
    }
    Ok(())
}

fn write_evidence(page: &mut Page<'_>, group: &Group<'_>) -> io::Result<()> {
    let shown = if group.finding.slots.len() > 1 { EVIDENCE_SHOWN * 2 } else { EVIDENCE_SHOWN };
    for evidence in group.evidence.iter().take(shown) {
        page.entry(4, &format!("{LINE} {}", evidence.line), &sourced(evidence))?;
    }
    match group.evidence.len().checked_sub(shown) {
        Some(rest @ 1..) => page.entry(4, "", &format!("and {} (--format json has all)", more_lines(rest))),
        _ => Ok(()),
    }
}
