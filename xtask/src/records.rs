//! `cargo xtask bench-records` and `records`: records of other people out of Debian packages, for the
//! bench and the fit of the ceiling, and for the engine's table of what is usual.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::{Context, Result};

use crate::setup::{self, Group};
use crate::workspace::{self, cargo};

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
/// Smaller packages whose records the engine's table counts besides those of the bench and the fit: rock,
/// electronic, folk.
const MORE_RECORDS: [&str; 14] = [
    "starfighter-data",
    "drascula-music",
    "trackballs-data",
    "extremetuxracer-data",
    "zaz-data",
    "xmoto-data",
    "noiz2sa-data",
    "parsec47-data",
    "torus-trooper-data",
    "mu-cade-data",
    "titanion-data",
    "rrootage-data",
    "gunroar-data",
    "tumiki-fighters-data",
];
/// The table that is written.
const TABLE: &str = "plugin/engine/src/thresholds/records.rs";
/// Size under which a file is a sound effect or a voice, bytes.
const SMALLEST_RECORD: u64 = 300_000;

/// Fetches the records of the bench, or those of the fit, and for the bench prints what the meter says
/// of them.
pub fn bench(fit: bool) -> Result<ExitCode> {
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

/// Fetches all records, measures them whole, and writes the engine's table of percentiles.
pub fn table() -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Test])?;
    let records = workspace::target_dir()?.join("records");
    let lists: [(&str, &[&str]); 3] =
        [("bench", &BENCH_RECORDS), ("fit", &FIT_RECORDS), ("more", &MORE_RECORDS)];
    let mut folders: Vec<PathBuf> = Vec::new();
    for (name, packages) in lists {
        for package in packages {
            println!("== {package}");
            fetch(package, &records.join(name))?;
            folders.push(records.join(name).join(package));
        }
    }
    println!("== Measuring (some minutes)");
    let mut run = cargo(["run", "--release", "--quiet", "--package", "brunt-lab", "--bin"]);
    let date = Command::new("date").arg("+%F").output().context("cannot run date")?;
    run.args(["records", "--", String::from_utf8_lossy(&date.stdout).trim()]).args(&folders);
    let measured =
        run.stderr(std::process::Stdio::inherit()).output().context("cannot run cargo")?;
    anyhow::ensure!(measured.status.success(), "the measurement failed");
    fs::write(TABLE, measured.stdout).with_context(|| format!("cannot write {TABLE}"))?;
    workspace::run(Command::new("rustfmt").args(["--edition", "2024", TABLE]), "rustfmt failed")?;
    println!("== {TABLE} is written");
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
