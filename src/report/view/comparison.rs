//! Which slots differ, and in what.

use super::facts::Fact;
use super::headline::Headline;
use super::map::{self, Drawn, Map};
use crate::compare::{COMPARED, Change, ChangeKind, Side};
use crate::report::ComparisonReport;

/// Titles of the columns of changes.
pub(crate) const CHANGE_COLUMNS: [&str; 5] = ["slot", "what", "field", "before", "after"];

/// What is said of a comparison.
#[derive(Debug)]
pub(crate) struct ComparisonView<'r> {
    pub(crate) headline: Headline,
    /// The headline where nothing differs and something speaks against the comparison itself, which is no reason to
    /// be content; for formats that do not show the warnings right beneath.
    pub(crate) doubted: Headline,
    /// The two inputs.
    pub(crate) facts: Vec<Fact>,
    pub(crate) warnings: &'r [String],
    pub(crate) changes: Vec<ChangeView<'r>>,
    pub(crate) map: Map<Drawn>,
    /// Slots that only the first state has, in one sentence.
    pub(crate) only_before: Option<String>,
}

/// One slot that differs.
#[derive(Debug)]
pub(crate) struct ChangeView<'r> {
    pub(crate) slot: &'r str,
    /// The kind's word.
    pub(crate) kind: &'static str,
    pub(crate) what: String,
    /// The same with the fields that differ, where the slot holds a module on both sides.
    pub(crate) differs: Option<String>,
    /// The fields that differ.
    pub(crate) fields: Vec<FieldView<'r>>,
    /// All fields of each side in one line.
    pub(crate) before: String,
    pub(crate) after: String,
}

/// One field that differs; `None` where it is not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct FieldView<'r> {
    pub(crate) field: &'static str,
    pub(crate) before: Option<&'r str>,
    pub(crate) after: Option<&'r str>,
    /// What to say where a side is not stated.
    pub(crate) no_before: &'static str,
    pub(crate) no_after: &'static str,
}

/// Comes before what speaks against a comparison.
pub(crate) const WARNING: &str = "warning";

/// What to say of a field that is not stated.
pub(crate) const NOT_STATED: &str = "not stated";

impl<'r> ComparisonView<'r> {
    pub(crate) fn new(report: &ComparisonReport<'r>) -> Self {
        let ComparisonReport { before, after, comparison, warnings, population } = *report;
        let headline = Headline::of_comparison(comparison);
        let changes = &comparison.changes;
        let doubted = if changes.is_empty() && !warnings.is_empty() {
            headline.doubted(", but mind the warning")
        } else {
            headline.clone()
        };
        let change_at = |name: &str| {
            let change = changes.iter().enumerate().find(|(_, change)| change.slot == name);
            change.map(|(at, change)| (at, change.kind.word()))
        };
        let names = changes.iter().map(|change| change.slot.as_str());
        let only_before: Vec<&str> = names.filter(|name| population.slot(name).is_none()).collect();
        Self {
            headline,
            doubted,
            facts: vec![Fact::new("before", before), Fact::new("after", after)],
            warnings,
            changes: changes.iter().map(change).collect(),
            map: map::of_comparison(population, change_at),
            only_before: (!only_before.is_empty())
                .then(|| format!("In the first alone: {}", only_before.join(", "))),
        }
    }
}

impl ComparisonView<'_> {
    /// The inputs and the warnings.
    pub(crate) fn facts_with_warnings(&self) -> Vec<Fact> {
        let warnings = self.warnings.iter().map(|warning| Fact::new(WARNING, warning.as_str()));
        self.facts.iter().cloned().chain(warnings).collect()
    }
}

fn change(change: &Change) -> ChangeView<'_> {
    let is_changed = change.kind == ChangeKind::Changed;
    let differs = || format!("differs in {}", change.fields.join(", "));
    let what = match (change.kind, &change.from) {
        (ChangeKind::Moved, Some(from)) => format!("moved here from {from}"),
        (ChangeKind::Gone, _) => "the module is gone".to_owned(),
        (ChangeKind::New | ChangeKind::Changed, _) if change.alike > 1 => {
            format!("one of {} identical modules", change.alike)
        }
        (ChangeKind::New, _) => "a module that was not there".to_owned(),
        (ChangeKind::Unlisted, _) => "listed on one side only".to_owned(),
        (ChangeKind::Changed | ChangeKind::Moved, _) => "changed".to_owned(),
    };
    // Of a slot that is stated to be empty, nothing else can be stated.
    let missing = |side: &Side| match side.first().and_then(Option::as_deref) {
        Some("empty") => "none",
        _ => NOT_STATED,
    };
    let fields = COMPARED.iter().enumerate().filter(|(_, field)| change.fields.contains(field));
    let fields = fields.map(|(at, field)| FieldView {
        field,
        before: change.before[at].as_deref(),
        after: change.after[at].as_deref(),
        no_before: missing(&change.before),
        no_after: missing(&change.after),
    });
    ChangeView {
        slot: &change.slot,
        kind: change.kind.word(),
        what,
        differs: is_changed.then(differs),
        fields: fields.collect(),
        before: whole(&change.before),
        after: whole(&change.after),
    }
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
