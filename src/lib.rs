//! Proves from a server's SMBIOS listing that its memory is fitted as planned.
//!
//! A listing is the text that `dmidecode` prints. It is read into records, the records into the population of the
//! machine's slots, and that is compared with a plan. What the listing does not show is unproven, never passed and
//! never failed.
//!
//! Data flows one way, and a module never uses a later one:
//!
//! | stage | makes |
//! | --- | --- |
//! | [`evidence`] | text, and blocks of it, from whatever form an input has |
//! | [`records`], [`sources`] | typed SMBIOS records; every other source of evidence |
//! | [`identity`] | what a module is by its part number and by its SPD contents |
//! | [`population`] | sockets, channels, slots and modules |
//! | [`plan`], [`board`], [`place`] | what should be fitted; the rules of the board; slots for an order |
//! | [`case`] | one machine as understood: all of the above together |
//! | [`mod@audit`] | findings: what differs from the plan, each with the lines that show it, and the verdict |
//! | [`diagnose`] | the likely causes of each finding, and the steps that mend it |
//! | [`fleet`] | many machines: each audited, and every module accounted for |
//! | [`report`] | all of it as text, JSON or pages |
//!
//! # One machine
//!
//! ```
//! use asfitted::{audit, case::Case, diagnose, evidence::Text, plan, records, report};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let text = Text::from_bytes("bay07.txt", asfitted::demo::LISTING.into())?;
//! let listing = records::read_one(&text)?;
//! let plan = plan::read("plan.yaml", asfitted::demo::PLAN)?;
//!
//! let machine = Case::of(&text, &listing).plan(&plan);
//! let case = machine.build()?;
//! let audit = audit::audit(&case);
//! let diagnosis = diagnose::diagnose(&case, &audit);
//!
//! assert_eq!(audit.verdict, audit::Verdict::Deviates);
//! for explained in &diagnosis.findings {
//!     println!("{}: {}", explained.finding.kind.word(), explained.finding.summary);
//! }
//! println!("{}", serde_json::to_string(&report::audit_json(&diagnosis))?);
//! # Ok(())
//! # }
//! ```
//!
//! `examples/audit.rs` does this for files, `examples/fleet.rs` for a folder of listings.
//!
//! # Features
//!
//! | feature | default | brings |
//! | --- | --- | --- |
//! | `cli` | yes | the command `asfitted`, with what it needs to read arguments and to write to terminals and files |
//! | `schema` | no | JSON Schemas of plans, boards and results |
//!
//! Without features the library neither prints nor writes files. It reads files in one place, [`fleet`], whose inputs
//! are too large to be read beforehand.

#![cfg_attr(test, allow(clippy::disallowed_methods, reason = "tests write their own inputs"))]

#[macro_use]
mod base;

pub mod audit;
pub mod board;
pub mod capture;
pub mod case;
pub mod check;
#[cfg(feature = "cli")]
pub mod cli;
pub mod compare;
pub mod demo;
pub mod diagnose;
pub mod evidence;
pub mod fleet;
pub mod identity;
pub mod place;
pub mod plan;
pub mod population;
pub mod records;
pub mod report;
pub mod sources;

pub(crate) use base::sanitize;
pub use base::{enums, units, yaml};
