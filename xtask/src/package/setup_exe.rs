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
use crate::windows::build::{EXCLUDED, TARGET};
use crate::windows::wine::{Wine, known, output};
use crate::{bundle, workspace};

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
    let wine = Wine::fresh(&place)?;
    let rows = [
        Row { what: "setup.exe", seen: installed(&wine, installer) },
        Row { what: "zip", seen: unpacked(&wine, archive) },
    ];
    println!("== Packages, under wine");
    Ok(report::print(&rows))
}

fn installed(wine: &Wine, installer: &Path) -> Result<Seen> {
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
    let version = used(wine, &program, &[&clap, &vst3])?;
    let key = r"HKLM\Software\Microsoft\Windows\CurrentVersion\Uninstall\Brunt";
    let shown = output(wine.program(Path::new("reg")).args(["query", key]), "reg query")?;
    ensure!(
        String::from_utf8_lossy(&shown.stdout).contains("DisplayName"),
        "Windows lists no program to remove"
    );
    // The uninstaller copies itself, and ends before its copy does, unless it is given its folder.
    let uninstaller = folder.join("Brunt/uninstall.exe");
    let mut remove = wine.program(&uninstaller);
    remove.args(["/S", &format!("_?={}", r"C:\Program Files\Brunt")]);
    output(&mut remove, "uninstall.exe /S")?;
    bundle::remove(&uninstaller)?;
    let own = folder.join("Brunt");
    if own.is_dir() && fs::read_dir(&own)?.next().is_none() {
        bundle::remove(&own)?;
    }
    let left: Vec<_> = listing(wine)?.difference(&before).cloned().collect();
    ensure!(left.is_empty(), "left behind: {}", left.join("; "));
    let key = wine.program(Path::new("reg")).args(["query", key]).output()?;
    ensure!(!key.status.success(), "the registry still holds its key");
    Ok(Seen::Well(format!("{came} files and folders came and went; {version}")))
}

fn unpacked(wine: &Wine, archive: &Path) -> Result<Seen> {
    let folder = wine.drive().join("unpacked");
    bundle::remove(&folder)?;
    let mut unpack = Command::new("unzip");
    workspace::run(unpack.arg("-q").arg(archive).arg("-d").arg(&folder), "unzip")?;
    let top = fs::read_dir(&folder)?.next().context("an empty archive")??.path();
    let (clap, vst3) =
        (top.join("Brunt.clap"), top.join("Brunt.vst3/Contents/x86_64-win/Brunt.vst3"));
    let version = used(wine, &top.join("brunt.exe"), &[&clap, &vst3])?;
    bundle::remove(&folder)?;
    Ok(Seen::Well(version))
}

/// What the program says of itself, after both plug-ins have been loaded to their descriptor.
fn used(wine: &Wine, program: &Path, libraries: &[&PathBuf]) -> Result<String> {
    let scan = workspace::target_dir()?.join(TARGET).join("debug/scan.exe");
    let mut build = workspace::cargo(["build"]);
    build.args(workspace::DEVELOPMENT);
    build.args(["--target", TARGET]);
    build.args(EXCLUDED.map(|checks| format!("--exclude={checks}")));
    workspace::run(&mut build, "cargo build")?;
    for library in libraries {
        output(wine.program(&scan).arg(known(library)), "scan.exe")
            .with_context(|| library.display().to_string())?;
    }
    let said = output(wine.program(program).arg("--version"), "brunt --version")?;
    let said = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    ensure!(said.contains(VERSION), "brunt --version prints {said:?}");
    Ok(format!("{said}, both plug-ins load"))
}

/// Every file and folder of the drive, and every line of the registry's list of what is installed.
fn listing(wine: &Wine) -> Result<BTreeSet<String>> {
    let mut found = BTreeSet::new();
    let mut waiting = vec![wine.drive()];
    while let Some(folder) = waiting.pop() {
        for entry in
            fs::read_dir(&folder).with_context(|| format!("cannot list {}", folder.display()))?
        {
            let path = entry?.path();
            if path.is_dir() && !path.is_symlink() {
                waiting.push(path.clone());
            }
            found.insert(path.display().to_string());
        }
    }
    Ok(found)
}
