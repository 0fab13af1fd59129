//! `brunt listen` on a version: its files at one loudness by a library from outside the project, and
//! what was predicted against what the files give.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use brunt_report::listen::ListenReport;

use super::Result;
use super::desk::Part;

/// Largest distance of a file from the common loudness, LU.
const APART_LU: f64 = 0.1;

/// Writes the versions of a passage into `out` and gives what they gain, in a line, with what was
/// predicted in brackets. Parts are in `folder`.
pub fn versions(
    brunt: &Path,
    wav: &Path,
    before: Option<&Path>,
    (parts, folder): (&[Part], &Path),
    out: &Path,
) -> Result<String> {
    let absolute = |path: &Path| std::path::absolute(path);
    let out: PathBuf = absolute(out)?;
    // That of the last demo goes: this is our own folder.
    match fs::remove_dir_all(&out) {
        Err(error) if error.kind() != ErrorKind::NotFound => return Err(error.into()),
        _ => {}
    }
    let mut command = Command::new(absolute(brunt)?);
    command.current_dir(folder).arg("listen").arg(absolute(wav)?).arg("--quiet");
    command.args(["--format", "flac"]).arg("--out").arg(&out);
    if let Some(before) = before {
        command.arg("--before").arg(absolute(before)?);
    }
    for part in parts {
        command.arg("--part").arg(format!("{}={}", part.role.code(), part.name));
    }
    let status = command.stdin(Stdio::null()).status()?;
    if !status.success() {
        return Err(format!("brunt listen {}: {status}", wav.display()).into());
    }
    let text = fs::read_to_string(out.join("listen.json"))?;
    let session: ListenReport = serde_json::from_str(&text)?;
    let mut said = Vec::new();
    for version in &session.versions {
        let loudness = loudness_lufs(&out.join(&version.file))?;
        if (loudness - session.loudness_lufs).abs() > APART_LU {
            return Err(format!("{}: {loudness:.2} LUFS", version.file).into());
        }
        let Some(gain) = version.remeasured_db else { continue };
        let predicted = version.predicted_db.map_or(String::new(), |db| format!(" ({db:+.1})"));
        said.push(format!("{} {gain:+.1} dB{predicted}", version.id));
    }
    Ok(format!(
        "{} files at {:.1} LUFS; {}",
        session.versions.len(),
        session.loudness_lufs,
        said.join(", ")
    ))
}

/// Integrated loudness of a file by the `ebur128` crate, LUFS.
fn loudness_lufs(file: &Path) -> Result<f64> {
    let whole = brunt_files::whole::Whole::read(file)?;
    let channels = whole.planes.len() as u32;
    let mut meter = ebur128::EbuR128::new(channels, whole.sample_rate_hz, ebur128::Mode::I)?;
    let planes: Vec<&[f32]> = whole.planes.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&planes)?;
    Ok(meter.loudness_global()?)
}
