//! `cargo xtask bench`, `bench-ceiling` and `bench-records`: what the meter costs, and how well the
//! ceiling is told from the mix alone, on songs of ours and on records of other people.

use std::fs;
use std::path::Path;
use std::process::{Command, ExitCode};

use anyhow::{Context, Result};

use crate::setup::{self, Group};
use crate::workspace::{self, cargo};

/// Rebuilds the corpus and prints the table.
pub fn ceiling(short: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    println!(
        "== Rendering, limiting and measuring (a quarter of an hour, or a minute with --short)"
    );
    let mut run =
        cargo(["run", "--release", "--quiet", "--package", "brunt-lab", "--bin", "ceiling", "--"]);
    run.arg("bench");
    if short {
        run.arg("--short");
    }
    workspace::run(&mut run, "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}

/// Renders songs of two kinds with one cause at a time, and prints each cost that is read against what
/// the hits really lost.
pub fn costs(songs: u64) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    println!("== Rendering and measuring (about a minute a song of each kind)");
    let songs = songs.to_string();
    workspace::run(
        &mut cargo([
            "run",
            "--release",
            "--quiet",
            "--package",
            "brunt-lab",
            "--bin",
            "costs",
            "--",
            songs.as_str(),
        ]),
        "the bench failed",
    )?;
    Ok(ExitCode::SUCCESS)
}

/// Debian packages with records by many hands, for the bench: rock, metal, electronic, orchestral. No
/// fit sees these.
const BENCH_RECORDS: [&str; 5] = [
    "nexuiz-music",
    "ufoai-music",
    "hyperrogue-music",
    "fretsonfire-songs-sectoid",
    "fretsonfire-songs-muldjord",
];
/// The same for the fit of the ceiling.
const FIT_RECORDS: [&str; 6] = [
    "warzone2100-music",
    "hedgewars-data",
    "singularity-music",
    "wesnoth-1.16-music",
    "asc-music",
    "lincity-ng-data",
];
/// Size under which a file is a sound effect or a voice, bytes.
const SMALLEST_RECORD: u64 = 300_000;

/// Fetches the records of the bench, or those of the fit, and for the bench prints what the meter says
/// of them.
pub fn records(fit: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    let (name, packages): (&str, &[&str]) =
        if fit { ("fit", &FIT_RECORDS) } else { ("bench", &BENCH_RECORDS) };
    let folder = workspace::target_dir()?.join("records").join(name);
    for package in packages {
        println!("== {package}");
        fetch(package, &folder)?;
    }
    println!("== Records are in {}", folder.display());
    if fit {
        return Ok(ExitCode::SUCCESS);
    }
    println!("== Limiting and measuring (half an hour)");
    let tool = |name: &str, arguments: &[&str]| {
        let mut run = cargo(["run", "--release", "--quiet", "--package", "brunt-lab", "--bin"]);
        run.args([name, "--"]).args(arguments).arg(&folder);
        workspace::run(&mut run, "the bench failed")
    };
    tool("ceiling", &["bench", "--records"])?;
    tool("balance", &["--records"])?;
    Ok(ExitCode::SUCCESS)
}

/// The records of one Debian package, below `folder`; those that are there stay.
fn fetch(package: &str, folder: &Path) -> Result<()> {
    let own = folder.join(package);
    if own.is_dir() {
        return Ok(());
    }
    // Made beside and renamed: half of a package is never taken for a whole one.
    let part = folder.join(format!("{package}.part"));
    if part.is_dir() {
        fs::remove_dir_all(&part).with_context(|| format!("cannot empty {}", part.display()))?;
    }
    fs::create_dir_all(&part).with_context(|| format!("cannot make {}", part.display()))?;
    let mut get = Command::new("apt-get");
    workspace::run(get.args(["download", package]).current_dir(&part), "apt-get download failed")?;
    for archive in files(&part)? {
        let mut unpack = Command::new("dpkg-deb");
        workspace::run(unpack.arg("-x").arg(&archive).arg(&part), "dpkg-deb failed")?;
        fs::remove_file(&archive)?;
    }
    for path in files(&part)? {
        if path.extension().is_some_and(|extension| extension == "pk3") {
            let mut unzip = Command::new("python3");
            unzip.args(["-m", "zipfile", "-e"]).arg(&path).arg(path.with_extension(""));
            workspace::run(&mut unzip, "python3 cannot unzip")?;
        }
    }
    for path in files(&part)? {
        // A guitar of its own is a part and no record.
        let part_of_song = path.file_stem().is_some_and(|stem| stem == "guitar");
        if part_of_song || path.metadata()?.len() < SMALLEST_RECORD {
            fs::remove_file(&path)?;
        }
    }
    fs::rename(&part, &own).with_context(|| format!("cannot make {}", own.display()))
}

/// All files below a folder. Links are not followed: what is found here is deleted.
fn files(folder: &Path) -> Result<Vec<std::path::PathBuf>> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(open) = folders.pop() {
        for entry in fs::read_dir(&open).with_context(|| format!("{}", open.display()))? {
            let entry = entry?;
            let kind = entry.file_type()?;
            if kind.is_dir() {
                folders.push(entry.path());
            } else if kind.is_file() {
                found.push(entry.path());
            }
        }
    }
    Ok(found)
}

/// Prints what the meter costs: in time beside the `ebur128` crate and ffmpeg, in instructions, and
/// in memory. `parts`: some of what there is, or everything.
pub fn speed(short: bool, parts: &[String]) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Bench])?;
    println!("== Building for real use");
    let mut build = cargo(["build", "--release", "--quiet", "--package", "brunt-cli"]);
    workspace::run(build.args(["--bin", "brunt"]), "cannot build the program")?;
    println!("== Measuring (a quarter of an hour on a quiet machine, or two minutes with --short)");
    let mut run = cargo(["run", "--release", "--quiet", "--package", "brunt-bench"]);
    run.args(["--bin", "speed", "--", "--brunt"]);
    run.arg(workspace::target_dir()?.join("release/brunt"));
    if short {
        run.arg("--short");
    }
    workspace::run(run.args(parts), "the bench failed")?;
    Ok(ExitCode::SUCCESS)
}
