//! Builds for Windows on this system.

use std::path::PathBuf;
use std::process::Command;

use anyhow::Result;

use crate::bundle::{self, Build, Bundles};
use crate::workspace::{self, cargo};

/// The system that is built for.
pub const TARGET: &str = "x86_64-pc-windows-gnu";

/// Crates that are not built for Windows: they measure and fuzz, here.
pub const EXCLUDED: [&str; 3] = ["xtask", "brunt-bench", "brunt-fuzz"];

/// Adds what rustup lacks for this system.
pub fn prepare() -> Result<()> {
    workspace::run(
        Command::new("rustup").args(["target", "add", TARGET]),
        "rustup target add: expected rustup, or a tool chain that has this target",
    )
}

/// Builds plug-in and program in one call, and bundles them; before that, what they are checked with.
pub fn built(build: &Build) -> Result<Bundles> {
    development()?;
    if build.release {
        let mut command = cargo(["build", "--package", "brunt", "--package", "brunt-cli"]);
        workspace::run(command.args(build.arguments()), "cargo build")?;
    }
    bundle::built(build)
}

/// Builds the development build: what is looked at, and what looks.
fn development() -> Result<()> {
    let mut command = cargo(["build"]);
    command.args(workspace::DEVELOPMENT).args(["--target", TARGET]);
    command.args(EXCLUDED.map(|checks| format!("--exclude={checks}")));
    workspace::run(&mut command, "cargo build")
}

/// A program of the development build.
pub fn program(name: &str) -> Result<PathBuf> {
    let build = Build { release: false, target: Some(TARGET) };
    Ok(build.folder()?.join(format!("{name}.exe")))
}
