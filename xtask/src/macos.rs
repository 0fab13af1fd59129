//! Plug-ins and program for macOS, linked on another system. **Nothing here has ever run on a Mac.**
//!
//! The linker is the tool chain's own, and nothing of Apple's is there: see `link.sh`. What comes out is
//! read again: its kind, its entries, the libraries and symbols that it expects of the system, and its
//! signature.

mod read;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::bundle::{self, Build, Bundles};
use crate::property_list::OLDEST;
use crate::report::Row;
use crate::workspace::{self, cargo};

/// What can be linked for: a processor, or both in the same files.
pub const CHOICES: [&str; 3] = ["aarch64", "x86_64", "universal"];
/// The systems on each, by rustc's names.
const TARGETS: [&str; 2] = ["aarch64-apple-darwin", "x86_64-apple-darwin"];

/// The systems that one of [`CHOICES`] means.
pub fn targets(choice: &str) -> Vec<&'static str> {
    let meant = |target: &&str| choice == "universal" || target.starts_with(choice);
    TARGETS.into_iter().filter(meant).collect()
}

/// Adds what rustup lacks for this system.
pub fn prepare(target: &str) -> Result<()> {
    workspace::run(
        Command::new("rustup").args(["target", "add", target]),
        "rustup target add: expected rustup, or a tool chain that has this target",
    )
}

/// Builds plug-in and program, bundles, and reads what was linked.
pub fn built(build: &Build) -> Result<(Bundles, [Row; 2])> {
    let target = build.target.context("a system to link for")?;
    let place = workspace::target_dir()?.join("macos").join(target);
    bundle::remove(&place)?;
    let sdk = place.join("stubs");
    fs::create_dir_all(&sdk).with_context(|| format!("cannot create {}", sdk.display()))?;
    let script = place.join("link.sh");
    fs::write(&script, include_str!("macos/link.sh"))
        .with_context(|| format!("cannot write {}", script.display()))?;
    bundle::set_rights(&script, true)?;

    let mut command = cargo(["build", "--package", "brunt", "--package", "brunt-cli"]);
    let setting = format!("CARGO_TARGET_{}", target.to_uppercase().replace('-', "_"));
    let stubs = if target.starts_with("aarch64") { "arm64-macos" } else { "x86_64-macos" };
    command
        .args(build.arguments())
        .env(format!("{setting}_LINKER"), &script)
        .env(format!("{setting}_RUSTFLAGS"), "-Clinker-flavor=ld64.lld")
        // Stripped by the linker, which signs after that.
        .env("CARGO_PROFILE_RELEASE_STRIP", "none")
        .env("MACOSX_DEPLOYMENT_TARGET", OLDEST)
        .env("SDKROOT", &sdk)
        .env("STUB_TARGET", stubs)
        .env("LLD", linker()?);
    workspace::run(&mut command, "cargo build")?;
    let bundles = bundle::built(build)?;
    let library = bundles.clap.join("Contents/MacOS/Brunt");
    let [first, second] = if target.starts_with("aarch64") {
        ["aarch64: library", "aarch64: program"]
    } else {
        ["x86_64: library", "x86_64: program"]
    };
    let rows = [
        Row { what: first, seen: read::seen(&library, target, true) },
        Row { what: second, seen: read::seen(&bundles.program, target, false) },
    ];
    Ok((bundles, rows))
}

/// The tool chain's own linker.
fn linker() -> Result<PathBuf> {
    let said = |arguments: &[&str]| -> Result<String> {
        let output = Command::new("rustc").args(arguments).stdin(Stdio::null()).output();
        Ok(String::from_utf8(output.context("rustc cannot start")?.stdout)?)
    };
    let host = said(&["--version", "--verbose"])?;
    let host = host.lines().find_map(|line| line.strip_prefix("host: "));
    let libraries = Path::new(said(&["--print", "sysroot"])?.trim()).join("lib/rustlib");
    let linker = libraries.join(host.context("rustc names no host")?).join("bin/rust-lld");
    if !linker.is_file() {
        bail!("{}: expected the tool chain's linker", linker.display());
    }
    Ok(linker)
}
