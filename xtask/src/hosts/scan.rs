//! How long a host's scan of the CLAP takes.

use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::report::{Row, Seen};
use crate::workspace;

/// Asked for: from loading the library to its descriptor, ms.
const BAR_MS: f64 = 20.0;
/// Programs that load it; the first one pays for reading the file.
const RUNS: usize = 20;

pub fn rows(clap: &Path) -> Vec<Row> {
    vec![Row { what: "scan: load to descriptor", seen: measured(clap) }]
}

/// Each run is a program of its own: within one, the library would stay loaded.
fn measured(clap: &Path) -> Result<Seen> {
    let scan = workspace::target_dir()?.join("debug/scan");
    let mut times = Vec::new();
    for _ in 0..RUNS {
        let output = Command::new(&scan)
            .arg(clap)
            .stdin(Stdio::null())
            .stderr(Stdio::inherit())
            .output()
            .context("cannot run the scan")?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        times.push(text.trim().parse::<f64>().with_context(|| format!("scan: {text:?}"))?);
    }
    times.sort_by(f64::total_cmp);
    let (median, most) = (times[RUNS / 2], times[RUNS - 1]);
    if median > BAR_MS {
        bail!("{median:.1} ms (median of {RUNS} programs); expected under {BAR_MS:.0}");
    }
    Ok(Seen::Well(format!("{median:.1} ms, at most {most:.1} ({RUNS} programs)")))
}
