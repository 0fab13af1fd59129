//! `cargo xtask test`: every check, in one command, the same here and in CI.

mod cargo_tests;
mod toolchain;

use std::env;
use std::process::ExitCode;
use std::time::Instant;

use anyhow::Result;

use crate::setup::{self, Group};
use crate::workspace::{self, cargo};
use crate::{bundle, tidy};

use cargo_tests::Counts;

/// Runs every step, also after a failed one, and closes with one line of counts. A step other
/// than a run of tests counts as one failure where it fails, and not at all where it passes.
pub fn run() -> Result<ExitCode> {
    let started = Instant::now();
    let mut steps = Steps::default();

    steps.step("set-up", || {
        setup::prepare(&[Group::Test])?;
        toolchain::prepare()
    });
    steps.step("tidy", || if tidy::check()? { Ok(()) } else { anyhow::bail!("findings above") });
    steps.step("fmt", || workspace::run(&mut cargo(["fmt", "--all", "--check"]), "cargo fmt"));
    steps.step("clippy", || {
        let mut clippy = cargo(["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]);
        workspace::run(&mut clippy, "cargo clippy")
    });
    for feature in ["standalone", "assert_process_allocs"] {
        steps.step(&format!("clippy with {feature}"), || {
            let mut clippy = cargo(["clippy", "--package", "brunt", "--features", feature]);
            workspace::run(clippy.args(["--", "-D", "warnings"]), "cargo clippy")
        });
    }
    let mut bundles = None;
    steps.step("bundle", || {
        bundles = Some(bundle::run(false)?);
        Ok(())
    });
    steps.tests("tests of the engine, built alone", &["--package", "brunt-engine"], None);
    steps.tests(
        "all other tests",
        &["--workspace", "--exclude", "brunt-engine"],
        bundles.as_ref().map(|bundles| bundles.clap.as_path()),
    );
    Ok(steps.close(started))
}

#[derive(Default)]
struct Steps {
    counts: Counts,
    /// One line a step, for the closing table.
    report: Vec<String>,
}

impl Steps {
    fn step(&mut self, name: &str, work: impl FnOnce() -> Result<()>) {
        println!("\n== {name}");
        let started = Instant::now();
        let result = work();
        if let Err(error) = &result {
            println!("error: {error:#}");
            self.counts.failed += 1;
        }
        self.note(name, started, if result.is_ok() { "ok" } else { "FAILED" });
    }

    fn tests(&mut self, name: &str, arguments: &[&str], plugin: Option<&std::path::Path>) {
        println!("\n== {name}");
        let started = Instant::now();
        let mut command = cargo(["test", "--no-fail-fast"]);
        command.args(arguments);
        if let Some(plugin) = plugin.filter(|_| env::var_os("BRUNT_BUNDLE").is_none()) {
            command.env("BRUNT_BUNDLE", plugin);
        }
        let counts = cargo_tests::run(&mut command).unwrap_or_else(|error| {
            println!("error: {error:#}");
            Counts { failed: 1, ..Counts::default() }
        });
        let verdict = format!(
            "{}, {} passed, {} failed, {} ignored",
            if counts.failed == 0 { "ok" } else { "FAILED" },
            counts.passed,
            counts.failed,
            counts.ignored
        );
        self.counts.add(counts);
        self.note(name, started, &verdict);
    }

    fn note(&mut self, name: &str, started: Instant, verdict: &str) {
        self.report.push(format!("{:>6.0} s  {name}: {verdict}", started.elapsed().as_secs_f64()));
    }

    fn close(self, started: Instant) -> ExitCode {
        println!("\n== summary");
        for line in &self.report {
            println!("{line}");
        }
        println!("{:>6.0} s  in all", started.elapsed().as_secs_f64());
        println!("{} passed, {} failed", self.counts.passed, self.counts.failed);
        // No test at all is no success.
        if self.counts.failed == 0 && self.counts.passed > 0 {
            ExitCode::SUCCESS
        } else {
            ExitCode::FAILURE
        }
    }
}
