//! A plan check.

use std::io::{self, Write};

use super::layout::{Layout, Page};
use super::{facts, list, title};
use crate::report::PlanCheckReport;
use crate::report::view::CheckView;

/// Writes a plan check for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_plan_check(report: &PlanCheckReport<'_>, layout: Layout, out: &mut dyn Write) -> io::Result<()> {
    let view = CheckView::new(report);
    let mut page = Page::new(layout, out);
    page.text(0, 2, view.headline.mark.into(), &view.headline.in_capitals())?;
    facts(&mut page, 0, &view.facts)?;
    facts(&mut page, 2, &view.limits)?;
    facts(&mut page, 0, &view.more)?;
    for violation in &view.violations {
        page.blank()?;
        let kind = violation.kind_and_severity();
        let head = format!("{:>2}  {kind}  {}", violation.number, violation.summary);
        page.text(0, 4, violation.mark.into(), &head)?;
        facts(&mut page, 4, &violation.facts)?;
    }
    for (heading, lines) in &view.advice {
        title(&mut page, heading)?;
        list(&mut page, lines)?;
    }
    Ok(())
}
