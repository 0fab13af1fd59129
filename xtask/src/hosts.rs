//! `cargo xtask hosts`: the built plug-ins in real hosts, without a display.

mod ardour;
mod qtractor;
mod qtractor_session;
mod scan;
mod session;
mod song;
mod version;

use std::process::ExitCode;

use anyhow::{Context, Result};

use crate::bundle::{self, Build};
use crate::report;
use crate::setup::{self, Group};
use crate::workspace::{self, cargo};

/// Builds, scans, loads, plays, saves and reopens; prints a table.
pub fn run(release: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Hosts])?;
    println!("== Building");
    // The scan and the song's stems are programs of the development build, whatever is put to the hosts.
    let mut build = cargo(["build"]);
    workspace::run(build.args(workspace::DEVELOPMENT), "cargo build")?;
    let bundles = if release {
        bundle::run(&Build::here(true))?
    } else {
        bundle::built(&Build::here(false))?
    };
    let place = workspace::target_dir()?.join("hosts");
    bundle::remove(&place)?;
    std::fs::create_dir_all(&place)
        .with_context(|| format!("cannot create {}", place.display()))?;

    let mut rows = scan::rows(&bundles.clap);
    rows.extend(ardour::rows(&bundles.vst3, &place));
    rows.extend(session::rows(&place));
    let (seen, host) = qtractor::rows(&bundles.clap, &place);
    rows.extend(seen);
    if let Some(host) = &host {
        rows.extend(qtractor_session::rows(host, &place));
    }
    println!("== Hosts");
    Ok(report::print(&rows))
}
