//! The installer for Windows, made by NSIS, and the check of both Windows packages under wine.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::{Context, Result, ensure};

use super::archive::windows_name;
use super::contents::Item;
use super::version::VERSION;
use crate::report::{self, Row, Seen};
use crate::test::cargo_tests::OF_INSTALLED;
use crate::windows::wine::{Wine, known, output};
use crate::windows::{build, checks};
use crate::{bundle, songs, workspace};

/// Makes `brunt-VERSION-windows-x86_64-setup.exe` in `folder`.
pub fn make(folder: &Path, items: &[Item]) -> Result<PathBuf> {
    let stage = folder.join("setup");
    let mut size = 0;
    for item in items {
        let path = stage.join(windows_name(item));
        let parent = path.parent().context("a packaged file has a folder")?;
        fs::create_dir_all(parent)
            .with_context(|| format!("cannot create {}", parent.display()))?;
        fs::write(&path, &item.bytes)
            .with_context(|| format!("cannot write {}", path.display()))?;
        size += item.bytes.len();
    }
    let script = stage.join("installer.nsi");
    fs::write(&script, include_str!("installer.nsi"))
        .with_context(|| format!("cannot write {}", script.display()))?;
    let out = folder.join(format!("brunt-{VERSION}-windows-x86_64-setup.exe"));
    let mut make = Command::new("makensis");
    make.args(["-V2", "-WX"]);
    make.arg(format!("-DVERSION={VERSION}"));
    make.arg(format!("-DFILES={}", stage.display()));
    make.arg(format!("-DOUT={}", out.display()));
    make.arg(format!("-DSIZE_KB={}", size.div_ceil(1024)));
    workspace::run(make.arg(&script), "makensis")?;
    bundle::remove(&stage)?;
    Ok(out)
}

/// Installs and unpacks, uses, removes, and looks for what is left; prints a table.
pub fn check(archive: &Path, installer: &Path) -> Result<ExitCode> {
    let place = workspace::target_dir()?.join("windows");
    fs::create_dir_all(&place).with_context(|| format!("cannot create {}", place.display()))?;
    let mut build = workspace::cargo(["build"]);
    workspace::run(build.args(workspace::DEVELOPMENT), "cargo build")?;
    let mix = songs::mix(&place)?;
    let wine = Wine::fresh(&place)?;
    let rows = [
        Row { what: "setup.exe", seen: installed(&wine, &mix, installer) },
        Row { what: "zip", seen: unpacked(&wine, &mix, archive) },
    ];
    println!("== Packages, under wine");
    Ok(report::print(&rows))
}

fn installed(wine: &Wine, mix: &Path, installer: &Path) -> Result<Seen> {
    let before = listing(wine)?;
    output(wine.program(installer).arg("/S"), "setup.exe /S")?;
    let after = listing(wine)?;
    let came = after.difference(&before).count();
    let folder = wine.drive().join("Program Files");
    let clap = folder.join("Common Files/CLAP/Brunt.clap");
    let vst3 = folder.join("Common Files/VST3/Brunt.vst3/Contents/x86_64-win/Brunt.vst3");
    let program = folder.join("Brunt/brunt.exe");
    for file in [&clap, &vst3, &program] {
        ensure!(file.is_file(), "{}: expected it to be installed", file.display());
    }
    let version = used(wine, mix, &program, &clap, &vst3)?;
    let key = r"HKLM\Software\Microsoft\Windows\CurrentVersion\Uninstall\Brunt";
    let shown = output(wine.program(Path::new("reg")).args(["query", key]), "reg query")?;
    ensure!(
        String::from_utf8_lossy(&shown.stdout).contains("DisplayName"),
        "Windows lists no program to remove"
    );
    // As Windows calls it: the uninstaller copies itself, and the copy goes on when it has ended.
    output(wine.program(&folder.join("Brunt/uninstall.exe")).arg("/S"), "uninstall.exe /S")?;
    // The copy goes when Windows starts the next time.
    wine.settle()?;
    wine.run::<&str>("wineboot", [])?;
    wine.settle()?;
    let mut left: Vec<_> = listing(wine)?.difference(&before).cloned().collect();
    // Its empty folder goes then, too, in Windows; wine removes files alone.
    left.retain(|path| !is_emptied(Path::new(path)));
    ensure!(left.is_empty(), "left behind: {}", left.join("; "));
    let mut kept = wine.registry()?;
    kept.retain(|line| line.to_lowercase().contains("brunt"));
    ensure!(kept.is_empty(), "left in the registry: {}", kept.join("; "));
    Ok(Seen::Well(format!("{came} files and folders came and went; {version}")))
}

fn unpacked(wine: &Wine, mix: &Path, archive: &Path) -> Result<Seen> {
    let folder = wine.drive().join("unpacked");
    bundle::remove(&folder)?;
    let mut unpack = Command::new("unzip");
    workspace::run(unpack.arg("-q").arg(archive).arg("-d").arg(&folder), "unzip")?;
    let top = fs::read_dir(&folder)?.next().context("an empty archive")??.path();
    let (clap, vst3) =
        (top.join("Brunt.clap"), top.join("Brunt.vst3/Contents/x86_64-win/Brunt.vst3"));
    let version = used(wine, mix, &top.join("brunt.exe"), &clap, &vst3)?;
    bundle::remove(&folder)?;
    Ok(Seen::Well(version))
}

/// Loads both plug-ins to their descriptor, plays the CLAP in the host harness, and measures a mix.
fn used(wine: &Wine, mix: &Path, program: &Path, clap: &Path, vst3: &Path) -> Result<String> {
    let scan = build::program("scan")?;
    for library in [clap, vst3] {
        output(wine.program(&scan).arg(known(library)), "scan.exe")
            .with_context(|| library.display().to_string())?;
    }
    let passed = checks::hosts(wine, clap, &OF_INSTALLED)?;
    let said = output(wine.program(program).arg("--version"), "brunt --version")?;
    let version = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    ensure!(version.contains(VERSION), "brunt --version prints {version:?}");
    let said = output(wine.program(program).arg("check").arg(known(mix)), "brunt check")?;
    let said = String::from_utf8_lossy(&said.stdout).into_owned();
    ensure!(said.contains("Hit contrast"), "brunt check prints {said:?}");
    Ok(format!("{version} reads a mix, both plug-ins load, {passed} host tests passed"))
}

/// Whether this is the folder that NSIS's uninstaller copies itself into, with nothing in it.
fn is_emptied(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    name.starts_with("~nsu") && fs::read_dir(path).is_ok_and(|mut list| list.next().is_none())
}

/// Every file and folder that there is.
fn listing(wine: &Wine) -> Result<BTreeSet<String>> {
    Ok(wine.files()?.iter().map(|path| path.display().to_string()).collect())
}
