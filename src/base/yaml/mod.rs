//! Reading and writing our YAML files, plans and board descriptions. The only folder that names the library.

mod error;
mod guard;
mod source;
mod write;

pub use error::FileError;
pub(crate) use error::did_you_mean;
pub(crate) use guard::from_str;
pub(crate) use source::{Many, Source};
pub(crate) use write::{scalar, write_comments};
