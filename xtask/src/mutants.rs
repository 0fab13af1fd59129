//! `cargo xtask mutants`: does a test fail when a measurement of the engine is wrong? By cargo-mutants, in a copy of
//! the project: one mistake at a time.

use std::collections::BTreeSet;
use std::iter;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::{Context, Result, bail, ensure};

use crate::setup;
use crate::workspace::{self, cargo, target_dir};

/// cargo-mutants as the registry of crates has it.
const VERSION: &str = "27.1.0";

/// Where the engine's files are.
const SOURCES: &str = "plugin/engine/src";
/// The engine, with tests of its own.
const ENGINE: &str = "brunt-engine";
/// Checks of the engine, one test target a kind of oracle.
const MEASURES: &str = "brunt-measures";

/// How well the engine is optimised for its own tests: compiled and run, a mistake takes the least so.
const OPT_LEVEL: &str = "1";

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

/// The tests that are to see a mistake.
struct Tests<'a> {
    package: &'a str,
    /// Which target of the package.
    target: &'a str,
    /// Only tests whose names contain one of these; all where there is none.
    names: &'a [String],
    /// Longest that they may compute on one mistake, s of processor time: what takes longer goes round in circles.
    /// By the clock a busy machine would make tests too slow that have seen nothing, and a mistake would count as
    /// seen.
    longest_cpu_s: u32,
}

/// Tries on every mistake the tests of the files' own modules, on those that are left all of the engine's own, and
/// then the named ones; prints what is left.
pub fn run(arguments: &Arguments) -> Result<ExitCode> {
    for file in &arguments.files {
        let known = file.is_file() && file.starts_with(SOURCES);
        ensure!(known, "{}: expected a file in {SOURCES}", file.display());
    }
    let program = setup::program("cargo-mutants", VERSION)?;
    let folder = target_dir()?.join("mutants");
    // Next to the code a mistake is mostly seen, in a tenth of the time. The limits are ours: these take 1 s, all of
    // the engine's 10, the slowest of tests/measures 80.
    let modules = modules(&arguments.files);
    let near = Tests { package: ENGINE, target: "--lib", names: &modules, longest_cpu_s: 20 };
    let mut left = tried(&program, &folder, arguments, &near, false)?;
    let targets = arguments.tests.iter().map(|test| format!("--test={test}")).collect::<Vec<_>>();
    let all = Tests { names: &[], longest_cpu_s: 60, ..near };
    let named = targets.iter().map(|target| Tests {
        package: MEASURES,
        target,
        names: &[],
        longest_cpu_s: 400,
    });
    for tests in iter::once(all).chain(named) {
        left = left && tried(&program, &folder, arguments, &tests, true)?;
    }
    println!("{}: what was tried, and what is left", folder.join("mutants.out").display());
    Ok(if left { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// The modules of the engine that these files belong to, as names of tests begin with them.
fn modules(files: &[PathBuf]) -> Vec<String> {
    let top = |file: &PathBuf| {
        let inside = file.strip_prefix(SOURCES).ok()?;
        Some(format!("{}::", Path::new(inside.iter().next()?).file_stem()?.to_str()?))
    };
    let modules: BTreeSet<String> = files.iter().filter_map(top).collect();
    modules.into_iter().collect()
}

/// Tries these tests; gives whether a mistake is left. `again`: only on what was left before.
fn tried(
    program: &Path,
    folder: &Path,
    arguments: &Arguments,
    tests: &Tests<'_>,
    again: bool,
) -> Result<bool> {
    let Tests { package, target: kind, names, longest_cpu_s } = tests;
    println!("== Mistakes that {package} {kind} {} sees", names.join(" "));
    // Kept from run to run: crates of others are compiled once.
    let target = folder.join("target");
    let with_target = |command: &mut Command| {
        command.env("CARGO_TARGET_DIR", &target).env("CARGO_PROFILE_DEV_DEBUG", "0");
        if *package == ENGINE {
            command.env("CARGO_PROFILE_DEV_OPT_LEVEL", OPT_LEVEL);
        }
    };
    // What the last run compiled has its last mistake in it, and cargo takes a copy of the project for the project.
    let mut clean = cargo(["clean", "--quiet", "--package", ENGINE]);
    with_target(&mut clean);
    workspace::run(&mut clean, "what the last run compiled cannot be removed")?;
    // Without a mistake they have to pass; cargo-mutants would look at the engine's own tests alone.
    let mut plain = cargo(["test", "--quiet"]);
    with_target(plain.args(["--package", package, kind, "--"]).args(*names));
    workspace::run(&mut plain, "the tests without a mistake")?;
    let mut command = Command::new(program);
    command.args(["mutants", "--package", ENGINE, "--jobs", "1", "--output"]).arg(folder);
    command.args(["--baseline", "skip", "--timeout", LONGEST_S]);
    command.args(["--test-package", package, &format!("--cargo-arg={kind}")]);
    command.args(arguments.files.iter().flat_map(|file| [Path::new("--file"), file]));
    command.args(arguments.only.iter().flat_map(|only| ["--re", only]));
    command.args(again.then_some("--iterate"));
    command.arg(format!(
        "--cargo-arg=--config=target.'cfg(target_os = \"linux\")'.runner = 'prlimit --cpu={longest_cpu_s}'"
    ));
    with_target(command.args(["--", "--"]).args(*names));
    let status = command.status().context("cargo-mutants cannot start")?;
    match status.code() {
        Some(0) => Ok(false),
        Some(code) if SURVIVORS.contains(&code) => Ok(true),
        _ => bail!("cargo-mutants: {status}"),
    }
}
