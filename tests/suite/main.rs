//! All tests that use the library or the command from outside, as one binary.

#![expect(unreachable_pub, reason = "the modules of one binary share their helpers")]

mod campaign;
mod corpus;
mod edit;
