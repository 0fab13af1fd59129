//! `cargo xtask bench` and `cargo xtask bench-ceiling`: what the meter costs, and how well the
//! ceiling is told from the mix alone.

use std::process::ExitCode;

use anyhow::Result;

use crate::setup::{self, Group};
use crate::workspace::{self, cargo};

/// Rebuilds the corpus and prints the table.
pub fn ceiling(short: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    println!(
        "== Rendering, limiting and measuring (a quarter of an hour, or a minute with --short)"
    );
    let mut run = cargo([
        "run",
        "--release",
        "--quiet",
        "--package",
        "brunt-tests",
        "--bin",
        "ceiling",
        "--",
    ]);
    run.arg("bench");
    if short {
        run.arg("--short");
    }
    workspace::run(&mut run, "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}

/// Prints what the meter costs beside the `ebur128` crate, in one run.
pub fn speed() -> Result<ExitCode> {
    let mut run = cargo(["run", "--release", "--quiet", "--package", "brunt-tests"]);
    run.args(["--bin", "speed"]);
    workspace::run(&mut run, "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}
