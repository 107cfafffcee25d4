//! The `dekchi` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    dekchi::cli::main()
}
