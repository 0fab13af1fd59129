//! Programs of tests, run two at a time, and their counts summed.

use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::thread;

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

/// The sums of what a run of tests has printed.
pub fn counts(text: &str) -> Counts {
    let mut counts = Counts::default();
    text.lines().filter_map(result_line).for_each(|line| counts.add(line));
    counts
}

/// A program of tests.
#[derive(Debug)]
pub struct Program {
    /// Its target's name.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
    /// The folder that cargo would run it in: its package's.
    folder: PathBuf,
}

/// Programs that run at once. Ours: most keep two processors busy until their last, longest test; those of windows
/// and linked instances wait for most of their time.
const AT_ONCE: usize = 2;

/// Runs all of `programs`, each after `prepare`, and prints what each has printed once it has ended.
pub fn run(programs: Vec<Program>, prepare: impl Fn(&mut Command) + Sync) -> Counts {
    let waiting = Mutex::new(programs.into_iter());
    let counts = Mutex::new(Counts::default());
    // Held to take the next, and to print: never while a program runs. A panic in here ends the whole.
    let next = || waiting.lock().ok()?.next();
    thread::scope(|scope| {
        for _ in 0..AT_ONCE {
            scope.spawn(|| {
                while let Some(program) = next() {
                    let mut command = Command::new(&program.path);
                    command.current_dir(&program.folder).stdin(Stdio::null());
                    prepare(&mut command);
                    let (text, found) = counted(&mut command);
                    if let Ok(mut counts) = counts.lock() {
                        println!(
                            "\n     Running {} ({})\n{text}",
                            program.name,
                            program.path.display()
                        );
                        counts.add(found);
                    }
                }
            });
        }
    });
    counts.into_inner().unwrap_or(Counts { failed: 1, ..Counts::default() })
}

/// Runs a program of tests: what it printed, and its counts.
fn counted(command: &mut Command) -> (String, Counts) {
    let output = match command.output() {
        Ok(output) => output,
        Err(error) => {
            return (format!("error: {error}"), Counts { failed: 1, ..Counts::default() });
        }
    };
    let text =
        [output.stdout, output.stderr].map(|text| String::from_utf8_lossy(&text).into_owned());
    let mut found = counts(&text[0]);
    // It may fail without a failed test: where one aborts.
    if !output.status.success() && found.failed == 0 {
        found.failed = 1;
    }
    (text.join("\n"), found)
}

/// Builds the tests that `arguments` choose with the features that the whole workspace has, and
/// gives the program of each.
pub fn programs(arguments: &[&str]) -> Result<Vec<Program>> {
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
            let text = |value: &Value| value.as_str().map(PathBuf::from);
            Some(Program {
                name: message["target"]["name"].as_str()?.to_owned(),
                path: text(&message["executable"])?,
                folder: text(&message["manifest_path"])?.parent()?.to_owned(),
            })
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
        let failed = Counts { failed: 1, ..Counts::default() };
        assert_eq!(counted(Command::new("cargo").arg("no-such-subcommand")).1, failed);
        assert_eq!(counted(&mut Command::new("/no/such/program")).1, failed);
    }

    #[test]
    fn all_programs_are_run_and_summed() {
        let program = |path: PathBuf| Program {
            name: "a program".to_owned(),
            path,
            folder: PathBuf::from("."),
        };
        // This very program with one test, twice, and two that are not there.
        let own = std::env::current_exe().expect("a test is a program");
        let paths =
            [own.clone(), PathBuf::from("/no/such/program"), own, PathBuf::from("/nor/this")];
        let sum = run(paths.map(program).into(), |command| {
            command.args([
                "--exact",
                "test::cargo_tests::tests::result_lines_are_counted_and_others_are_not",
            ]);
        });
        assert_eq!(sum, Counts { passed: 2, failed: 2, ignored: 0 });
    }
}
