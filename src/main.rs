//! The `asfitted` command; everything it does is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    asfitted::cli::main()
}
