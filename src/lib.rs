//! Proves from a server's SMBIOS listing that its memory is fitted as planned.
//!
//! Data flows one way, and a module never uses a later one:
//!
//! [`evidence`] → [`records`] → [`population`] → [`plan`] → [`audit`]

pub mod audit;
pub mod evidence;
pub mod plan;
pub mod population;
pub mod records;
pub mod units;
