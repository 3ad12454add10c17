//! The command from outside, as its users meet it.

mod capture;
pub mod cli;
mod fleet;
mod pallet;
