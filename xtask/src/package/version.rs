//! What every package of a build is named and dated by.

use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

/// The version: the workspace's.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Seconds since 1970 that every packaged file is dated with: `SOURCE_DATE_EPOCH`, as reproducible
/// builds set it, or else the last commit's.
pub fn date_s() -> Result<u64> {
    if let Ok(set) = std::env::var("SOURCE_DATE_EPOCH") {
        return set
            .parse()
            .with_context(|| format!("SOURCE_DATE_EPOCH is {set:?}: expected seconds since 1970"));
    }
    let output = Command::new("git")
        .args(["-c", "safe.directory=*", "log", "-1", "--format=%ct"])
        .stdin(Stdio::null())
        .output()
        .context("git cannot start")?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    if !output.status.success() {
        bail!("git log: {}: expected a git checkout, or SOURCE_DATE_EPOCH set", output.status);
    }
    text.trim().parse().with_context(|| format!("git log: {text:?}"))
}
