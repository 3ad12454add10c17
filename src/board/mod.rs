//! Board descriptions: which slots belong together, and the rules of the platform.
//!
//! A description is a small YAML file (docs/boards.md). Its rules can come from a platform class in the
//! embedded library, in which every number carries its source or says that it is from memory; what is from
//! memory never makes a fault.

mod adapt;
mod adapt_plan;
mod balance;
mod derive;
mod description;
mod fitting;
mod forms;
mod layout;
mod library;
mod mode;
mod model_pattern;
mod parse;
mod predict;
mod raise;
mod read;
mod rules;
mod write;

pub use crate::plan::Mode;
pub use adapt::{adapt, place_on};
pub use adapt_plan::with_slots_of;
pub use balance::Balance;
pub use derive::{DerivedBoard, from_population};
pub use description::{
    Board, BoardChannel, BoardSocket, ChannelLimit, ProcessorGrade, Rules, Source, Sourced, SpeedRow,
};
pub use fitting::{ChannelLoad, Fitting, Load};
#[cfg(feature = "schema")]
pub use forms::schema;
pub use library::{CLASSES, class};
pub use model_pattern::ModelPattern;
pub(crate) use predict::channel_speed;
pub use predict::{ExpectedSpeed, Limit, LimitKind, Prediction, predict};
pub use raise::Raise;
pub(crate) use raise::raises;
pub use read::read;
pub use rules::{RuleKind, Violation, check};
pub(crate) use rules::{channel_is_legal, concerns, counted_ranks, most_beside};
pub use write::to_yaml;
