//! The built program, audio files to give it, and ffmpeg.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use brunt_cli::analyse::{Options, analyse};
use brunt_report::report::Report;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde_json::Value;
use tempfile::TempDir;

/// Sample rate of the test programme, Hz.
pub const RATE: u32 = 48_000;

/// The program: the one that `BRUNT_PROGRAM` names, or else built once in the profile of these
/// tests.
pub fn brunt() -> Command {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    let named = || std::env::var_os("BRUNT_PROGRAM").map(PathBuf::from);
    Command::new(PROGRAM.get_or_init(|| named().unwrap_or_else(build)))
}

/// Builds the program and takes its path from cargo's own messages.
fn build() -> PathBuf {
    let here = std::env::current_exe().expect("a test knows its own path");
    // target/PROFILE/deps/offline-HASH
    let target = here.ancestors().nth(3).expect("a test lies three levels under the target");
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    cargo.args(["build", "-p", "brunt-cli", "--bin", "brunt", "--message-format", "json"]);
    cargo.arg("--target-dir").arg(target).current_dir(env!("CARGO_MANIFEST_DIR"));
    if !cfg!(debug_assertions) {
        cargo.arg("--release");
    }
    let output = cargo.output().expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .find_map(|message| message["executable"].as_str().map(PathBuf::from))
        .expect("cargo names the program that it built")
}

/// Runs `brunt check FILE ARGS...`.
pub fn check(file: &Path, args: &[&str]) -> Output {
    brunt().arg("check").arg(file).args(args).output().expect("brunt runs")
}

/// Measures a file through the library.
pub fn measure(file: &Path) -> Report {
    analyse(file, &Options::default(), &mut |_| {}).expect("a good file")
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

pub fn directory() -> TempDir {
    tempfile::tempdir().expect("a temporary directory")
}

/// A programme of our own: twelve seconds at 120 beats a minute, decaying 60 Hz tones with a burst
/// of noise on every beat over a bed of noise that changes its level, stereo, peaks under 0 dBFS.
pub fn programme(seconds: f64) -> [Vec<f32>; 2] {
    let mut random = Pcg64Mcg::seed_from_u64(20);
    let frames = (seconds * f64::from(RATE)).round() as usize;
    let mut planes = [Vec::with_capacity(frames), Vec::with_capacity(frames)];
    for n in 0..frames {
        let t = n as f64 / f64::from(RATE);
        let since = t % 0.5;
        let bed = if t < seconds / 2.0 { 0.01 } else { 0.04 };
        let hit = 0.5 * (-since / 0.08).exp() * (TAU * 60.0 * since).sin();
        let click = 0.25 * (-since / 0.01).exp();
        for plane in &mut planes {
            let noise = random.random_range(-1.0..1.0);
            plane.push((hit + (click + bed) * noise) as f32);
        }
    }
    planes
}

/// Writes a WAV of `bits` (32 is float), from planes.
pub fn write_wav(path: &Path, planes: &[Vec<f32>], rate: u32, bits: u16) {
    let float = bits == 32;
    let spec = hound::WavSpec {
        channels: planes.len() as u16,
        sample_rate: rate,
        bits_per_sample: bits,
        sample_format: if float { hound::SampleFormat::Float } else { hound::SampleFormat::Int },
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a writable file");
    let scale = f64::from(1_u32 << (bits - 1).min(30));
    for n in 0..planes[0].len() {
        for plane in planes {
            if float {
                writer.write_sample(plane[n]).expect("written");
            } else {
                let x = (f64::from(plane[n]) * scale).round().clamp(-scale, scale - 1.0);
                writer.write_sample(x as i32).expect("written");
            }
        }
    }
    writer.finalize().expect("a whole file");
}

/// The programme as a 24-bit WAV in `directory`.
pub fn programme_wav(directory: &Path, seconds: f64) -> PathBuf {
    let path = directory.join("programme.wav");
    write_wav(&path, &programme(seconds), RATE, 24);
    path
}

/// Runs ffmpeg (Debian package `ffmpeg`, which the test set-up installs) and gives what it said.
pub fn ffmpeg(args: &[&str]) -> String {
    let output = Command::new("ffmpeg")
        .args(["-hide_banner", "-nostdin", "-y"])
        .args(args)
        .output()
        .expect("ffmpeg is needed: run `cargo xtask test`, which installs it");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "ffmpeg {args:?}: {said}");
    said
}

/// The same file once more next to it: one file for two things is refused.
pub fn copy_of(file: &Path, name: &str) -> PathBuf {
    let copy = file.with_file_name(name);
    std::fs::copy(file, &copy).expect("a copy");
    copy
}

pub fn close(what: &str, got: Option<f64>, want: Option<f64>, tolerance: f64) {
    let (got, want) = (got.expect(what), want.expect(what));
    assert!((got - want).abs() <= tolerance, "{what}: {got}, expected {want} +-{tolerance}");
}

pub fn path_text(path: &Path) -> &str {
    path.to_str().expect("UTF-8 path")
}
