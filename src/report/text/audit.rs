//! An audit: what is wrong, where, what to do next, in that order.

use std::io::{self, Write};

use super::layout::{Extent, Layout, Page, Tone};
use super::{facts, list, map, title};
use crate::diagnose::Diagnosis;
use crate::report::view::{BECAUSE, BRING, CHECK, DiagnosisView, Group, LINE, Order, Work, sourced, titles};

/// How to see all of what is shown in part.
const IN_FULL: &str = "in full with --verbose";

/// Lines of what to look into that are shown without that.
const CHECKS_SHOWN: usize = 6;

/// Writes the audit for a person at a bench.
///
/// # Errors
/// Those of `out`.
pub fn write_audit(diagnosis: &Diagnosis<'_>, layout: Layout, out: &mut dyn Write) -> io::Result<()> {
    let view = DiagnosisView::of_audit(diagnosis);
    let mut page = Page::new(layout, out);
    write_head(&mut page, &view)?;
    write_body(&mut page, &view, layout.extent)
}

/// The headline and what it is about.
pub(super) fn write_head(page: &mut Page<'_>, view: &DiagnosisView<'_>) -> io::Result<()> {
    page.text(0, 2, view.headline.mark.into(), &view.headline.in_capitals())?;
    facts(page, 0, &view.facts)
}

/// Work and map, then findings and cautions.
pub(super) fn write_body(page: &mut Page<'_>, view: &DiagnosisView<'_>, extent: Extent) -> io::Result<()> {
    write_todo(page, &view.order, extent)?;
    title(page, &map::marked_title(titles::WHERE))?;
    map::write(page, &view.map)?;
    match extent {
        Extent::Brief => Ok(()),
        // What to look into says it already.
        Extent::Usual if matches!(view.order.work, Work::Checks(_)) => Ok(()),
        Extent::Usual => write_findings(page, &view.groups),
        Extent::Full => {
            for group in &view.groups {
                page.blank()?;
                write_group(page, group)?;
            }
            if matches!(view.order.work, Work::Steps { .. }) {
                write_cautions(page, &view.order)?;
            }
            Ok(())
        }
    }
}

/// Steps, the cautions in short before them; or what to look into where nothing is to be done.
fn write_todo(page: &mut Page<'_>, order: &Order<'_>, extent: Extent) -> io::Result<()> {
    match &order.work {
        Work::Nothing => Ok(()),
        // In full it stands with each finding.
        Work::Checks(_) if extent == Extent::Full => Ok(()),
        Work::Checks(checks) => {
            title(page, &format!("{}   ({IN_FULL})", order.work.lead()))?;
            list(page, &checks[..checks.len().min(CHECKS_SHOWN)])?;
            match checks.len().checked_sub(CHECKS_SHOWN) {
                Some(rest @ 1..) => page.text(4, 4, Tone::Quiet, &format!("and {rest} more")),
                _ => Ok(()),
            }
        }
        Work::Steps { steps, title: heading, closing, .. } => {
            title(page, heading)?;
            write_bring(page, 2, order)?;
            let texts = steps.iter().map(|step| step.text.as_str()).chain([closing.as_str()]);
            for (at, text) in [order.mind.as_str()].into_iter().chain(texts).enumerate() {
                page.text(2, 6, Tone::Plain, &format!("{at:>2}. {text}"))?;
            }
            Ok(())
        }
    }
}

/// What was found, with the likeliest cause.
fn write_findings(page: &mut Page<'_>, groups: &[Group<'_>]) -> io::Result<()> {
    if groups.is_empty() {
        return Ok(());
    }
    title(page, &format!("{}   ({IN_FULL})", titles::FOUND))?;
    for group in groups {
        let sign = map::sign(group.mark);
        let text = format!("{}. {sign}{}  {}", group.number, group.kind, group.in_short());
        page.text(2, 6, Tone::Plain, &text)?;
    }
    Ok(())
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
    for evidence in &group.evidence {
        page.entry(4, &format!("{LINE} {}", evidence.line), &sourced(evidence))?;
    }
    Ok(())
}
