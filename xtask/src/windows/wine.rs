//! Programs for Windows, run here by wine.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use anyhow::{Context, Result, bail};

use crate::{bundle, workspace};

/// The compiler for Windows in Debian.
const COMPILER: &str = "x86_64-w64-mingw32-gcc";

/// A Windows of its own, without anything that a user has installed.
pub struct Wine {
    prefix: PathBuf,
}

impl Wine {
    /// Makes a fresh one in `place`.
    pub fn fresh(place: &Path) -> Result<Self> {
        let prefix = place.join("prefix");
        bundle::remove(&prefix)?;
        fs::create_dir_all(&prefix)
            .with_context(|| format!("cannot create {}", prefix.display()))?;
        let wine = Self { prefix };
        wine.run("wineboot", ["--init"])?;
        // Its files are there once its server has ended.
        workspace::run(wine.command("wineserver").arg("--wait"), "wineserver")?;
        stand_in(&wine.drive().join("windows/system32"))?;
        Ok(wine)
    }

    /// Its drive C.
    pub fn drive(&self) -> PathBuf {
        self.prefix.join("drive_c")
    }

    /// A call of a program of wine's, or of one for Windows by way of it.
    pub fn command(&self, program: impl AsRef<OsStr>) -> Command {
        let mut command = Command::new(program);
        command
            .env("WINEPREFIX", &self.prefix)
            .env("WINEARCH", "win64")
            // What wine has not built yet is not worth a line each time; nor does anything here
            // need a browser or .NET, which it would offer to fetch.
            .env("WINEDEBUG", "-all")
            .env("WINEDLLOVERRIDES", "mscoree,mshtml=;winemenubuilder.exe=")
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .stdin(Stdio::null());
        command
    }

    /// A program for Windows, on a screen of its own.
    pub fn program(&self, program: &Path) -> Command {
        let mut command = self.command("xvfb-run");
        command.args(["--auto-servernum", "--server-args", "-screen 0 1600x1200x24 -noreset"]);
        command.args(["timeout", "600", "wine"]).arg(program);
        command
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
