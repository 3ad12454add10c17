//! All tests that use the library or the command from outside, as one binary.

#![expect(unreachable_pub, reason = "the modules of one binary share their helpers")]
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test ends where it fails")]
#![expect(clippy::print_stdout, reason = "the campaign prints its table")]

mod boards;
mod campaign;
mod capture;
mod causes;
mod cli;
mod corpus;
mod cuts;
mod derived;
mod diagnosis;
mod docs;
mod edit;
mod fixture;
mod fleet;
mod forms;
mod inputs;
mod pages;
mod pallet;
mod placing;
mod properties;
mod reference;
mod sources;
mod standards;
mod table;
mod work;
