//! Builds for Windows on this system.

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

/// Builds plug-in and program in one call, and bundles them.
pub fn built(build: &Build) -> Result<Bundles> {
    let mut command = cargo(["build"]);
    if build.release {
        command.args(["--package", "brunt", "--package", "brunt-cli"]);
    } else {
        command.args(workspace::DEVELOPMENT);
        command.args(EXCLUDED.map(|checks| format!("--exclude={checks}")));
    }
    command.args(build.arguments());
    workspace::run(&mut command, "cargo build")?;
    bundle::built(build)
}
