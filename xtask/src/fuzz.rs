//! `cargo xtask fuzz`: the targets of `tests/fuzz`, for longer than the tests run them.

use std::env;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};

use anyhow::{Context, Result, bail};

use crate::setup::{self, Group};
use crate::workspace::{self, cargo};

/// Every target, with its share of the executions: the quick ones are run more often.
const TARGETS: &[(&str, u64)] =
    &[("state", 25), ("files", 60), ("process", 1), ("page", 7), ("view", 7)];

/// What libFuzzer watches. All of it is offered by the stable compiler.
const COVERAGE: &[&str] = &[
    "-Cpasses=sancov-module",
    "-Cllvm-args=-sanitizer-coverage-level=4",
    "-Cllvm-args=-sanitizer-coverage-inline-8bit-counters",
    "-Cllvm-args=-sanitizer-coverage-pc-table",
    "-Cllvm-args=-sanitizer-coverage-trace-compares",
    "-Ccodegen-units=1",
];

/// What to run, and for how long.
#[derive(clap::Args)]
pub struct Arguments {
    /// Only this target: state, files, process, page or view
    #[arg(long, value_name = "NAME")]
    target: Option<String>,
    /// Executions, over all targets
    #[arg(long, value_name = "N", default_value_t = 1_000_000)]
    executions: u64,
    /// Minutes a target, in place of a number of executions
    #[arg(long, value_name = "M")]
    minutes: Option<u64>,
    /// Seed of the first random input
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Steer by coverage, with libFuzzer (needs a C++ compiler)
    #[arg(long)]
    guided: bool,
    /// Keep the inputs that reach far, in place of those of the targets run
    #[arg(long, requires = "guided")]
    keep: bool,
}

/// Runs the targets one after another; every find stops its target and is told.
pub fn run(arguments: &Arguments) -> Result<ExitCode> {
    let chosen: Vec<_> = TARGETS
        .iter()
        .filter(|(name, _)| arguments.target.as_ref().is_none_or(|target| target == name))
        .collect();
    if chosen.is_empty() {
        let names: Vec<_> = TARGETS.iter().map(|(name, _)| *name).collect();
        bail!(
            "--target {}: expected {}",
            arguments.target.as_deref().unwrap_or_default(),
            names.join(", ")
        );
    }
    let shares: u64 = chosen.iter().map(|(_, share)| share).sum();
    let program = if arguments.guided { Some(guided()?) } else { None };
    let mut found = false;
    for (name, share) in chosen {
        let executions = (arguments.executions * share).div_ceil(shares);
        let ended = match &program {
            Some(program) => steered(program, name, executions, arguments)?,
            None => random(name, executions, arguments)?,
        };
        found |= !ended;
    }
    Ok(if found { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Random bytes, by the test itself. Whether it found nothing.
fn random(name: &str, executions: u64, arguments: &Arguments) -> Result<bool> {
    let mut test = cargo(["test", "--quiet", "--package", "brunt-fuzz", "--test", "fuzz"]);
    test.args(["--", "--exact", name, "--nocapture"]);
    match arguments.minutes {
        Some(minutes) => test.env("BRUNT_FUZZ_MINUTES", minutes.to_string()),
        None => test.env("BRUNT_FUZZ_EXECUTIONS", executions.to_string()),
    };
    test.env("BRUNT_FUZZ_SEED", arguments.seed.to_string());
    let status = quiet(&mut test).status().context("cargo test: cannot start")?;
    Ok(status.success())
}

/// What the plug-in would log of each oddity goes nowhere.
fn quiet(command: &mut Command) -> &mut Command {
    let nowhere = if cfg!(windows) { "NUL" } else { "/dev/null" };
    command.env("NICE_LOG", nowhere)
}

/// Builds the targets for libFuzzer, into a folder of their own: everything is compiled once more.
fn guided() -> Result<PathBuf> {
    setup::prepare(&[Group::Fuzz])?;
    let host = host_triple()?;
    let folder = workspace::target_dir()?.join("fuzz");
    let mut build = cargo(["build", "--package", "brunt-fuzz", "--bin", "fuzz-guided"]);
    build.args(["--features", "guided", "--target", &host, "--target-dir"]).arg(&folder);
    build.env("RUSTFLAGS", COVERAGE.join(" "));
    workspace::run(&mut build, "the fuzz targets do not build")?;
    Ok(folder.join(host).join("debug/fuzz-guided"))
}

fn host_triple() -> Result<String> {
    let rustc = env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let output =
        Command::new(rustc).arg("-vV").stdin(Stdio::null()).output().context("cannot run rustc")?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let host = text.lines().find_map(|line| line.strip_prefix("host: "));
    host.map(str::to_owned).context("rustc -vV names no host")
}

/// libFuzzer on one target. Its corpus grows in the target folder; the finds lie beside it.
fn steered(program: &Path, name: &str, executions: u64, arguments: &Arguments) -> Result<bool> {
    let folder = workspace::target_dir()?.join("fuzz").join(name);
    let (corpus, finds) = (folder.join("corpus"), folder.join("finds"));
    for folder in [&corpus, &finds] {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("cannot create {}", folder.display()))?;
    }
    println!("== {name}");
    let mut run = Command::new(program);
    run.arg(&corpus)
        .arg(format!("-artifact_prefix={}/", finds.display()))
        .args(["-max_len=512", "-timeout=20", "-rss_limit_mb=3000", "-print_final_stats=1"])
        .arg("-verbosity=0")
        .arg(format!("-seed={}", arguments.seed.max(1)))
        .env("BRUNT_FUZZ_TARGET", name);
    match arguments.minutes {
        Some(minutes) => run.arg(format!("-max_total_time={}", 60 * minutes)),
        None => run.arg(format!("-runs={executions}")),
    };
    let status = quiet(&mut run).status().context("the fuzz targets cannot start")?;
    if !status.success() {
        println!("{name}: found something; its input lies in {}", finds.display());
    } else if arguments.keep {
        keep(program, name, &corpus)?;
    }
    Ok(status.success())
}

/// Puts the smallest set of inputs that reaches all that the corpus reaches into the project.
fn keep(program: &Path, name: &str, corpus: &Path) -> Result<()> {
    let small = corpus.with_file_name("small");
    crate::bundle::remove(&small)?;
    std::fs::create_dir_all(&small)
        .with_context(|| format!("cannot create {}", small.display()))?;
    let mut merge = Command::new(program);
    merge.args(["-merge=1", "-max_len=512", "-verbosity=0"]).arg(&small).arg(corpus);
    merge.env("BRUNT_FUZZ_TARGET", name);
    workspace::run(quiet(&mut merge), "the corpus cannot be made small")?;
    let mut lines = Vec::new();
    for entry in std::fs::read_dir(&small).context("cannot list the small corpus")? {
        let bytes = std::fs::read(entry?.path()).context("cannot read the small corpus")?;
        lines.push(bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>());
    }
    // The shortest reach almost as far, and the rest is found again in minutes.
    lines.sort_by_key(|line| (line.len(), line.clone()));
    lines.truncate(MOST_KEPT);
    let file = Path::new("tests/fuzz/kept").join(format!("{name}.hex"));
    let old = std::fs::read_to_string(&file).unwrap_or_default();
    let mut text: String =
        old.lines().take_while(|line| *line != REACHED).map(|line| format!("{line}\n")).collect();
    text.push_str(REACHED);
    text.push('\n');
    for line in lines {
        text.push_str(&line);
        text.push('\n');
    }
    std::fs::write(&file, text).with_context(|| format!("cannot write {}", file.display()))
}

/// Most inputs kept of a target.
const MOST_KEPT: usize = 120;
/// Above this line stand the inputs that found something; they stay.
const REACHED: &str = "# Inputs that reach far, by libFuzzer's merge:";
