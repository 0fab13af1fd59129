//! `cargo xtask hosts`: the built plug-ins in real hosts, without a display.

mod ardour;
mod qtractor;
mod scan;

use std::process::{Command, ExitCode, Stdio};

use anyhow::{Context, Result};

use crate::bundle;
use crate::report::{self, Seen};
use crate::setup::{self, Group};
use crate::workspace;

/// Builds, scans, loads, plays, saves and reopens; prints a table.
pub fn run(release: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Hosts])?;
    println!("== Building");
    let bundles = bundle::run(release)?;
    let place = workspace::target_dir()?.join("hosts");
    bundle::remove(&place)?;
    std::fs::create_dir_all(&place)
        .with_context(|| format!("cannot create {}", place.display()))?;

    let mut rows = scan::rows(&bundles.clap);
    rows.extend(ardour::rows(&bundles.vst3, &place));
    rows.extend(qtractor::rows(&bundles.clap, &place));
    println!("== Hosts");
    Ok(report::print(&rows))
}

/// A program's version by its own word: the first line that it prints.
fn version(program: &str) -> Result<Seen> {
    let output = Command::new(program)
        .arg("--version")
        .env("QT_QPA_PLATFORM", "offscreen")
        .stdin(Stdio::null())
        .output()
        .with_context(|| format!("{program}: cannot start"))?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let line = text.lines().find(|line| line.chars().any(|c| c.is_ascii_digit()));
    Ok(Seen::Well(line.unwrap_or("of unknown version").trim().to_owned()))
}
