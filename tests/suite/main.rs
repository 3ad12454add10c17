//! All tests that use the library or the command from outside, as one binary.
//!
//! Slow tests are in modules called `slow`, so that `--skip slow::` leaves them out.

#![expect(unreachable_pub, reason = "the modules of one binary share their helpers")]
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test ends where it fails")]
#![expect(clippy::disallowed_methods, reason = "tests write their own inputs")]
#![expect(clippy::print_stdout, reason = "the campaign prints its table")]

mod command;
mod outputs;
mod stages;
mod truth;
mod util;
