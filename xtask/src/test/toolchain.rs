//! The parts of the Rust tool chain that only the checks need.

use std::process::Command;

use anyhow::{Result, bail};

use crate::workspace::{self, answers};

/// Adds clippy and rustfmt where a minimal tool chain lacks them.
pub fn prepare() -> Result<()> {
    let missing: Vec<_> = [("clippy", "clippy"), ("fmt", "rustfmt")]
        .into_iter()
        .filter(|(subcommand, _)| !answers("cargo", &[subcommand, "--version"]))
        .map(|(_, component)| component)
        .collect();
    if missing.is_empty() {
        println!("Rust tool chain: nothing is missing.");
        return Ok(());
    }
    println!("Rust tool chain: adding {}", missing.join(" "));
    if !answers("rustup", &["--version"]) {
        bail!("{} not found, and no rustup to add it with", missing.join(" and "));
    }
    workspace::run(
        Command::new("rustup").args(["component", "add"]).args(&missing),
        "rustup component add",
    )
}
