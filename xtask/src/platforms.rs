//! `cargo xtask platforms`: whether plug-in and file check compile for the systems that are not
//! tested, and whether a published advisory stands against a dependency.

use std::process::{Command, ExitCode, Stdio};

use anyhow::{Context, Result, bail};

use crate::report::{self, Row, Seen};
use crate::workspace::{self, cargo};

/// Systems that nothing is run on. A check needs no linker of theirs.
const TARGETS: [&str; 4] = [
    "x86_64-pc-windows-gnu",
    "x86_64-pc-windows-msvc",
    "aarch64-apple-darwin",
    "x86_64-apple-darwin",
];

/// Checks what this machine can; prints a table.
pub fn run() -> Result<ExitCode> {
    let installed = installed();
    let mut rows: Vec<Row> = TARGETS
        .iter()
        .map(|target| Row { what: target, seen: compiles(target, installed.as_deref()) })
        .collect();
    rows.push(Row { what: "advisories", seen: advisories() });
    println!("== Platforms");
    Ok(report::print(&rows))
}

/// The targets that rustup has, a line each; `None` without rustup.
fn installed() -> Option<String> {
    let output = Command::new("rustup")
        .args(["target", "list", "--installed"])
        .stdin(Stdio::null())
        .output()
        .ok()
        .filter(|output| output.status.success())?;
    String::from_utf8(output.stdout).ok()
}

fn compiles(target: &str, installed: Option<&str>) -> Result<Seen> {
    if !installed.is_some_and(|all| all.lines().any(|line| line.trim() == target)) {
        return Ok(Seen::NotHere(format!("rustup target add {target}")));
    }
    println!("== Checking for {target}");
    let mut check = cargo(["check", "--package", "brunt", "--package", "brunt-cli"]);
    check.args(["--target", target, "--target-dir"]);
    check.arg(workspace::target_dir()?.join("platforms"));
    workspace::run(&mut check, "it does not compile")?;
    Ok(Seen::Well("compiles; not linked, never run".to_owned()))
}

/// By `cargo audit`, which fetches the advisories by itself.
fn advisories() -> Result<Seen> {
    let there = cargo(["audit", "--version"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    if !there {
        return Ok(Seen::NotHere("cargo install cargo-audit".to_owned()));
    }
    let output = cargo(["audit", "--quiet"])
        .stdin(Stdio::null())
        .stdout(Stdio::inherit())
        .output()
        .context("cargo audit: cannot start")?;
    if output.status.success() {
        return Ok(Seen::Well("none".to_owned()));
    }
    let said = String::from_utf8_lossy(&output.stderr);
    if said.contains("fetch") {
        let line = said.lines().find(|line| line.contains("fetch")).unwrap_or_default();
        return Ok(Seen::NotHere(format!("the advisories cannot be had: {}", line.trim())));
    }
    bail!("cargo audit: {}; see above", output.status)
}
