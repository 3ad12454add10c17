//! The terminal form of a comparison, with the changed characters of long texts marked beneath.

use std::io::{self, Write};

use similar::{ChangeTag, TextDiff};

use super::layout::{Page, Tone, columns};
use crate::compare::{COMPARED, Change, ChangeKind, Comparison};

/// Writes the comparison for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_comparison(
    before: &str,
    after: &str,
    comparison: &Comparison,
    notes: &[String],
    out: &mut dyn Write,
) -> io::Result<()> {
    let mut page = Page::new(out);
    let (tone, headline) = match comparison.changes.len() {
        0 => (Tone::Good, "NO DIFFERENCE".to_owned()),
        1 => (Tone::Bad, "1 SLOT DIFFERS".to_owned()),
        count => (Tone::Bad, format!("{count} SLOTS DIFFER")),
    };
    page.text(0, 2, tone, &format!("{headline}, {} the same", comparison.same))?;
    page.entry(0, "before", before)?;
    page.entry(0, "after", after)?;
    for note in notes {
        page.text(0, 2, Tone::Doubt, &format!("WARNING: {note}"))?;
    }
    let mut groups: Vec<(&Change, Vec<&str>)> = Vec::new();
    for change in &comparison.changes {
        let alike = |first: &Change| {
            change.kind == ChangeKind::Changed
                && first.kind == change.kind
                && differing(first) == differing(change)
        };
        match groups.iter_mut().find(|(first, _)| alike(first)) {
            Some((_, slots)) => slots.push(&change.slot),
            None => groups.push((change, vec![&change.slot])),
        }
    }
    for (change, slots) in groups {
        page.blank()?;
        write_change(&mut page, change, &slots.join(", "))?;
    }
    Ok(())
}

/// The fields that differ, with both texts.
fn differing(change: &Change) -> Vec<(&'static str, Option<&str>, Option<&str>)> {
    COMPARED
        .iter()
        .enumerate()
        .filter(|(_, field)| change.fields.contains(field))
        .map(|(at, field)| (*field, change.before[at].as_deref(), change.after[at].as_deref()))
        .collect()
}

fn write_change(page: &mut Page<'_>, change: &Change, slots: &str) -> io::Result<()> {
    let fields = || format!("differs in {}", change.fields.join(", "));
    let what = match (change.kind, &change.from) {
        (ChangeKind::Moved, Some(from)) => format!("moved here from {from}"),
        (ChangeKind::Gone, _) => "the module is gone".to_owned(),
        (ChangeKind::New, _) => "a module that was not there".to_owned(),
        (ChangeKind::Unlisted, _) => "listed on one side only".to_owned(),
        (ChangeKind::Changed | ChangeKind::Moved, _) => fields(),
    };
    page.text(0, 4, Tone::Heading, &format!("{slots}  {what}"))?;
    if change.kind == ChangeKind::Changed {
        for (field, before, after) in differing(change) {
            write_field(page, field, before, after)?;
        }
        return Ok(());
    }
    // A module that comes or goes is told in one line a side; its fields have nothing to be compared with.
    page.entry(4, "before", &whole(&change.before))?;
    page.entry(4, "after", &whole(&change.after))
}

/// All fields of a side in one line.
fn whole(side: &[Option<String>]) -> String {
    let words: Vec<String> = COMPARED
        .iter()
        .zip(side)
        .filter_map(|(field, text)| {
            let text = text.as_deref()?;
            Some(match *field {
                "state" if text == "fitted" => return None,
                "ranks" => format!("ranks {text}"),
                "rated" | "part" | "serial" => format!("{field} {text}"),
                "configured" => format!("runs at {text}"),
                _ => text.to_owned(),
            })
        })
        .collect();
    words.join(", ")
}

fn write_field(
    page: &mut Page<'_>,
    field: &str,
    before: Option<&str>,
    after: Option<&str>,
) -> io::Result<()> {
    let show = |text: Option<&str>| text.unwrap_or("not stated").to_owned();
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
