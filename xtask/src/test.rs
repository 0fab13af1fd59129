//! `cargo xtask test`: every check, in one command, the same here and in CI.

pub mod cargo_tests;
mod links;
mod toolchain;

use std::process::{Command, ExitCode};
use std::time::Instant;

use anyhow::{Context, Result, bail};

use crate::bundle::{self, Build, Bundles};
use crate::setup::{self, Group};
use crate::workspace::{self, cargo};
use crate::{demo, tidy};

use cargo_tests::Counts;

/// What people read: documents, and the files that hold sentences.
const SPELLED: [&str; 7] = [
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "docs",
    "plugin/report/src/words",
    "plugin/src/words",
    "plugin/cli/src",
];

/// Runs every step, also after a failed one, and closes with one line of counts. A step other
/// than a run of tests counts as one failure where it fails, and not at all where it passes.
/// `commands`: those of this program.
pub fn run(commands: &clap::Command) -> Result<ExitCode> {
    let started = Instant::now();
    let mut steps = Steps::default();

    steps.step("set-up", || {
        setup::prepare(&[Group::Test])?;
        toolchain::prepare()
    });
    steps.step("tidy", || if tidy::check(commands)? { Ok(()) } else { bail!("findings above") });
    steps.step("spelling", || {
        let mut codespell = Command::new("codespell");
        // Some versions take a crate for a misspelt verb.
        codespell.args(["--ignore-words-list", "crate"]).args(SPELLED);
        workspace::run(&mut codespell, "codespell: words above")
    });
    steps.step("links", links::check);
    steps.step("fmt", || workspace::run(&mut cargo(["fmt", "--all", "--check"]), "cargo fmt"));
    // With the stand-alone program: a feature that nothing builds rots. The other one,
    // `assert_process_allocs`, has no code of ours and an allocator that the tests' own would meet.
    steps.step("clippy", || {
        let mut clippy = cargo(["clippy", "--workspace", "--all-targets"]);
        clippy.args(["--features", "brunt/standalone"]);
        workspace::run(clippy.args(["--", "-D", "warnings"]), "cargo clippy")
    });
    let mut bundles = None;
    steps.step("bundle", || {
        // Built as the tests build it, so that everything below it is compiled once.
        // Programs that no test calls are left out: clippy has compiled them.
        let mut build = cargo(["build", "--workspace", "--lib", "--tests"]);
        build.args(["--bin", "brunt", "--bin", "demo"]);
        workspace::run(&mut build, "cargo build")?;
        bundles = Some(bundle::built(&Build::here(false))?);
        Ok(())
    });
    steps.tests("tests", bundles.as_ref());
    if let Some(bundles) = &bundles {
        steps.step("demo", || demo_under_test(bundles));
    }
    Ok(steps.close(started))
}

/// The demo on the plug-in under test: its host, song, pictures and table, and that plug-in and
/// file check agree on every version.
fn demo_under_test(bundles: &Bundles) -> Result<()> {
    // Demo and file check were built with the tests. Another build of them here would take other
    // features of the crates below, and minutes.
    let target = workspace::target_dir()?;
    // Its own folder: what a user's demo has left stays.
    let out = target.join("demo-under-test");
    std::fs::create_dir_all(&out).with_context(|| format!("cannot create {}", out.display()))?;
    let status = demo::play(&out, &target.join("debug"), bundles)?;
    if !status.success() {
        bail!("demo: {status}");
    }
    Ok(())
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

    fn tests(&mut self, name: &str, bundles: Option<&Bundles>) {
        println!("\n== {name}");
        let started = Instant::now();
        let tests = cargo_tests::programs(&[]).map(|programs| {
            cargo_tests::run(programs, |command| {
                // A development build logs each oddity that the tests put to it on purpose.
                if let Some(bundles) = bundles {
                    command.env("BRUNT_BUNDLE", &bundles.clap).env("NICE_LOG", bundles.log());
                    command.env("BRUNT_PROGRAM", &bundles.program);
                }
            })
        });
        let counts = tests.unwrap_or_else(|error| {
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
