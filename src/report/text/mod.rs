//! For a person at a terminal, and on paper.

mod audit;
mod check;
mod comparison;
mod diagnosis;
pub(super) mod layout;
mod map;
mod part_numbers;
mod population;
mod work;

use std::io::{self, Write};

pub use audit::write_audit;
pub use check::write_plan_check;
pub use comparison::write_comparison;
pub use diagnosis::write_diagnosis;
pub use layout::{Extent, Layout};
pub use part_numbers::write_parts;
pub use population::write_population;
pub use work::write_work;

use super::view::{Fact, Mark};
use super::{Output, Report};
use crate::{board, plan};
use layout::{Page, Tone};

/// Any result as text; every result has it.
///
/// # Errors
/// Those of writing to memory, which do not happen.
pub fn as_text(report: &Report<'_>, layout: Layout) -> io::Result<Option<Output>> {
    let mut made = Vec::new();
    match report {
        Report::Audit(diagnosis) => write_audit(diagnosis, layout, &mut made)?,
        Report::Diagnosis(diagnosis, shortfall) => write_diagnosis(diagnosis, shortfall, layout, &mut made)?,
        Report::Population(case) => write_population(case, layout, &mut made)?,
        Report::Comparison(comparison) => write_comparison(comparison, layout, &mut made)?,
        Report::PlanCheck(check) => write_plan_check(check, layout, &mut made)?,
        Report::Parts(parts) => write_parts(parts, layout, &mut made)?,
        Report::Classes => write_classes(&mut made)?,
        Report::Files(paths) => {
            for path in *paths {
                writeln!(made, "{}", path.display())?;
            }
        }
        // These are read by this tool again and stay as they are.
        Report::Capture(taken, _) => return Ok(Some(Output::Plain(taken.text.clone().into_bytes()))),
        Report::Plan(plan, comments) => {
            return Ok(Some(Output::Plain(plan::to_yaml(plan, comments).into_bytes())));
        }
    }
    Ok(Some(Output::Styled(made)))
}

/// The platform classes of the library.
fn write_classes(out: &mut dyn Write) -> io::Result<()> {
    for class in board::CLASSES {
        let about = board::class(class.name).and_then(|board| board.about).unwrap_or_default();
        let (sockets, channels, slots) = class.form;
        writeln!(out, "{:<12} {sockets} x {channels} x {slots}  {about}", class.name)?;
    }
    Ok(())
}

/// How a mark is set.
impl From<Mark> for Tone {
    fn from(mark: Mark) -> Self {
        match mark {
            Mark::Fault => Self::Bad,
            Mark::Warning | Mark::Unproven => Self::Doubt,
            Mark::Good => Self::Good,
        }
    }
}

/// A title with a blank line above it.
fn title(page: &mut Page<'_>, title: &str) -> io::Result<()> {
    page.blank()?;
    page.text(0, 2, Tone::Heading, title)
}

/// Lines with a dash each.
fn list<T: AsRef<str>>(page: &mut Page<'_>, lines: &[T]) -> io::Result<()> {
    for line in lines {
        page.text(2, 4, Tone::Plain, &format!("- {}", line.as_ref()))?;
    }
    Ok(())
}

fn facts(page: &mut Page<'_>, indent: usize, facts: &[Fact]) -> io::Result<()> {
    for fact in facts {
        page.entry(indent, fact.key, &fact.text)?;
    }
    Ok(())
}
