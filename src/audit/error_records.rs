//! `memory-errors` by the listing's own error records, which devices point to.

use super::Context;
use super::finding::{Finding, FindingKind, Severity};
use crate::base::words::short_list;
use crate::plan::DemandField;
use crate::population::Slot;
use crate::records::MemoryError;
use crate::records::enums::ErrorType;

/// Types 18 and 33, clauses 7.19 and 7.34: the last error of a device, as firmware keeps it. One finding for each kind
/// of error. When it happened is not stated, so that it is open; one that was corrected is a warning.
///
/// An empty slot that points to an error says nothing of a module: some firmware has one record for all of its slots.
/// Where a module is missed, the record is evidence of that.
pub(super) fn add(context: &Context<'_, '_>, findings: &mut Vec<Finding>) {
    let mut kinds: Vec<(ErrorType, Vec<(usize, &MemoryError<'_>)>)> = Vec::new();
    for (index, slot) in context.case.population.slots.iter().enumerate() {
        let Some((kind, error)) = error_of(context, slot) else { continue };
        let absent = findings.iter_mut().find(|finding| {
            matches!(finding.kind, FindingKind::Missing | FindingKind::NotRunning | FindingKind::NoCpu)
                && finding.slots.iter().any(|name| *name == slot.name)
        });
        if let Some(finding) = absent {
            finding.evidence.extend(context.evidence([error.kind.place()]));
        } else if slot.fitted().is_some() {
            match kinds.iter_mut().find(|(own, _)| *own == kind) {
                Some((_, slots)) => slots.push((index, error)),
                None => kinds.push((kind, vec![(index, error)])),
            }
        }
    }
    if !context.case.plan.waived.contains(&DemandField::Errors) {
        findings.extend(kinds.into_iter().map(|(kind, slots)| finding(context, kind, &slots)));
    }
}

fn error_of<'c, 'a>(context: &Context<'c, 'a>, slot: &Slot<'_>) -> Option<(ErrorType, &'c MemoryError<'a>)> {
    let device = context.case.listing.devices.get(slot.device)?;
    let error = context.case.listing.error(device.error_handle)?;
    Some((error.kind.get().filter(|kind| kind.is_error())?, error))
}

fn finding(context: &Context<'_, '_>, kind: ErrorType, slots: &[(usize, &MemoryError<'_>)]) -> Finding {
    let names = slots.iter().map(|(slot, _)| context.name(*slot)).collect();
    let mut finding = Finding::about(FindingKind::MemoryErrors, names);
    finding.severity = if kind.is_corrected() { Severity::Warning } else { Severity::Unproven };
    finding.fields = vec![DemandField::Errors];
    finding.summary = format!(
        "{}: the firmware keeps a record of an error: {kind}; it does not say when",
        short_list(&finding.slots)
    );
    finding.expected = "no errors".to_owned();
    finding.found = kind.to_string();
    let lines = slots.iter().flat_map(|(slot, error)| {
        let device = context.device(*slot);
        [device.locator.place(), device.error_handle.place(), error.kind.place(), error.operation.place()]
    });
    finding.evidence = context.evidence(lines);
    finding
}
