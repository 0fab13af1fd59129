//! Plays every version of the invented session through the built plug-in and tabulates what it
//! reads. `cargo xtask demo` prepares everything and calls this:
//!
//! `demo OUT BRUNT` with the folder to write into and the path of the built program `brunt`. The
//! plug-in is the one that `brunt_tests::host::bundle` finds.
//!
//! For each version OUT gets the sound (`.wav`, 24 bit), the plug-in's readings out of its saved
//! state (`.json`) and a picture of its editor (`.png`). Exit status: 0 done; 1 a step failed, or
//! plug-in and file check disagree.

mod agree;
mod bounce;
mod screen;
mod table;

use std::env;
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::Instant;

use brunt_report::report::Report;
use brunt_tests::host::transport::Tempo;
use brunt_tests::host::{Blocks, Instance, Song, render};
use brunt_tests::song::{self, BAND, SAMPLE_RATE_HZ, Session, TEMPO_BPM, TITLE, Version};

use agree::Agreement;
use table::Row;

/// The host's block length, frames: a common choice in studios (common practice, no source).
const BLOCK_FRAMES: usize = 512;

type Result<T> = std::result::Result<T, Box<dyn Error>>;

fn main() -> ExitCode {
    let arguments: Vec<PathBuf> = env::args_os().skip(1).map(PathBuf::from).collect();
    let [out, brunt] = arguments.as_slice() else {
        eprintln!("usage: demo OUT BRUNT, called by `cargo xtask demo`");
        return ExitCode::FAILURE;
    };
    let result = match screen::prepare() {
        Ok(screen::Screen::Here) => run(out, brunt),
        Ok(screen::Screen::RanInside(status)) => return status,
        Err(error) => Err(error),
    };
    result.unwrap_or_else(|error| {
        eprintln!("error: {error}");
        ExitCode::FAILURE
    })
}

fn run(out: &Path, brunt: &Path) -> Result<ExitCode> {
    fs::create_dir_all(out).map_err(|e| format!("cannot create {}: {e}", out.display()))?;
    println!("{BAND}: \"{TITLE}\", {TEMPO_BPM:.0} beats a minute, an invented song");
    let mut rows = Vec::new();
    let mut agreement = Agreement::default();
    for (index, version) in Version::ALL.into_iter().enumerate() {
        let started = Instant::now();
        println!("[{}/{}] {}: {}", index + 1, Version::ALL.len(), version.name(), version.what());
        let session = song::render(version);
        let wav = out.join(format!("{}.wav", version.name()));
        let samples = bounce::write(&wav, &session.mix)?;
        println!("      played and bounced, {:.0} s of sound", session.mix.seconds());

        let report = through_the_plug_in(out, version, &samples)?;
        println!("      plug-in: {}", report.verdict);

        let checked = check(brunt, &wav)?;
        let found = agree::compare(&report.to_json()?, &checked)?;
        println!("      brunt check of the file: {found}");
        agreement.add(found);
        rows.push(Row::new(&session, report));
        println!("      {:.0} s", started.elapsed().as_secs_f64());
    }
    println!();
    print!("{}", table::print(&rows));
    println!();
    println!("Plug-in and file check: {agreement}");
    println!("Sounds, pictures and numbers: {}", out.display());
    println!("Listen at a moderate level.");
    Ok(if agreement.holds() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Plays the sound through the built plug-in as a host does, and gives what it has measured, read
/// from the state that it saves with the host's session.
fn through_the_plug_in(out: &Path, version: Version, samples: &[Vec<f32>]) -> Result<Report> {
    let mut instance = Instance::load()?;
    let mut audio = instance.activate(f64::from(SAMPLE_RATE_HZ), BLOCK_FRAMES as u32)?;
    let tempo = Some(Tempo { bpm: TEMPO_BPM, signature: (4, 4) });
    let song = Song { main: samples, tempo, ..Song::default() };
    let output = render::play(&mut audio, &song, &Blocks::Even(BLOCK_FRAMES))?;
    let same = output
        .iter()
        .flatten()
        .map(|s| s.to_bits())
        .eq(samples.iter().flatten().map(|s| s.to_bits()));
    if !same {
        return Err(format!("{}: the plug-in has changed the sound", version.name()).into());
    }
    let mut report =
        instance.save()?.report()?.ok_or("the plug-in's saved state holds no reading")?;
    version.name().clone_into(&mut report.mix.file);
    fs::write(out.join(format!("{}.json", version.name())), report.to_json()?)?;
    screen::picture(&mut instance, &out.join(format!("{}.png", version.name())))?;
    instance.deactivate(audio);
    Ok(report)
}

/// The same file through the program `brunt`.
fn check(brunt: &Path, wav: &Path) -> Result<String> {
    let output = Command::new(brunt)
        .arg("check")
        .arg(wav)
        .args(["--json", "-"])
        .stdin(Stdio::null())
        .stderr(Stdio::inherit())
        .output()
        .map_err(|e| format!("cannot run {}: {e}", brunt.display()))?;
    if !output.status.success() {
        return Err(format!("brunt check {}: {}", wav.display(), output.status).into());
    }
    Ok(String::from_utf8(output.stdout)?)
}

/// The limiter's own meter at the hits of a session, dB of gain reduction: median, 90th
/// percentile and largest; `None` where there is no limiter.
fn limiter_meter(session: &Session) -> Option<[f64; 3]> {
    let gain = &session.limiter_gain_db;
    if gain.is_empty() {
        return None;
    }
    // Within the first 50 ms of each hit, where its peak is.
    let reach = SAMPLE_RATE_HZ as usize / 20;
    let mut at_hits: Vec<f64> = session
        .drum_hits_s
        .iter()
        .map(|at| {
            let from = ((at * f64::from(SAMPLE_RATE_HZ)) as usize).min(gain.len());
            let to = (from + reach).min(gain.len());
            -f64::from(gain[from..to].iter().copied().fold(0.0, f32::min))
        })
        .collect();
    at_hits.sort_by(f64::total_cmp);
    let at = |share: f64| at_hits[((at_hits.len() - 1) as f64 * share).round() as usize];
    Some([at(0.5), at(0.9), at(1.0)])
}
