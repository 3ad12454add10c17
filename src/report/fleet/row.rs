//! A host as a row of a table.

use std::borrow::Cow;

use crate::audit::{Audit, Severity};
use crate::case::Case;
use crate::fleet::Host;
use crate::report::view::{self, machine};

/// A host, and what several of its cells need.
pub(in crate::report) struct HostRow<'v, 'h> {
    pub(in crate::report) host: &'v Host<'h>,
    /// The machine; `None` for a host that was not audited.
    pub(in crate::report) machine: Option<Machine<'h>>,
}

/// A machine that was audited.
pub(in crate::report) struct Machine<'r> {
    pub(in crate::report) case: &'r Case<'r>,
    pub(in crate::report) audit: &'r Audit,
    /// What its listing calls it.
    pub(in crate::report) named: view::Machine,
}

impl<'v, 'h> HostRow<'v, 'h> {
    pub(in crate::report) fn of(host: &'v Host<'h>) -> Self {
        let machine = host.audited.as_ref().map(|audited| Machine {
            case: audited.case,
            audit: audited.audit,
            named: machine(audited.case),
        });
        Self { host, machine }
    }

    /// A name of the machine; empty where there is none.
    pub(in crate::report) fn named(&self, name: fn(&view::Machine) -> &Option<String>) -> Cow<'_, str> {
        let name = self.machine.as_ref().and_then(|machine| name(&machine.named).as_deref());
        name.unwrap_or_default().into()
    }

    /// How many findings of a severity there are; none where there was no audit.
    pub(in crate::report) fn count(&self, severity: Severity) -> usize {
        self.machine.as_ref().map_or(0, |machine| machine.audit.count(severity))
    }
}
