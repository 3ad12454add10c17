//! What is said of a result: titles, sentences, rows, steps and marks, as plain data.
//!
//! Whatever a person reads of a result is worded here and nowhere else, and each format only lays it out. Nothing here knows of
//! styles, markup or columns, and nothing is decided here: it all follows from the diagnosis.

mod check;
mod comparison;
mod facts;
mod findings;
pub(super) mod fleet;
mod headline;
mod map;
mod mark;
mod part_numbers;
mod population;
mod shortfall;
mod slots;
mod speed;
mod steps;
pub(super) mod titles;
mod words;

pub(super) use check::CheckView;
pub(super) use comparison::{CHANGE_COLUMNS, ChangeView, ComparisonView, FieldView, NOT_STATED, WARNING};
pub(super) use facts::{Fact, Firmware, Machine, Note, machine, notes};
pub(super) use findings::{
    BECAUSE, BELONGS, CHECK, FIELDS, FindingView, Group, LINE, SLOTS, more_lines, source_line, sourced,
};
pub(super) use headline::Headline;
pub(super) use map::{Drawn, Look, Map, Socket, arrange, processor_word};
pub(super) use mark::{BROKEN_OUTLINE, LEGEND, Mark};
pub(super) use part_numbers::{PartView, sources as part_sources};
pub(super) use population::{ModuleKind, PopulationView};
pub(super) use shortfall::{ShortfallView, StageView, SuspectsView};
pub(super) use slots::SlotTable;
pub(super) use steps::{BRING, Order, SIGNED, WORK, Work};
pub(super) use words::typed;

use crate::case::Case;
use crate::diagnose::{Diagnosis, Shortfall, Suspicion};

/// What is said of a machine that was measured against a plan, with or without a shortfall.
#[derive(Debug)]
pub(crate) struct DiagnosisView<'d> {
    /// Names the result where there is room for one line only.
    pub(crate) title: String,
    pub(crate) headline: Headline,
    pub(crate) facts: Vec<Fact>,
    /// Where memory is lost; `None` for an audit.
    pub(crate) shortfall: Option<ShortfallView>,
    pub(crate) groups: Vec<Group<'d>>,
    pub(crate) order: Order<'d>,
    pub(crate) map: Map<Drawn>,
    pub(crate) slots: SlotTable,
    pub(crate) notes: Vec<Note>,
}

impl<'d> DiagnosisView<'d> {
    /// Of an audit.
    pub(crate) fn of_audit(diagnosis: &'d Diagnosis<'_>) -> Self {
        let verdict = diagnosis.audit.verdict.word();
        Self {
            title: format!("{verdict}: {}", diagnosis.case.name),
            headline: Headline::of_audit(diagnosis),
            facts: facts::of_audit(diagnosis),
            shortfall: None,
            ..Self::new(diagnosis, &[])
        }
    }

    /// Of a server that shows too little.
    pub(crate) fn of_shortfall(diagnosis: &'d Diagnosis<'_>, shortfall: &Shortfall) -> Self {
        let headline = Headline::of_shortfall(diagnosis, shortfall);
        let suspects = shortfall.suspicion.as_ref().map_or_else(Vec::new, Suspicion::slots);
        Self {
            title: format!("{}: {}", headline.sentence(), diagnosis.case.name),
            headline,
            facts: facts::of_shortfall(diagnosis),
            shortfall: Some(ShortfallView::new(shortfall)),
            ..Self::new(diagnosis, &suspects)
        }
    }

    /// Of the work order on paper, which has the same body whatever it comes from.
    pub(crate) fn of_order(diagnosis: &'d Diagnosis<'_>) -> Self {
        Self { facts: facts::of_order(diagnosis), ..Self::of_audit(diagnosis) }
    }

    /// What all of them say alike.
    fn new(diagnosis: &'d Diagnosis<'_>, suspects: &[String]) -> Self {
        let groups = findings::groups(diagnosis);
        let order = Order::new(diagnosis, &groups);
        let unlisted = slots::unlisted(diagnosis);
        Self {
            title: String::new(),
            headline: Headline::of_audit(diagnosis),
            facts: Vec::new(),
            shortfall: None,
            map: map::of_diagnosis(diagnosis, suspects, &unlisted),
            slots: slots::of_diagnosis(diagnosis, &groups, &unlisted),
            groups,
            order,
            notes: notes(diagnosis.case),
        }
    }
}

/// `planned`, or `assumed` where nobody wrote the plan.
fn planned_word(case: &Case<'_>) -> &'static str {
    if case.is_planned() { "planned" } else { "assumed" }
}
