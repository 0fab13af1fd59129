//! A screen where there is none.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, ensure};

use crate::workspace::Running;

/// A virtual X display; ends when dropped.
pub struct Screen {
    /// What `DISPLAY` is set to for it.
    pub name: String,
    _server: Running,
}

impl Screen {
    /// Starts one on a free number.
    pub fn start() -> Result<Self> {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1600x1200x24", "-noreset"])
            .args(["-nolisten", "tcp"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("Xvfb cannot start")?;
        let mut number = String::new();
        if let Some(out) = server.stdout.take() {
            BufReader::new(out).read_line(&mut number).context("Xvfb's number")?;
        }
        let server = Running(server);
        ensure!(!number.trim().is_empty(), "Xvfb ended before it had a display");
        Ok(Self { name: format!(":{}", number.trim()), _server: server })
    }
}
