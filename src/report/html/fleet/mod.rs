//! The page of a fleet, and the pages of its hosts.

mod boards;
mod column;
mod host;
mod live;
mod output;
mod page;

pub use host::HostPage;
pub use output::{FleetPages, HostPages, WritePage};
