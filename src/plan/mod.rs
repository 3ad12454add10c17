//! The plan: what should be fitted, in our own YAML format, from module labels or fields, or derived from a listing.

pub(crate) mod agreement;
mod demand;
mod derive;
mod forms;
mod mode;
mod module;
mod order;
mod read;
mod sticker;
mod write;

pub use demand::{
    Demand, DemandField, Expectation, MachineSelector, ModuleSpec, Plan, PlannedSlot, Processor,
};
pub(crate) use derive::wanted;
pub use derive::{Derived, from_population};
#[cfg(feature = "schema")]
pub use forms::schema;
pub use mode::{Mode, NamedMode};
pub use order::ORDER_FORM;
pub use order::{OrderError, parse_order};
pub use read::read;
pub use sticker::{StickerError, parse_size, parse_sticker};
pub use write::{to_json, to_yaml};
