//! Where the workspace is, and how its commands are called.

use std::env;
use std::ffi::OsStr;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;

use anyhow::{Context, Result, bail};

static CALLED_FROM: OnceLock<PathBuf> = OnceLock::new();

/// Makes the workspace's root the current folder, wherever `cargo xtask` was called.
pub fn enter() -> Result<()> {
    let here = env::current_dir().context("the current folder is gone")?;
    // Called once, at the start; a second call would not change what the first has noted.
    CALLED_FROM.get_or_init(|| here);
    let manifest = env::var_os("CARGO_MANIFEST_DIR")
        .context("CARGO_MANIFEST_DIR is not set: expected to be run as `cargo xtask`")?;
    let own = PathBuf::from(manifest);
    let root = own.parent().with_context(|| format!("{} has no parent", own.display()))?;
    env::set_current_dir(root).with_context(|| format!("cannot enter {}", root.display()))
}

/// The folder that `cargo xtask` was called in, which paths on its command line count from.
pub fn called_from() -> Result<PathBuf> {
    CALLED_FROM.get().cloned().context("asked before the workspace was entered")
}

/// `cargo`, the one that runs this program.
pub fn cargo<I, S>(arguments: I) -> Command
where
    I: IntoIterator<Item = S>,
    S: AsRef<OsStr>,
{
    let mut command = Command::new(env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    // A child cargo must not take this program's own package for its subject.
    command.env_remove("CARGO_MANIFEST_DIR").stdin(Stdio::null()).args(arguments);
    command
}

/// The folder that cargo builds into, whatever sets it.
pub fn target_dir() -> Result<PathBuf> {
    let output = cargo(["metadata", "--no-deps", "--format-version", "1"])
        .stderr(Stdio::inherit())
        .output()
        .context("cannot run cargo metadata")?;
    if !output.status.success() {
        bail!("cargo metadata failed: {}", output.status);
    }
    let metadata: serde_json::Value =
        serde_json::from_slice(&output.stdout).context("cargo metadata printed no JSON")?;
    let folder = metadata["target_directory"]
        .as_str()
        .context("cargo metadata names no target_directory")?;
    Ok(PathBuf::from(folder))
}

/// Runs a command to its end.
///
/// # Errors
/// Says what was run and how it ended, unless it ended well.
pub fn run(command: &mut Command, what: &str) -> Result<()> {
    let status = command.status().with_context(|| format!("{what}: cannot start"))?;
    if !status.success() {
        bail!("{what}: {status}");
    }
    Ok(())
}

/// A program that ends with this value.
pub struct Running(pub Child);

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended on its own; then there is nothing left to end.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// What cargo is called with for libraries and programs of the development build. A test is among them:
/// with one, cargo gives every crate the features that the tests ask for, and what they have compiled
/// is not compiled again.
pub const DEVELOPMENT: [&str; 13] = [
    "--workspace",
    "--lib",
    "--bin",
    "brunt",
    "--bin",
    "scan",
    "--bin",
    "look",
    "--bin",
    "turns",
    "--bin",
    "stems",
    "--test=hosts",
];

/// Whether a program answers when called with these arguments.
pub fn answers(program: &str, arguments: &[&str]) -> bool {
    Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}
