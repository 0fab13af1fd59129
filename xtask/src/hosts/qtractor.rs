//! Qtractor: scans the CLAP. Its sessions need the kernel's ALSA sequencer.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::report::{Row, Seen};

/// Qtractor's scan helper in Debian.
const SCANNER: &str = "/usr/lib/x86_64-linux-gnu/qtractor/qtractor_plugin_scan";
/// Without it Qtractor opens no session, whatever is in it.
const SEQUENCER: &str = "/dev/snd/seq";

pub fn rows(clap: &Path) -> Vec<Row> {
    vec![
        Row { what: "qtractor", seen: super::version("qtractor") },
        Row { what: "qtractor: scan (CLAP)", seen: scan(clap) },
        Row { what: "qtractor: save, reopen", seen: session() },
    ]
}

fn scan(clap: &Path) -> Result<Seen> {
    let mut child = Command::new("timeout")
        .args(["60", SCANNER])
        .env("NICE_LOG", "/dev/null")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .context("qtractor_plugin_scan cannot start")?;
    let mut ask = child.stdin.take().context("no standard input")?;
    writeln!(ask, "CLAP:{}", clap.display()).context("it does not listen")?;
    drop(ask);
    let output = child.wait_with_output().context("cannot wait for it")?;
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    // CLAP|name|audio ins:outs|MIDI ins:outs|parameters|flags|file|index|id
    match said.lines().find(|line| line.starts_with("CLAP|Brunt|2:2|")) {
        Some(line) => Ok(Seen::Well(line.split('|').take(6).collect::<Vec<_>>().join(" "))),
        None => bail!("{}: {}", output.status, said.trim()),
    }
}

fn session() -> Result<Seen> {
    Ok(Seen::NotHere(if Path::new(SEQUENCER).exists() {
        "to be done by hand: this command only scans".to_owned()
    } else {
        format!("{SEQUENCER} is missing: Qtractor opens no session without it")
    }))
}
