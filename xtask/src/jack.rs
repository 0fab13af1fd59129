//! JACK's server without a sound card.

use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use anyhow::{Context, Result};

use crate::workspace::Running;

/// A server of this run: another one stays as it is.
pub struct Server {
    name: &'static str,
    _running: Running,
}

impl Server {
    /// Starts one on the dummy driver, at 48 kHz in blocks of 1024 frames.
    pub fn start(name: &'static str) -> Result<Self> {
        // In step with its clients: a busy machine delays a block, and loses none.
        let server = Command::new("jackd")
            .args(["--name", name, "--no-realtime", "--sync"])
            .args(["-d", "dummy", "-r", "48000", "-p", "1024"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .context("jackd cannot start")?;
        // A client that comes too early takes it for missing, and some show a message, which nobody
        // here answers.
        sleep(Duration::from_secs(3));
        Ok(Self { name, _running: Running(server) })
    }

    /// A program that plays on this server alone.
    pub fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        command.env("JACK_DEFAULT_SERVER", self.name).env("JACK_NO_START_SERVER", "1");
        command
    }
}
