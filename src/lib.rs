//! Proves from a server's SMBIOS listing that its memory is fitted as planned.
//!
//! Data flows one way, and a module never uses a later one:
//!
//! [`evidence`] → [`records`]

pub mod evidence;
pub mod records;
pub mod units;
