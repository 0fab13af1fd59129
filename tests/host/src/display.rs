//! A screen where there is none: a virtual X display of our own.

use std::env;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use super::{Error, Result, because};

/// Name of the variable that names the X display.
const DISPLAY: &str = "DISPLAY";
/// Set for a program that was started anew under a virtual display.
const INSIDE: &str = "BRUNT_UNDER_VIRTUAL_DISPLAY";

/// A running virtual display; ends when dropped.
pub struct VirtualDisplay {
    server: Child,
    name: String,
}

impl VirtualDisplay {
    /// Starts one on a free number.
    ///
    /// # Errors
    /// When Xvfb is not installed or does not start.
    pub fn start() -> Result<Self> {
        // Without `-noreset` the server starts anew when its last client leaves, and a client
        // that comes at that moment is refused.
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "3200x2000x24", "-noreset"])
            .args(["-nolisten", "tcp", "-dpi", "96"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|e| because("no virtual display: Xvfb (package xvfb) does not start", e))?;
        let mut number = String::new();
        let read = server
            .stdout
            .take()
            .map(|out| BufReader::new(out).read_line(&mut number))
            .transpose()
            .map_err(|e| because("Xvfb's answer", e));
        let display = Self { server, name: format!(":{}", number.trim()) };
        // Xvfb writes the number once it takes clients; it closes the pipe when it fails.
        match read? {
            Some(bytes) if bytes > 1 => Ok(display),
            _ => Err(Error("Xvfb ended before it had a display".to_owned())),
        }
    }

    /// Its name, as in `DISPLAY`.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl Drop for VirtualDisplay {
    fn drop(&mut self) {
        // The server may have ended on its own; then there is nothing left to end.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// Runs `body` where there is a display, as there always is under Windows. Without one, starts a virtual display and runs this test
/// program anew under it, for the test of that name alone: the environment of a program with
/// several threads must not be changed.
///
/// # Panics
/// When there is no Xvfb, or the test fails in the program that was started.
pub fn with_display(test: &str, body: impl FnOnce()) {
    if cfg!(windows) || env::var_os(DISPLAY).is_some() {
        body();
        return;
    }
    assert!(env::var_os(INSIDE).is_none(), "the virtual display has got lost");
    let display = VirtualDisplay::start().unwrap_or_else(|error| panic!("{error}"));
    let program = env::current_exe().expect("a running test has a path");
    let status = Command::new(program)
        .args([test, "--exact", "--nocapture", "--include-ignored"])
        .env(DISPLAY, display.name())
        .env(INSIDE, "1")
        // Mesa's software renderer, and nothing that asks for a graphics card.
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .status()
        .expect("the test program starts");
    assert!(status.success(), "{test} failed under a virtual display: see above");
}
