//! The program `brunt`; see the crate's head.
#![forbid(unsafe_code)]

use std::process::ExitCode;

fn main() -> ExitCode {
    brunt_cli::cli::main()
}
