//! A comparison, with the changed characters of long texts marked beneath.

use std::io::{self, Write};

use similar::{ChangeTag, TextDiff};

use super::facts;
use super::layout::{Layout, Page, Tone};
use crate::report::ComparisonReport;
use crate::report::columns::columns;
use crate::report::view::{ChangeView, ComparisonView, FieldView, NOT_STATED, WARNING};

/// Writes the comparison for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_comparison(
    report: &ComparisonReport<'_>,
    layout: Layout,
    out: &mut dyn Write,
) -> io::Result<()> {
    let view = ComparisonView::new(report);
    let mut page = Page::new(layout, out);
    page.text(0, 2, view.headline.mark.into(), &view.headline.in_capitals())?;
    facts(&mut page, 0, &view.facts)?;
    for warning in view.warnings {
        page.text(0, 2, Tone::Doubt, &format!("{}: {warning}", WARNING.to_uppercase()))?;
    }
    for (change, slots) in groups(&view.changes) {
        page.blank()?;
        write_change(&mut page, change, &slots.join(", "))?;
    }
    Ok(())
}

/// Slots that differ alike, with the first of them.
fn groups<'v>(changes: &'v [ChangeView<'_>]) -> Vec<(&'v ChangeView<'v>, Vec<&'v str>)> {
    let mut groups: Vec<(&ChangeView<'_>, Vec<&str>)> = Vec::new();
    for change in changes {
        let alike = |first: &ChangeView<'_>| {
            change.differs.is_some() && first.differs == change.differs && first.fields == change.fields
        };
        match groups.iter_mut().find(|(first, _)| alike(first)) {
            Some((_, slots)) => slots.push(change.slot),
            None => groups.push((change, vec![change.slot])),
        }
    }
    groups
}

fn write_change(page: &mut Page<'_>, change: &ChangeView<'_>, slots: &str) -> io::Result<()> {
    let what = change.differs.as_ref().unwrap_or(&change.what);
    page.text(0, 4, Tone::Heading, &format!("{slots}  {what}"))?;
    if change.differs.is_some() {
        for field in &change.fields {
            write_field(page, field)?;
        }
        return Ok(());
    }
    // A module that comes or goes is stated in one line a side; its fields have nothing to be compared with.
    page.entry(4, "before", &change.before)?;
    page.entry(4, "after", &change.after)
}

fn write_field(page: &mut Page<'_>, field: &FieldView<'_>) -> io::Result<()> {
    let FieldView { field, before, after, .. } = *field;
    let show = |text: Option<&str>| text.unwrap_or(NOT_STATED).to_owned();
    page.pieces(&[
        (Tone::Quiet, format!("    {field:<11}")),
        (Tone::Plain, format!("before  {}", show(before))),
    ])?;
    page.pieces(&[(Tone::Quiet, " ".repeat(15)), (Tone::Plain, format!("after   {}", show(after)))])?;
    if let (Some(before), Some(after)) = (before, after)
        && let Some(marks) = marks(before, after)
    {
        page.pieces(&[(Tone::Plain, " ".repeat(23)), (Tone::Bad, marks)])?;
    }
    Ok(())
}

/// Carets under the characters of `after` that are not in `before`; `None` where marks would not help: short
/// texts, or texts with little in common.
fn marks(before: &str, after: &str) -> Option<String> {
    const SHORTEST: usize = 8;
    if before.chars().count() < SHORTEST || after.chars().count() < SHORTEST {
        return None;
    }
    let diff = TextDiff::from_chars(before, after);
    if diff.ratio() < 0.5 {
        return None;
    }
    let mut marks = String::new();
    let mut lost = false;
    for change in diff.iter_all_changes() {
        let width = columns(change.value());
        match change.tag() {
            ChangeTag::Equal if lost => {
                // Something was left out here; the first character after the gap shows where.
                marks.push('^');
                marks.push_str(&" ".repeat(width.saturating_sub(1)));
                lost = false;
            }
            ChangeTag::Equal => marks.push_str(&" ".repeat(width)),
            ChangeTag::Insert => {
                marks.push_str(&"^".repeat(width));
                lost = false;
            }
            ChangeTag::Delete => lost = true,
        }
    }
    if lost {
        marks.push('^');
    }
    Some(marks.trim_end().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changed_characters_are_marked() {
        assert_eq!(marks("M393B2G70BH0", "M393B2G70QH0").as_deref(), Some("         ^"));
        assert_eq!(marks("M393B2G70BH0", "M393B2G70H0").as_deref(), Some("         ^"));
        assert_eq!(marks("16 GiB", "8 GiB"), None);
    }
}
