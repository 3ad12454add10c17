//! The demo: an invented server with an invented board, a plan for it, and a listing with several faults.
//!
//! The board has two processors with three channels of three slots each. Its labels (`s1.c2.p3`: socket,
//! channel, position) and all makers, parts and serial numbers are made up.

/// The listing of the demo server.
pub const LISTING: &str = include_str!("listing.txt");

/// The plan for the demo server.
pub const PLAN: &str = include_str!("plan.yaml");

/// Name under which the demo's listing is shown.
pub const LISTING_NAME: &str = "demo listing";

/// Name under which the demo's plan is shown.
pub const PLAN_NAME: &str = "demo plan";
