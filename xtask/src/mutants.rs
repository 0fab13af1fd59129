//! `cargo xtask mutants`: does a test fail when a measurement of the engine is wrong? By cargo-mutants, in a copy of
//! the project: one mistake at a time.

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::{Context, Result, bail, ensure};

use crate::setup;
use crate::workspace::{self, cargo, target_dir};

/// cargo-mutants as the registry of crates has it.
const VERSION: &str = "27.1.0";

/// The engine, with tests of its own.
const ENGINE: &str = "brunt-engine";
/// Checks of the engine, one test target a kind of oracle.
const MEASURES: &str = "brunt-measures";

/// Longest that tests may compute on one mistake, s of processor time: what takes longer goes round in circles.
/// Ours: the engine's own take 6, the slowest of tests/measures 80. By the clock a busy machine would make tests
/// too slow that have seen nothing, and a mistake would count as seen.
const LONGEST_CPU_S: [u32; 2] = [40, 400];
/// Longest that they may take by the clock, s, for what waits and computes nothing.
const LONGEST_S: &str = "1800";

/// Exit codes of cargo-mutants: mistakes that no test has seen, and tests that did not end.
const SURVIVORS: [i32; 2] = [2, 3];

/// What to put mistakes into, and which tests are to see them.
#[derive(clap::Args)]
pub struct Arguments {
    /// Files of the engine, such as plugin/engine/src/contrast.rs
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// Tests of tests/measures for what the engine's own have not seen, such as standards; may repeat
    #[arg(long = "test", value_name = "NAME")]
    tests: Vec<String>,
    /// Only mistakes whose description fits this pattern
    #[arg(long, value_name = "REGEX")]
    only: Option<String>,
}

/// Tries the engine's own tests on every mistake, then the named ones on those that are left; prints
/// these.
pub fn run(arguments: &Arguments) -> Result<ExitCode> {
    for file in &arguments.files {
        let known = file.is_file() && file.starts_with("plugin/engine/src");
        ensure!(known, "{}: expected a file in plugin/engine/src", file.display());
    }
    let program = setup::program("cargo-mutants", VERSION)?;
    let folder = target_dir()?.join("mutants");
    let mut left = tried(&program, &folder, arguments, (ENGINE, "--lib"), false)?;
    for test in &arguments.tests {
        if left {
            left =
                tried(&program, &folder, arguments, (MEASURES, &format!("--test={test}")), true)?;
        }
    }
    println!("{}: what was tried, and what is left", folder.join("mutants.out").display());
    Ok(if left { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Tries these tests; gives whether a mistake is left. `again`: only on what was left before.
fn tried(
    program: &Path,
    folder: &Path,
    arguments: &Arguments,
    (package, tests): (&str, &str),
    again: bool,
) -> Result<bool> {
    println!("== Mistakes that {package} {tests} sees");
    // Kept from run to run: crates of others are compiled once.
    let target = folder.join("target");
    let with_target = |command: &mut Command| {
        command.env("CARGO_TARGET_DIR", &target).env("CARGO_PROFILE_DEV_DEBUG", "0");
    };
    // What the last run compiled has its last mistake in it, and cargo takes a copy of the project for the project.
    let mut clean = cargo(["clean", "--quiet", "--package", ENGINE]);
    with_target(&mut clean);
    workspace::run(&mut clean, "what the last run compiled cannot be removed")?;
    // Without a mistake they have to pass; cargo-mutants would look at the engine's own tests alone.
    let mut plain = cargo(["test", "--quiet"]);
    with_target(plain.args(["--package", package, tests]));
    workspace::run(&mut plain, "the tests without a mistake")?;
    let mut command = Command::new(program);
    command.args(["mutants", "--package", ENGINE, "--jobs", "1", "--output"]).arg(folder);
    command.args(["--baseline", "skip", "--timeout", LONGEST_S]);
    command.args(["--test-package", package, &format!("--cargo-arg={tests}")]);
    command.args(arguments.files.iter().flat_map(|file| [Path::new("--file"), file]));
    command.args(arguments.only.iter().flat_map(|only| ["--re", only]));
    command.args(again.then_some("--iterate"));
    let limit = LONGEST_CPU_S[usize::from(again)];
    command.arg(format!(
        "--cargo-arg=--config=target.'cfg(target_os = \"linux\")'.runner = 'prlimit --cpu={limit}'"
    ));
    with_target(&mut command);
    let status = command.status().context("cargo-mutants cannot start")?;
    match status.code() {
        Some(0) => Ok(false),
        Some(code) if SURVIVORS.contains(&code) => Ok(true),
        _ => bail!("cargo-mutants: {status}"),
    }
}
