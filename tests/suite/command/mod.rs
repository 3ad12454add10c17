//! The command from outside, as its users meet it.

mod capture;
mod cli;
mod diagnose;
mod fleet;
mod pallet;
mod parts;
mod plans;
mod verdicts;
mod written;
