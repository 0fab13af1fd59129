//! Independent programs, each run as a process of its own: ffmpeg and sox.

use crate::corpus::audio::{db, to_db};
use crate::corpus::{CorpusError, Stereo, cache};
use std::path::Path;
use std::process::Command;

/// ffmpeg's `alimiter`, its automatic level off and its delay compensated.
///
/// # Errors
/// [`CorpusError::Program`] when ffmpeg fails.
pub fn alimiter(
    input: &Stereo,
    ceiling: f32,
    attack_ms: f64,
    release_ms: f64,
    asc: bool,
) -> Result<Stereo, CorpusError> {
    // alimiter takes ceilings up to 1: the audio is scaled so that its ceiling is at -1 dBFS.
    let scale = db(-1.0) / ceiling;
    let filter = format!(
        "alimiter=limit={}:attack={attack_ms}:release={release_ms}:asc={}:level=0:latency=1",
        db(-1.0),
        u8::from(asc)
    );
    let recipe = format!("ffmpeg {filter} {scale}");
    cache::audio(input, &recipe, || {
        let out = through(input, scale, |from, to| ffmpeg(from, &["-af", &filter], to))?;
        Ok(fit(out, input.len(), 1.0 / scale))
    })
}

/// sox's `compand` with a transfer curve that is flat above the ceiling.
///
/// # Errors
/// [`CorpusError::Program`] when sox fails.
pub fn sox_compand(
    input: &Stereo,
    ceiling: f32,
    attack_s: f64,
    decay_s: f64,
) -> Result<Stereo, CorpusError> {
    // sox clips at full scale inside, so the loudest sample goes to -1 dBFS and the ceiling below.
    let scale = db(-1.0) / input.peak().max(ceiling);
    let at = to_db(ceiling * scale);
    let curve = format!("-90,-90,{at:.4},{at:.4},0,{at:.4}");
    cache::audio(input, &format!("sox {attack_s} {decay_s} {curve} {scale}"), || {
        let out = through(input, scale, |from, to| {
            let mut command = Command::new("sox");
            command.arg(from).args(["-e", "floating-point", "-b", "32"]).arg(to);
            command.args(["compand", &format!("{attack_s},{decay_s}"), &curve, "0", "-90"]);
            command.arg(format!("{attack_s}"));
            finish("sox", &mut command)
        })?;
        Ok(fit(out, input.len(), 1.0 / scale))
    })
}

/// Runs ffmpeg from one file to another.
///
/// # Errors
/// [`CorpusError::Program`] when it fails.
pub fn ffmpeg(from: &Path, options: &[&str], to: &Path) -> Result<(), CorpusError> {
    let mut command = Command::new("ffmpeg");
    command.args(["-hide_banner", "-loglevel", "error", "-nostdin", "-y"]);
    command.arg("-i").arg(from).args(options);
    if to.extension().is_some_and(|e| e == "wav") && !options.contains(&"-c:a") {
        command.args(["-c:a", "pcm_f32le"]);
    }
    command.arg(to);
    finish("ffmpeg", &mut command)
}

/// Writes `input` times `scale`, has `work` make another file of it, and reads that.
pub(super) fn through(
    input: &Stereo,
    scale: f32,
    work: impl FnOnce(&Path, &Path) -> Result<(), CorpusError>,
) -> Result<Stereo, CorpusError> {
    let folder = tempfile::tempdir().map_err(|e| CorpusError::file("temporary folder", e))?;
    let (from, to) = (folder.path().join("in.wav"), folder.path().join("out.wav"));
    let mut scaled = input.clone();
    scaled.gain(scale);
    scaled.write(&from)?;
    work(&from, &to)?;
    Stereo::read(&to)
}

/// Cuts or fills to `frames` and scales back.
pub(super) fn fit(mut audio: Stereo, frames: usize, scale: f32) -> Stereo {
    audio.left.resize(frames, 0.0);
    audio.right.resize(frames, 0.0);
    audio.gain(scale);
    audio
}

fn finish(program: &'static str, command: &mut Command) -> Result<(), CorpusError> {
    let output = command
        .output()
        .map_err(|e| CorpusError::Program { program, why: format!("did not start: {e}") })?;
    if output.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    let why = said.lines().last().unwrap_or("failed without a word").to_owned();
    Err(CorpusError::Program { program, why })
}
