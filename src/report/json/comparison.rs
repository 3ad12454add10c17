//! The JSON of a comparison.

use serde::Serialize;

use super::parts::{self, NoteJson};
use crate::compare::{COMPARED, Change, Side};
use crate::report::ComparisonReport;

/// One comparison, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted comparison"))]
pub struct ComparisonJson {
    /// Always `asfitted.comparison`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// Name of the first input.
    pub before: String,
    /// Name of the second input.
    pub after: String,
    /// Number of slots that are the same.
    pub same: usize,
    /// Slots that differ.
    pub changes: Vec<ChangeJson>,
    /// What makes the comparison doubtful.
    pub notes: Vec<NoteJson>,
}

/// One slot that differs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ChangeJson {
    /// The slot.
    pub slot: String,
    /// `gone`, `new`, `moved`, `changed` or `unlisted`.
    pub change: &'static str,
    /// For a moved module, the slot where it was before.
    pub from: Option<String>,
    /// The fields that differ, with both texts; null where not stated.
    pub fields: Vec<FieldJson>,
}

/// One field that differs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FieldJson {
    /// Its name.
    pub field: &'static str,
    /// Text before.
    pub before: Option<String>,
    /// Text after.
    pub after: Option<String>,
}

/// The JSON of a comparison.
pub fn comparison_json(report: &ComparisonReport<'_>) -> ComparisonJson {
    let ComparisonReport { before, after, comparison, warnings, .. } = *report;
    ComparisonJson {
        format: "asfitted.comparison",
        version: 1,
        before: before.to_owned(),
        after: after.to_owned(),
        same: comparison.same,
        changes: comparison.changes.iter().map(change).collect(),
        notes: parts::remarks(warnings).collect(),
    }
}

fn change(change: &Change) -> ChangeJson {
    let text = |side: &Side, field: &str| {
        COMPARED.iter().position(|name| *name == field).and_then(|at| side.get(at).cloned().flatten())
    };
    ChangeJson {
        slot: change.slot.clone(),
        change: change.kind.word(),
        from: change.from.clone(),
        fields: change
            .fields
            .iter()
            .map(|field| FieldJson {
                field,
                before: text(&change.before, field),
                after: text(&change.after, field),
            })
            .collect(),
    }
}
