//! `cargo xtask hosts`: the built plug-ins in real hosts, without a display.

mod ardour;
mod qtractor;
mod scan;
mod version;

use std::process::ExitCode;

use anyhow::{Context, Result};

use crate::bundle::{self, Build};
use crate::report;
use crate::setup::{self, Group};
use crate::workspace;

/// Builds, scans, loads, plays, saves and reopens; prints a table.
pub fn run(release: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Hosts])?;
    println!("== Building");
    let bundles = bundle::run(&Build::here(release))?;
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
