//! `cargo xtask demo`: prepares everything that the demo needs, and calls it.
//!
//! The demo itself is a program of its own crate under `tests/`: it needs a plug-in host and a song, and this
//! one is to stay light.

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, ExitStatus, Stdio};
use std::time::Instant;

use anyhow::{Context, Result};

use crate::bundle::{self, Build, Bundles};
use crate::setup::{self, Group};
use crate::workspace::{self, called_from, cargo};

/// Builds, bundles, plays, and prints the table.
pub fn run(out: Option<PathBuf>) -> Result<ExitCode> {
    // Looked at before the long work: a folder that cannot be made is the user's to know now.
    let out = match out {
        Some(out) => called_from()?.join(out),
        None => workspace::target_dir()?.join("demo"),
    };
    std::fs::create_dir_all(&out).with_context(|| format!("cannot create {}", out.display()))?;

    println!("== Set-up");
    setup::prepare(&[Group::Demo])?;
    println!("== Building the plug-in, the file check and the demo (some minutes the first time)");
    // In one call: the plug-in and the file check are to be built from the same sources, and two
    // processors have more to share out. As the tests build them: a release takes twice the compiler's time, and
    // reads the same to the last bit.
    let mut build = cargo(["build", "--lib", "--bin", "brunt", "--bin", "demo"]);
    build.args(["--package", "brunt", "--package", "brunt-cli", "--package", "brunt-demo"]);
    workspace::run(&mut build, "the plug-in, the file check or the demo does not build")?;
    let bundles = bundle::built(&Build::here(false))?;

    println!("== Demo");
    let started = Instant::now();
    let folder = workspace::target_dir()?.join("debug");
    let status = play(&out, &folder, &bundles)?;
    println!("Demo time after compilation: {:.0} s", started.elapsed().as_secs_f64());
    Ok(if status.success() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Calls the demo that was built into `folder`.
pub fn play(out: &Path, folder: &Path, bundles: &Bundles) -> Result<ExitStatus> {
    let program = |name: &str| folder.join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    // What the plug-in logs would stand between the lines of the demo.
    let log = out.join("plug-in.log");
    bundle::remove(&log)?;
    Command::new(program("demo"))
        .arg(out)
        .arg(program("brunt"))
        .env("BRUNT_BUNDLE", &bundles.clap)
        .env("NICE_LOG", &log)
        .stdin(Stdio::null())
        .status()
        .context("the demo cannot start")
}
