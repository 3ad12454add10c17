//! The work order as plain text, to be printed and taken to the machine.

use std::io::{self, Write};

use super::audit_text::{counted, groups, mark, write_cautions};
use super::layout::{Page, Tone};
use super::map;
use super::population_text::write_origin;
use crate::diagnose::{Diagnosis, movements};

/// What is done once all steps are done; the last of it goes by whether there is a plan.
pub(super) fn afterwards(plan_given: bool) -> [&'static str; 4] {
    [
        "see that all latches are closed and nothing lies in the machine; close the lid",
        "connect the mains, boot, and let the memory be trained; the first start can take long",
        "take a new listing as root: `dmidecode > FILE`, or `asfitted capture`",
        if plan_given {
            "audit it against the same plan; it should end as planned"
        } else {
            "diagnose it again with the same `--fitted`"
        },
    ]
}

/// Stands before what is to be checked where findings call for no hand movement by themselves.
pub(super) const NO_STEP: &str = "No hand movement follows from the evidence; look into";

/// Writes the work order of an audit.
///
/// # Errors
/// Those of `out`.
pub fn write_work(diagnosis: &Diagnosis<'_>, out: &mut dyn Write) -> io::Result<()> {
    let mut page = Page::new(out);
    let steps = &diagnosis.steps;
    page.text(0, 2, Tone::Heading, "WORK ORDER")?;
    page.entry(0, "plan", diagnosis.case.plan.name.as_deref().unwrap_or(&diagnosis.case.plan.source))?;
    write_origin(&mut page, diagnosis.case)?;
    if steps.is_empty() && diagnosis.audit.findings.is_empty() {
        page.entry(0, "work", "none: nothing that hands can mend was found")?;
    } else if steps.is_empty() {
        page.entry(0, "work", "none that follows from the evidence alone")?;
        page.blank()?;
        write_cautions(&mut page)?;
        page.blank()?;
        page.text(0, 2, Tone::Heading, NO_STEP)?;
        for (number, group) in groups(diagnosis).iter().enumerate() {
            page.text(2, 10, Tone::Plain, &format!("[ ] {:>2}. {}", number + 1, group.to_check()))?;
        }
    } else {
        page.entry(0, "work", &format!("{} in {}", counted(movements(steps)), number(steps.len())))?;
        page.blank()?;
        write_cautions(&mut page)?;
        page.blank()?;
        page.text(0, 2, Tone::Heading, "Steps, in this order")?;
        for (number, step) in steps.iter().enumerate() {
            page.text(2, 10, Tone::Plain, &format!("[ ] {:>2}. {}", number + 1, step.text))?;
        }
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "As the listing shows it   (! fault   * warning   ? open   - empty)")?;
    map::write(&mut page, &diagnosis.case.population, &|name| mark(name, &diagnosis.audit.findings))?;
    if !steps.is_empty() {
        page.blank()?;
        page.text(0, 2, Tone::Heading, "Afterwards")?;
        for line in afterwards(true) {
            page.text(2, 6, Tone::Plain, &format!("[ ] {line}"))?;
        }
    }
    Ok(())
}

pub(super) fn number(steps: usize) -> String {
    if steps == 1 { "1 step".to_owned() } else { format!("{steps} steps") }
}
