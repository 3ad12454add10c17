//! What every stage may use and what knows nothing of the trade's rules: sizes and rates, the enumerations of
//! SMBIOS, untrusted text made safe to show, words, advice on files that cannot be read, optimal assignment, and the
//! reading and writing of our YAML files.

#[macro_use]
mod table;

pub(crate) mod advice;
pub(crate) mod assignment;
pub mod enums;
pub(crate) mod sanitize;
pub mod units;
pub(crate) mod words;
pub mod yaml;
