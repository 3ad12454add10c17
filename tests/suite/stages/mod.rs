//! One stage of the flow from outside.

mod derived_plans;
mod inputs;
pub mod raw_table;
mod records;
mod sources;
