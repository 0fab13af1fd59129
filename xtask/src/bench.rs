//! `cargo xtask bench` and `bench-ceiling`: what the meter and the program cost, and how well the ceiling
//! is told from the mix alone, on songs of ours.

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
    let mut run =
        cargo(["run", "--release", "--quiet", "--package", "brunt-lab", "--bin", "ceiling", "--"]);
    run.arg("bench");
    if short {
        run.arg("--short");
    }
    workspace::run(&mut run, "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}

/// Renders songs of two kinds with one cause at a time, and prints each cost that is read against what
/// the hits really lost.
pub fn costs(songs: u64) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    println!("== Rendering and measuring (about a minute a song of each kind)");
    let songs = songs.to_string();
    workspace::run(
        &mut cargo([
            "run",
            "--release",
            "--quiet",
            "--package",
            "brunt-lab",
            "--bin",
            "costs",
            "--",
            songs.as_str(),
        ]),
        "the bench failed",
    )?;
    Ok(ExitCode::SUCCESS)
}

/// Prints what the meter costs: in time beside the `ebur128` crate and ffmpeg, in instructions, and
/// in memory. `parts`: some of what there is, or everything.
pub fn speed(short: bool, parts: &[String]) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Bench])?;
    println!("== Building for real use");
    let mut build = cargo(["build", "--release", "--quiet", "--package", "brunt-cli"]);
    workspace::run(build.args(["--bin", "brunt"]), "cannot build the program")?;
    println!("== Measuring (a quarter of an hour on a quiet machine, or two minutes with --short)");
    let mut run = cargo(["run", "--release", "--quiet", "--package", "brunt-bench"]);
    run.args(["--bin", "speed", "--", "--brunt"]);
    run.arg(workspace::target_dir()?.join("release/brunt"));
    if short {
        run.arg("--short");
    }
    workspace::run(run.args(parts), "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}
