//! What a host says of itself.

use std::process::{Command, Stdio};

use anyhow::{Context, Result};

use crate::report::Seen;

/// A program's version by its own word: the first line that it prints.
pub(super) fn version(program: &str) -> Result<Seen> {
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
