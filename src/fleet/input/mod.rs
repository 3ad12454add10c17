//! From paths to listings: folders, files, archives, JSON Lines, streams of listings.

mod archive;
mod file;
mod item;
mod lines;
mod paths;
mod stream;
mod unpack;

pub(super) use file::read_file;
pub use item::{Content, Item, Limits};
pub use paths::Inputs;
