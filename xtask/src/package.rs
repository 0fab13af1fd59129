//! `cargo xtask package`: what a user downloads, made of one build.
//!
//! [`contents`] lists what every package holds; each kind of package puts it into its own folders.
//! Dates come from the last commit, so that two runs of one build give the same bytes.

mod archive;
#[cfg(unix)]
mod check;
mod contents;
#[cfg(unix)]
mod deb;
mod materials;
#[cfg(unix)]
mod on_jack;
#[cfg(unix)]
mod root;
mod setup_exe;
mod standalone;
mod sums;
mod universal;
mod version;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result, bail, ensure};

use crate::bundle::{self, Build, Bundles};
use crate::licences::crates::THIS_SYSTEM;
use crate::report;
use crate::setup::{self, Group};
use crate::workspace::{self, cargo};
use crate::{macos, windows};

/// Options of the command.
#[derive(Clone, Debug, clap::Args)]
pub struct Arguments {
    /// Install each package in a bare system or under wine, use it, remove it (Debian; needs root)
    #[arg(long)]
    check: bool,
    /// Package the development build, for a quicker check
    #[arg(long)]
    development: bool,
    /// Make the packages for Windows, on Linux
    #[arg(long, conflicts_with = "macos")]
    windows: bool,
    /// Link the package for macOS on this processor, or on both, on another system; nobody has run it
    #[arg(long, value_name = "PROCESSOR", value_parser = macos::CHOICES, conflicts_with = "check")]
    macos: Option<String>,
}

/// Builds, packages, and checks if asked to.
pub fn run(arguments: &Arguments) -> Result<ExitCode> {
    if let Some(processor) = &arguments.macos {
        return for_macos(processor, arguments.development);
    }
    println!("== Set-up");
    let cross = arguments.windows && !cfg!(windows);
    setup::prepare(&groups(arguments, cross))?;
    println!("== Building");
    let build =
        Build { release: !arguments.development, target: cross.then_some(windows::build::TARGET) };
    let bundles = if cross {
        windows::build::prepare()?;
        windows::build::built(&build)?
    } else {
        built(&build)?
    };
    let standalone = standalone::built(&build)?;
    let folder = workspace::target_dir()?.join("packages").join(build.system());
    bundle::remove(&folder)?;
    fs::create_dir_all(&folder).with_context(|| format!("cannot create {}", folder.display()))?;

    println!("== Packaging");
    let systems = [build.target.unwrap_or(THIS_SYSTEM)];
    let (standalone, program) = (standalone.as_deref(), &bundles.program);
    let contents = contents::of(&build, &systems, &bundles, standalone, program, &folder)?;
    let files = make(&build, &folder, &contents)?;
    sums::write(&folder, &files)?;
    for file in &files {
        println!("{:>9} bytes  {}", fs::metadata(file)?.len(), file.display());
    }
    if arguments.check {
        println!("== Installing, using and removing");
        return checked(cross, &files);
    }
    Ok(ExitCode::SUCCESS)
}

/// Links and packages for macOS on a processor or on both; prints what was seen.
fn for_macos(choice: &str, development: bool) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Package])?;
    // It writes the manual pages.
    let texts = built(&Build::here(false))?.program;
    let folder = workspace::target_dir()?.join("packages/macos").join(choice);
    bundle::remove(&folder)?;
    fs::create_dir_all(&folder).with_context(|| format!("cannot create {}", folder.display()))?;
    let mut rows = Vec::new();
    let mut each = Vec::new();
    let targets = macos::targets(choice);
    for &target in &targets {
        macos::prepare(target)?;
        println!("== Linking for {target}");
        let build = Build { release: !development, target: Some(target) };
        let (bundles, seen) = macos::built(&build)?;
        rows.extend(seen);
        each.push(contents::of(&build, &targets, &bundles, None, &texts, &folder)?);
    }
    let contents = each.into_iter().map(Ok).reduce(|a, b| universal::join(a?, b?));
    let contents = contents.context("a processor to link for")??;
    let archive = archive::tar_gz("macos", choice, &folder, &contents)?;
    println!("{:>9} bytes  {}", fs::metadata(&archive)?.len(), archive.display());
    sums::write(&folder, &[archive])?;
    println!("== macOS: linked, never run");
    Ok(report::print(&rows))
}

fn groups(arguments: &Arguments, cross: bool) -> Vec<Group> {
    let mut groups = vec![if cross { Group::Windows } else { Group::Package }];
    if !cross && cfg!(target_os = "linux") {
        groups.push(Group::Standalone);
    }
    if arguments.check && !cross {
        groups.push(Group::PackageCheck);
    }
    groups
}

/// The packages of one system.
fn make(build: &Build, folder: &Path, contents: &[contents::Item]) -> Result<Vec<PathBuf>> {
    let tar_gz = |system| archive::tar_gz(system, build.architecture(), folder, contents);
    Ok(match build.system() {
        "windows" => vec![archive::zip(folder, contents)?, setup_exe::make(folder, contents)?],
        #[cfg(unix)]
        "linux" => vec![tar_gz("linux")?, deb::make(folder, contents)?],
        system => vec![tar_gz(system)?],
    })
}

/// Installs, uses and removes what was made.
fn checked(cross: bool, files: &[PathBuf]) -> Result<ExitCode> {
    let [archive, installer] = files else { bail!("--check: there is none for this system") };
    if cross {
        return setup_exe::check(archive, installer);
    }
    ensure!(cfg!(target_os = "linux"), "--check: there is none for this system");
    #[cfg(unix)]
    return check::run(archive, installer);
    #[cfg(not(unix))]
    unreachable!("looked at above");
}

/// Builds the plug-in and the program in one call, and bundles.
fn built(build: &Build) -> Result<Bundles> {
    let mut command = cargo(["build"]);
    if build.release {
        command.args(["--package", "brunt", "--package", "brunt-cli"]);
    } else {
        command.args(workspace::DEVELOPMENT);
    }
    command.args(build.arguments());
    workspace::run(&mut command, "cargo build")?;
    bundle::built(build)
}
