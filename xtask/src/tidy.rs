//! `cargo xtask tidy`: the project's own rules that neither compiler nor clippy checks.

mod circles;
mod dependencies;
mod documents;
mod finding;
mod sources;
mod thresholds;
mod words;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};

use anyhow::{Context, Result};

use crate::licences;

/// The subcommand.
pub fn command(commands: &clap::Command) -> Result<ExitCode> {
    Ok(if check(commands)? { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Checks every rule, prints what breaks one, and says whether none does. `commands`: those
/// of this program.
pub fn check(commands: &clap::Command) -> Result<bool> {
    let files = tracked_files()?;
    let mut findings = dependencies::check()?;
    findings.extend(thresholds::check(&files)?);
    findings.extend(words::check(&files)?);
    findings.extend(documents::check(&files, commands)?);
    findings.extend(licences::check()?);
    findings.extend(circles::check(&files)?);
    for file in &files {
        findings.extend(sources::check(file)?);
    }
    for finding in &findings {
        println!("tidy: {finding}");
    }
    println!("tidy: {} files read, {} findings", files.len(), findings.len());
    Ok(findings.is_empty())
}

/// The project's files: git's list where there is one, else whatever lies in the tree beside
/// build results. New files count before they are committed.
fn tracked_files() -> Result<Vec<PathBuf>> {
    // Whoever owns the checkout: reading its list of files is harmless.
    let git = Command::new("git")
        .args(["-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others"])
        .arg("--exclude-standard")
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .output();
    if let Ok(output) = git
        && output.status.success()
        && !output.stdout.is_empty()
    {
        let list = String::from_utf8(output.stdout).context("a file name is not UTF-8")?;
        // A file that is deleted but not yet committed is listed and not there.
        return Ok(list
            .split('\0')
            .filter(|name| !name.is_empty())
            .map(PathBuf::from)
            .filter(|path| path.is_file())
            .collect());
    }
    let mut found = Vec::new();
    walk(Path::new("."), &mut found)?;
    found.sort();
    Ok(found)
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) -> Result<()> {
    let list = fs::read_dir(folder).with_context(|| format!("cannot list {}", folder.display()))?;
    for entry in list {
        let path = entry?.path();
        if path.is_dir() {
            if !path.ends_with("target") && !path.ends_with(".git") {
                walk(&path, found)?;
            }
        } else {
            found.push(path.strip_prefix(".").unwrap_or(&path).to_owned());
        }
    }
    Ok(())
}
