//! `cargo test` with its output passed through and its counts summed.

use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::workspace::cargo;

/// Tests of the host harness that are run on an installed plug-in: those that need no display.
pub const OF_INSTALLED: [&str; 5] =
    ["formats::", "ports::", "params::", "state::", "transparent::"];

/// Numbers of tests.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Tests that passed.
    pub passed: u64,
    /// Tests that failed.
    pub failed: u64,
    /// Tests that were not run.
    pub ignored: u64,
}

impl Counts {
    pub fn add(&mut self, other: Self) {
        self.passed += other.passed;
        self.failed += other.failed;
        self.ignored += other.ignored;
    }
}

/// Runs `cargo test`, prints what it prints while it runs, and sums its results.
pub fn run(command: &mut Command) -> Result<Counts> {
    let mut child = command.stdout(Stdio::piped()).spawn().context("cargo test: cannot start")?;
    let output = child.stdout.take().context("cargo test: no output")?;
    let mut counts = Counts::default();
    let mut shown = std::io::stdout().lock();
    for line in BufReader::new(output).split(b'\n') {
        let line = line.context("cargo test: cannot read its output")?;
        let text = String::from_utf8_lossy(&line);
        writeln!(shown, "{text}").context("cannot print")?;
        if let Some(result) = result_line(&text) {
            counts.add(result);
        }
    }
    let status = child.wait().context("cargo test: cannot wait for it")?;
    // It may fail without a failed test: where something does not compile, or a test aborts.
    if !status.success() && counts.failed == 0 {
        counts.failed = 1;
    }
    Ok(counts)
}

/// The sums of what a run of tests has printed.
pub fn counts(text: &str) -> Counts {
    let mut counts = Counts::default();
    text.lines().filter_map(result_line).for_each(|line| counts.add(line));
    counts
}

/// Builds the tests that `arguments` choose with the features that the whole workspace has, and
/// gives the program of each under its name.
pub fn programs(arguments: &[&str]) -> Result<Vec<(String, PathBuf)>> {
    let output = cargo(["test", "--workspace", "--no-run", "--message-format=json"])
        .args(arguments)
        .stderr(Stdio::inherit())
        .output()
        .context("cargo test: cannot start")?;
    if !output.status.success() {
        bail!("cargo test --no-run: {}", output.status);
    }
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let messages = text.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok());
    Ok(messages
        .filter(|message| message["profile"]["test"] == true)
        .filter_map(|message| {
            let name = message["target"]["name"].as_str()?.to_owned();
            Some((name, PathBuf::from(message["executable"].as_str()?)))
        })
        .collect())
}

/// The counts of a line such as `test result: ok. 12 passed; 0 failed; 1 ignored; ...`.
fn result_line(line: &str) -> Option<Counts> {
    let parts = line.trim_start().strip_prefix("test result: ")?;
    let (_, parts) = parts.split_once(". ")?;
    let mut counts = Counts::default();
    for part in parts.split("; ") {
        let mut words = part.split_whitespace();
        let (Some(number), Some(kind)) = (words.next(), words.next()) else { continue };
        let Ok(number) = number.parse() else { continue };
        match kind {
            "passed" => counts.passed = number,
            "failed" => counts.failed = number,
            "ignored" => counts.ignored = number,
            _ => {}
        }
    }
    Some(counts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn result_lines_are_counted_and_others_are_not() {
        let line = "test result: FAILED. 12 passed; 3 failed; 1 ignored; 0 measured; 4 filtered \
                    out; finished in 0.01s";
        let counts = Counts { passed: 12, failed: 3, ignored: 1 };
        assert_eq!(result_line(line), Some(counts));
        assert_eq!(result_line("test sums::result: ok. 12 passed ... ok"), None);
    }

    #[test]
    fn a_command_that_dies_without_a_failed_test_counts_as_one() {
        let counts = run(Command::new("cargo").arg("no-such-subcommand")).expect("it starts");
        assert_eq!(counts, Counts { failed: 1, ..Counts::default() });
    }
}
