//! Programs for Windows, run here by wine.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use anyhow::{Context, Result, bail};

use crate::screen::Screen;
use crate::{bundle, workspace};

/// The compiler for Windows in Debian.
const COMPILER: &str = "x86_64-w64-mingw32-gcc";

/// A Windows of its own, without anything that a user has installed, and with a screen.
pub struct Wine {
    prefix: PathBuf,
    /// The user's folder, which holds the documents: wine would else lay them into the real one.
    home: PathBuf,
    /// It lasts as long as the Windows on it: its desktop goes on between two programs, and a program that
    /// finds it on a screen that has gone fails.
    screen: Screen,
}

impl Wine {
    /// Makes a fresh one in `place`.
    pub fn fresh(place: &Path) -> Result<Self> {
        let (prefix, home) = (place.join("prefix"), place.join("home"));
        for folder in [&prefix, &home] {
            bundle::remove(folder)?;
            fs::create_dir_all(folder)
                .with_context(|| format!("cannot create {}", folder.display()))?;
        }
        let wine = Self { prefix, home, screen: Screen::start()? };
        wine.run("wineboot", ["--init"])?;
        wine.settle()?;
        stand_in(&wine.drive().join("windows/system32"))?;
        Ok(wine)
    }

    /// Its drive C.
    pub fn drive(&self) -> PathBuf {
        self.prefix.join("drive_c")
    }

    /// Where its user keeps documents.
    pub fn documents(&self) -> &Path {
        &self.home
    }

    /// Every file and folder of its drive and of its user's.
    pub fn files(&self) -> Result<Vec<PathBuf>> {
        let mut found = Vec::new();
        let mut waiting = vec![self.drive(), self.home.clone()];
        while let Some(folder) = waiting.pop() {
            let list = fs::read_dir(&folder)
                .with_context(|| format!("cannot list {}", folder.display()))?;
            for entry in list {
                let path = entry?.path();
                if path.is_dir() && !path.is_symlink() {
                    waiting.push(path.clone());
                }
                found.push(path);
            }
        }
        Ok(found)
    }

    /// Waits until everything that runs in it has ended: then its files and its registry are written.
    pub fn settle(&self) -> Result<()> {
        workspace::run(self.command("wineserver").arg("--wait"), "wineserver")
    }

    /// Its registry, a line each, without the times that the lines were written at.
    pub fn registry(&self) -> Result<Vec<String>> {
        let mut lines = Vec::new();
        for name in ["system.reg", "user.reg", "userdef.reg"] {
            let path = self.prefix.join(name);
            let text =
                fs::read(&path).with_context(|| format!("cannot read {}", path.display()))?;
            let mut key = String::new();
            for line in String::from_utf8_lossy(&text).lines() {
                if line.starts_with('[') {
                    // The time is after the name.
                    key = line.rsplit_once(' ').map_or(line, |(name, _)| name).to_owned();
                    lines.push(format!("{name} {key}"));
                } else if !line.is_empty() && !line.starts_with('#') {
                    lines.push(format!("{name} {key} {line}"));
                }
            }
        }
        Ok(lines)
    }

    /// A call of a program of wine's, or of one for Windows by way of it.
    pub fn command(&self, program: impl AsRef<OsStr>) -> Command {
        let mut command = Command::new(program);
        command
            .env("WINEPREFIX", &self.prefix)
            .env("WINEARCH", "win64")
            .env("HOME", &self.home)
            .env("XDG_CONFIG_HOME", self.home.join("none"))
            .env("DISPLAY", &self.screen.name)
            // What wine has not built yet is not worth a line each time; nor does anything here
            // need a browser or .NET, which it would offer to fetch.
            .env("WINEDEBUG", "-all")
            .env("WINEDLLOVERRIDES", "mscoree,mshtml=;winemenubuilder.exe=")
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            // File names are UTF-8 whatever the user has set.
            .env("LC_ALL", "C.UTF-8")
            // A log in a file has a thread of the framework's own, which outlives the library.
            .env_remove("NICE_LOG")
            .stdin(Stdio::null());
        command
    }

    /// A program for Windows.
    pub fn program(&self, program: &Path) -> Command {
        let mut command = self.command("timeout");
        command.args(["600", "wine"]).arg(program);
        command
    }

    /// Numbers that this system gives the programs of that name in it: a program for Windows, or wine's
    /// server, whose name goes on by the processor.
    pub fn running(&self, name: &str) -> Result<Vec<u32>> {
        let own = format!("WINEPREFIX={}", self.prefix.display());
        let mut found = Vec::new();
        for entry in fs::read_dir("/proc").context("cannot list /proc")? {
            let folder = entry?.path();
            let number: Option<u32> =
                folder.file_name().and_then(|name| name.to_str()?.parse().ok());
            // It may have ended meanwhile.
            let read = |file: &str| fs::read(folder.join(file)).unwrap_or_default();
            // The kernel's own name for it is cut, or wine's. What has started it names it as well, but not
            // first.
            let line = read("cmdline");
            let first =
                String::from_utf8_lossy(line.split(|byte| *byte == 0).next().unwrap_or(&line));
            let named = first.rsplit(['/', '\\']).next().is_some_and(|file| file.starts_with(name));
            let ours = || read("environ").split(|byte| *byte == 0).any(|v| v == own.as_bytes());
            found.extend(number.filter(|_| named && ours()));
        }
        Ok(found)
    }

    /// Runs one of wine's own programs, or one for Windows, to its end.
    pub fn run<S: AsRef<OsStr>>(
        &self,
        program: &str,
        arguments: impl IntoIterator<Item = S>,
    ) -> Result<Output> {
        let mut command = self.program(Path::new(program));
        output(command.args(arguments), program)
    }
}

impl Drop for Wine {
    fn drop(&mut self) {
        // Its server would wait for more; where it has ended already there is nothing to do.
        let _ = self.command("wineserver").arg("--kill").status();
    }
}

/// A path of this system as programs under wine know it.
pub fn known(path: &Path) -> String {
    format!("Z:{}", path.display()).replace('/', "\\")
}

/// What a command prints, if it ends well.
pub fn output(command: &mut Command, what: &str) -> Result<Output> {
    let output = command.output().with_context(|| format!("{what}: cannot start"))?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stdout).into_owned()
            + &String::from_utf8_lossy(&output.stderr);
        let end: Vec<_> = said.lines().rev().take(12).collect();
        let end: Vec<_> = end.into_iter().rev().collect();
        bail!("{what}: {}: {}", output.status, end.join("\n"));
    }
    Ok(output)
}

/// Rust's programs draw random numbers from a library that Debian's wine (8.0) lacks. In its place,
/// and only in a Windows that is under test, goes one of four lines that asks another library of the
/// system for them. It is never packaged.
fn stand_in(folder: &Path) -> Result<()> {
    let library = folder.join("bcryptprimitives.dll");
    if library.exists() {
        return Ok(());
    }
    let source = folder.join("bcryptprimitives.c");
    fs::write(&source, include_str!("bcryptprimitives.c"))
        .with_context(|| format!("cannot write {}", source.display()))?;
    let mut compile = Command::new(COMPILER);
    compile.args(["-shared", "-o"]).arg(&library).arg(&source).arg("-ladvapi32");
    workspace::run(&mut compile, "the stand-in for bcryptprimitives.dll does not build")?;
    fs::remove_file(&source).with_context(|| format!("cannot remove {}", source.display()))
}
