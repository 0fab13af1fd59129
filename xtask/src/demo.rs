//! `cargo xtask demo`: prepares everything that the demo needs, and calls it.
//!
//! The demo itself is a program of the tests crate: it needs a plug-in host and a song, and this
//! one is to stay light.

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::Instant;

use anyhow::{Context, Result};

use crate::bundle;
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
    let bundles = bundle::run(true)?;
    let mut build = cargo(["build", "--release", "--package", "brunt-offline"]);
    workspace::run(&mut build, "the file check does not build")?;
    let mut build = cargo(["build", "--release", "--package", "brunt-tests", "--bin", "demo"]);
    workspace::run(&mut build, "the demo does not build")?;

    println!("== Demo");
    let started = Instant::now();
    let status = Command::new(program("demo")?)
        .arg(&out)
        .arg(program("brunt")?)
        .env("BRUNT_BUNDLE", &bundles.clap)
        .stdin(Stdio::null())
        .status()
        .context("the demo cannot start")?;
    println!("Demo time after compilation: {:.0} s", started.elapsed().as_secs_f64());
    Ok(if status.success() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Path of a program of the release build.
fn program(name: &str) -> Result<PathBuf> {
    let file = Path::new("release").join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    Ok(workspace::target_dir()?.join(file))
}
