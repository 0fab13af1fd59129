//! The demo's songs as files, rendered by the program `stems`: a folder each, with `mix.wav` and its parts.
//! What `brunt check` says of them.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::workspace;

/// Renders these versions of the song, or all where none is named. The program has to be built.
pub fn render(folder: &Path, versions: &[&str]) -> Result<()> {
    let mut render = Command::new(workspace::target_dir()?.join("debug/stems"));
    workspace::run(render.arg(folder).args(versions), "stems")
}

/// One mix of the demo's, rendered below `place`: for programs that need any.
pub fn mix(place: &Path) -> Result<PathBuf> {
    let folder = place.join("song");
    render(&folder, &["timing"])?;
    Ok(folder.join("timing/mix.wav"))
}

/// The parts of a song, `ROLE NAME.wav`, with their roles; in order.
pub fn stems(folder: &Path) -> Result<Vec<(String, PathBuf)>> {
    let list = fs::read_dir(folder).with_context(|| format!("cannot list {}", folder.display()))?;
    let mut found = Vec::new();
    for entry in list {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if let Some((role, _)) = name.split_once(' ') {
            found.push((role.to_owned(), path));
        }
    }
    found.sort();
    Ok(found)
}

/// The JSON of `brunt check` on a mix with its parts, each with its role. The program has to be built.
pub fn check(mix: &Path, parts: &[(String, PathBuf)]) -> Result<Value> {
    let mut program = Command::new(workspace::target_dir()?.join("debug/brunt"));
    check_by(program.stdin(Stdio::null()), mix, parts, &|path| path.display().to_string())
}

/// The same by another `program`, for which paths are written as `shown` has it.
pub fn check_by(
    program: &mut Command,
    mix: &Path,
    parts: &[(String, PathBuf)],
    shown: &dyn Fn(&Path) -> String,
) -> Result<Value> {
    program.args(["check", "--json", "-"]).arg(shown(mix));
    for (role, file) in parts {
        program.args(["--part", &format!("{role}={}", shown(file))]);
    }
    let output = program.output().context("brunt cannot start")?;
    if !output.status.success() {
        bail!("brunt check: {}: {}", output.status, String::from_utf8_lossy(&output.stderr).trim());
    }
    serde_json::from_slice(&output.stdout).context("brunt check printed no JSON")
}
