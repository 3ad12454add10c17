//! One machine as understood: what its evidence shows, on which board, and what it is measured against.
//!
//! Every command, the fleet and users of the library assemble a machine here and nowhere else:
//!
//! ```
//! use asfitted::{audit, case::Case, diagnose, evidence::Text, plan, records, report};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let text = Text::from_bytes("bay07.txt", asfitted::demo::LISTING.into())?;
//! let listing = records::read_one(&text)?;
//! let plan = plan::read("plan.yaml", asfitted::demo::PLAN)?;
//! let machine = Case::of(&text, &listing).plan(&plan);
//! let case = machine.build()?;
//! let audit = audit::audit(&case);
//! let diagnosis = diagnose::diagnose(&case, &audit);
//! println!("{}", serde_json::to_string(&report::audit_json(&diagnosis))?);
//! # Ok(())
//! # }
//! ```

mod belongs;
mod history;
mod names;
mod tiers;

pub(crate) use belongs::{Mark, marks};
pub use history::{Earlier, History, WorkDone, WorkDoneInfo};

use std::borrow::Cow;
use std::cell::OnceCell;

use crate::board::{self, Board};
use crate::evidence::Text;
use crate::place;
use crate::plan::Plan;
use crate::population::{self, Population};
use crate::records::Listing;
use crate::sources::Sources;
use crate::yaml::FileError;

/// What the plan of a case is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Basis {
    /// Somebody wrote it: what it demands is planned.
    Planned,
    /// Nobody wrote it: it stands for what is most plausible, and nothing in it is planned.
    Assumed,
    /// There is none: nothing is demanded.
    Nothing,
}

/// One machine as understood.
#[derive(Debug, Clone)]
pub struct Case<'c> {
    /// Name of the input, as given.
    pub name: &'c str,
    /// The records.
    pub listing: &'c Listing<'c>,
    /// What they prove, with the places that the board gives its slots.
    pub population: Population<'c>,
    /// What should be fitted, in the names of the listing's slots; demands nothing where there is no plan.
    pub plan: Cow<'c, Plan>,
    /// Whether that is planned.
    pub basis: Basis,
    /// The board, with the listing's slots; `None` where none was named.
    pub board: Option<&'c Board>,
    /// Evidence other than the listing.
    pub sources: &'c Sources,
    /// What is known of the time before.
    pub history: History<'c>,
    /// What happened while it was put together and decides nothing.
    pub notes: Vec<String>,
}

impl Case<'_> {
    /// Starts from the machine of `listing`, which is one of `text`. What a capture holds beside the listing is taken
    /// as evidence.
    pub fn of<'a>(text: &'a Text, listing: &'a Listing<'a>) -> CaseBuilder<'a> {
        CaseBuilder {
            name: text.name(),
            listing,
            plan: None,
            board: None,
            sources: Sources::of_capture(text),
            earlier: None,
            done: Vec::new(),
            adapted: OnceCell::new(),
        }
    }

    /// The same machine measured against what is most plausible, where nobody wrote a plan.
    #[must_use]
    pub fn assuming(self, plan: Plan) -> Self {
        let plan = match names::as_listed(&plan, self.listing, &self.population) {
            Cow::Owned(listed) => listed,
            Cow::Borrowed(_) => plan,
        };
        Self { plan: Cow::Owned(plan), basis: Basis::Assumed, ..self }
    }

    /// Whether a plan was given.
    pub fn is_planned(&self) -> bool {
        self.basis == Basis::Planned
    }

    /// What the plan is called: its name, or else its file.
    pub fn plan_name(&self) -> &str {
        self.plan.name.as_deref().unwrap_or(&self.plan.source)
    }
}

/// What a case is made from.
#[derive(Debug)]
pub struct CaseBuilder<'a> {
    name: &'a str,
    listing: &'a Listing<'a>,
    plan: Option<&'a Plan>,
    board: Option<&'a Board>,
    sources: Sources,
    earlier: Option<&'a Listing<'a>>,
    done: Vec<WorkDone>,
    /// The board with the listing's slots, from which the case borrows.
    adapted: OnceCell<Board>,
}

impl<'a> CaseBuilder<'a> {
    /// What the machine is called, where that is not the input's name.
    #[must_use]
    pub fn called(self, name: &'a str) -> Self {
        Self { name, ..self }
    }

    /// What should be fitted.
    #[must_use]
    pub fn plan(self, plan: impl Into<Option<&'a Plan>>) -> Self {
        Self { plan: plan.into(), ..self }
    }

    /// The board, as its description or class has it.
    #[must_use]
    pub fn board(self, board: impl Into<Option<&'a Board>>) -> Self {
        Self { board: board.into(), ..self }
    }

    /// More evidence than that of the listing's own capture, over which it has precedence.
    #[must_use]
    pub fn sources(mut self, mut sources: Sources) -> Self {
        sources.join(self.sources);
        self.sources = sources;
        self
    }

    /// An earlier listing of the same machine.
    #[must_use]
    pub fn earlier(self, listing: impl Into<Option<&'a Listing<'a>>>) -> Self {
        Self { earlier: listing.into(), ..self }
    }

    /// What someone says was done since all was seen.
    #[must_use]
    pub fn done(self, done: Vec<WorkDone>) -> Self {
        Self { done, ..self }
    }

    /// The machine by itself, without board and plan.
    pub fn machine(&self) -> Case<'_> {
        Case {
            name: self.name,
            listing: self.listing,
            population: population::rebuild(self.listing),
            plan: Cow::Owned(Plan::default()),
            basis: Basis::Nothing,
            board: None,
            sources: &self.sources,
            history: History { earlier: self.earlier.map(Earlier::new), done: self.done.clone() },
            notes: Vec::new(),
        }
    }

    /// The whole case.
    ///
    /// # Errors
    /// [`FileError`] where board or plan cannot belong to this listing: the board is of another form, the plan names
    /// a slot that the listing does not have, or another machine, or its order does not fit.
    pub fn build(&self) -> Result<Case<'_>, FileError> {
        let mut case = self.machine();
        self.complete(&mut case)?;
        Ok(case)
    }

    /// Gives `case`, made by [`Self::machine`], its board and its plan. After an error the machine is still there.
    ///
    /// # Errors
    /// As [`Self::build`].
    pub fn complete<'c>(&'c self, case: &mut Case<'c>) -> Result<(), FileError> {
        if let Some(board) = self.board {
            let adapted = board::adapt(board, &case.population)?;
            let board = self.adapted.get_or_init(|| adapted);
            board::place_on(&mut case.population, board);
            case.board = Some(board);
        }
        if let Some(plan) = self.plan {
            case.plan = self.in_listed_slots(plan, case)?;
            case.basis = Basis::Planned;
        }
        Ok(())
    }

    /// The plan in the slots of the listing; its order, if there is one, placed.
    fn in_listed_slots<'c>(
        &'c self,
        plan: &'c Plan,
        case: &mut Case<'c>,
    ) -> Result<Cow<'c, Plan>, FileError> {
        let plan = if plan.order.is_empty() {
            Cow::Borrowed(plan)
        } else {
            let (plan, note) = place::near_to_fitted(plan.clone(), case.board, &case.population)?;
            case.notes.extend(note);
            Cow::Owned(plan)
        };
        if !plan.order.is_empty() {
            return Err(order_without_slots(&plan));
        }
        belongs::check_machine(self.listing, &plan)?;
        let listed = match names::as_listed(&plan, self.listing, &case.population) {
            Cow::Owned(listed) => Some(listed),
            Cow::Borrowed(_) => None,
        };
        let plan = listed.map_or(plan, Cow::Owned);
        belongs::check_slots(self.listing, &case.population, &plan)?;
        Ok(plan)
    }
}

fn order_without_slots(plan: &Plan) -> FileError {
    FileError {
        file: plan.source.clone(),
        line: None,
        found: "an `order` without slots".to_owned(),
        expected: "modules in slots".to_owned(),
        advice: "Name its board (`--board NAME|FILE`, or `board` in the plan), or turn it into slots: `asfitted plan place PLAN`.".to_owned(),
    }
}
