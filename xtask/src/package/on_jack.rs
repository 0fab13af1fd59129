//! The stand-alone program on JACK's server.

use std::path::Path;
use std::process::Stdio;
use std::thread::sleep;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};

use super::standalone::NAME;
use crate::jack::Server;
use crate::report::Seen;
use crate::screen::Screen;
use crate::workspace::Running;

/// What its ports are called on JACK.
const PORTS: [&str; 6] =
    ["input_1", "input_2", "output_1", "output_2", "side-chain_1", "side-chain_2"];
/// Longest wait for them.
const PATIENCE: Duration = Duration::from_secs(30);

/// Starts the program on JACK's server and a screen, and waits until it has all of its ports there.
pub fn started(program: &Path) -> Result<Seen> {
    let (jack, screen) = (Server::start("brunt-package")?, Screen::start()?);
    let start = jack
        .command(program)
        .args(["--backend", "jack"])
        .env("DISPLAY", &screen.name)
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    let mut running = Running(start.with_context(|| format!("{}", program.display()))?);
    let began = Instant::now();
    loop {
        sleep(Duration::from_secs(1));
        if let Some(status) = running.0.try_wait()? {
            bail!("{NAME} ended by itself: {status}");
        }
        let list = jack.command("jack_lsp").stdin(Stdio::null()).output();
        let list = String::from_utf8(list.context("jack_lsp cannot start")?.stdout)?;
        let there = |port: &&str| list.lines().any(|line| line == format!("brunt:{port}"));
        let missing: Vec<&str> = PORTS.into_iter().filter(|port| !there(port)).collect();
        if missing.is_empty() {
            return Ok(Seen::Well(format!("runs, with {} ports", PORTS.len())));
        }
        if began.elapsed() > PATIENCE {
            bail!("no port {} on JACK within {} s", missing.join(", "), PATIENCE.as_secs());
        }
    }
}
