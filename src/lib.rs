//! Proves from a server's SMBIOS listing that its memory is fitted as planned.
//!
//! Data flows one way, and a module never uses a later one:
//!
//! [`evidence`] → [`records`], [`sources`] → [`population`] → [`plan`], [`board`] → [`audit`] → [`compare`], [`diagnose`] → [`report`]
//!
//! ```
//! use asfitted::{audit, evidence::Text, plan, population, records};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let text = Text::from_bytes("demo", asfitted::demo::LISTING.into())?;
//! let listings = records::read(&text);
//! let population = population::rebuild(&listings[0]);
//! let plan = plan::read("plan.yaml", asfitted::demo::PLAN)?;
//! let audit = audit::audit(&listings[0], &population, &plan)?;
//! assert_eq!(audit.verdict, audit::Verdict::Deviates);
//! # Ok(())
//! # }
//! ```

#[macro_use]
mod tables;

pub mod audit;
pub mod board;
pub mod capture;
pub mod check;
pub mod cli;
pub mod compare;
pub mod demo;
pub mod diagnose;
pub mod enums;
pub mod evidence;
pub mod fleet;
pub mod place;
pub mod plan;
pub mod population;
pub mod records;
pub mod report;
mod sanitize;
pub mod sources;
pub mod units;
pub mod yaml;
