//! Third stage: records become sockets, channels, slots and modules.
//!
//! Nothing is compared here, and nothing is invented: what the labels do not prove stays unproven, and only the
//! Size field decides whether a slot is empty.

mod analogy;
mod build;
mod doubles;
pub mod identity;
pub(crate) mod labels;
mod mentions;
mod module;
mod observation;
mod observe;
mod placeholders;
mod slots;
mod tier;
mod topology;
mod totals;
mod trace;

pub use crate::identity::ModuleKind;
pub(crate) use analogy::{Analogy, is_on_unlisted_socket, socket_by_analogy};
pub(crate) use build::printed_labels;
pub use build::rebuild;
pub use labels::prepare;
pub(crate) use mentions::{Mention, Mentions};
pub use module::{CheckBits, Module, ModuleSize};
pub use observation::{Observation, ObservationKind};
pub use slots::{Population, Slot, SlotState, Socket};
pub use tier::Tier;
pub use topology::{Certainty, Channel, Location};
pub use totals::{TierTotals, Totals};
pub use trace::{Trace, TraceField};
