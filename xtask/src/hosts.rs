//! `cargo xtask hosts`: the built plug-ins in real hosts, without a display.

mod ardour;
mod qtractor;
mod scan;

use std::process::{Command, ExitCode, Stdio};

use anyhow::{Context, Result};

use crate::bundle;
use crate::setup::{self, Group};
use crate::workspace;

/// What became of one step in one host.
pub struct Row {
    /// Host and step.
    pub what: &'static str,
    /// What was seen, or why the step could not be taken; the error where it failed.
    pub seen: Result<Seen>,
}

/// The result of a step that did not fail.
pub enum Seen {
    /// It went well, with this to tell.
    Well(String),
    /// This machine cannot take the step.
    NotHere(String),
}

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
    rows.extend(qtractor::rows(&bundles.clap));
    println!("== Hosts");
    let mut failed = false;
    for row in &rows {
        let (verdict, text) = match &row.seen {
            Ok(Seen::Well(text)) => ("ok", text.clone()),
            Ok(Seen::NotHere(text)) => ("not here", text.clone()),
            Err(error) => ("FAILED", format!("{error:#}")),
        };
        failed |= row.seen.is_err();
        println!("{:<34} {verdict:<9} {text}", row.what);
    }
    Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
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
