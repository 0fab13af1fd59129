//! `cargo xtask setup`: the system packages that a task needs beside Rust.

mod apt;
mod crates;
mod packages;

use std::process::ExitCode;

use anyhow::Result;

pub use crates::program;
pub use packages::Group;
use packages::{Package, wanted};

/// The subcommand: installs, or only says what is missing.
pub fn command(groups: &[Group], check: bool) -> Result<ExitCode> {
    if !check {
        prepare(groups)?;
        return Ok(ExitCode::SUCCESS);
    }
    if !apt::is_here() {
        name_elsewhere(&wanted(groups));
        return Ok(ExitCode::SUCCESS);
    }
    let missing = apt::missing(&wanted(groups))?;
    if missing.is_empty() {
        println!("Nothing is missing.");
        return Ok(ExitCode::SUCCESS);
    }
    list("Missing system packages:", &missing);
    Ok(ExitCode::FAILURE)
}

/// Installs what is missing for these groups. On a system without apt it only prints the names:
/// what is really missing shows when the task runs.
pub fn prepare(groups: &[Group]) -> Result<()> {
    let wanted = wanted(groups);
    if !apt::is_here() {
        name_elsewhere(&wanted);
        return Ok(());
    }
    let missing = apt::missing(&wanted)?;
    if missing.is_empty() {
        println!("System packages: nothing is missing.");
        return Ok(());
    }
    list("System packages to install:", &missing);
    apt::install(&missing)
}

fn name_elsewhere(packages: &[Package]) {
    list(
        "This is no Debian or Ubuntu system, so nothing is installed. Needed, by Debian's names:",
        packages,
    );
}

fn list(head: &str, packages: &[Package]) {
    println!("{head}");
    for package in packages {
        println!("  {:<24} {}", package.name, package.why);
    }
}
