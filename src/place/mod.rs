//! From an order to slots: the best placement of a bag of modules on a board.
//!
//! Best is, in this order: legal, then fastest, then most even over sockets, then over channels, then the most
//! channels in use. Among equals the first sockets and channels hold most. The search is exact: dynamic programming
//! over how many modules of each kind a socket's channels take, so that equal channels and equal modules are never
//! tried twice.

mod blockers;
mod content;
mod layer;
mod merit;
mod near;
mod order;
mod placing;
mod search;

pub use merit::{Merit, merit};
pub(crate) use placing::near_to_fitted;
pub use placing::{Placed, Placement, Refusal, place, place_near};
