//! `brunt listen` on a mix of three minutes with six parts and the mix before its limiter, as a whole
//! process.

use std::error::Error;
use std::ffi::{OsStr, OsString};
use std::path::Path;

use brunt_demo::song::{self, SAMPLE_RATE_HZ, Stereo, Version};

use crate::process::{Taken, run};

/// Length of the mix, s.
const SONG_S: usize = 180;
/// Time that it may take on two cores, s.
const BAR_S: f64 = 20.0;
/// Turns; the quickest counts.
const TURNS: usize = 3;

/// Prints what it took.
pub fn print(brunt: &Path, short: bool) -> Result<(), Box<dyn Error>> {
    let turns = if short { 1 } else { TURNS };
    let cores = std::thread::available_parallelism()?;
    println!(
        "\nListen: {SONG_S} s, six parts, the mix before the limiter; {cores} cores, quickest of {turns} turns"
    );
    let folder = tempfile::tempdir()?;
    // The demo's song with loose playing, over and over.
    let session = song::render(Version::Timing);
    let path = |name: &str| folder.path().join(format!("{name}.wav"));
    let mut arguments: Vec<OsString> = vec!["listen".into(), path("mix").into(), "--before".into()];
    arguments.push(path("before").into());
    for stem in &session.stems {
        write(&path(stem.name), &stem.audio, |x| x)?;
        let mut part = OsString::from(format!("--part={}=", stem.role.code()));
        part.push(path(stem.name));
        arguments.push(part);
    }
    write(&path("before"), &session.mix, |x| x)?;
    // Clipped 6 dB into its peaks.
    write(&path("mix"), &session.mix, |x| x.clamp(-0.47, 0.47))?;
    arguments.extend(["--force", "--quiet", "--out"].map(OsString::from));
    arguments.push(folder.path().join("out").into());
    let arguments: Vec<&OsStr> = arguments.iter().map(OsString::as_os_str).collect();
    let mut best: Option<Taken> = None;
    for _ in 0..turns {
        let taken = run(brunt.as_os_str(), &arguments)?;
        if best.as_ref().is_none_or(|best| taken.wall < best.wall) {
            best = Some(taken);
        }
    }
    let Some(taken) = best else { return Err("nothing ran".into()) };
    println!(
        "  brunt listen               {:>6.2} s (bar {BAR_S:.0}), {:>6.2} s of processor, {:>5.0} MB at most",
        taken.wall.as_secs_f64(),
        taken.cpu_s,
        taken.memory_mb
    );
    Ok(())
}

fn write(path: &Path, audio: &Stereo, change: fn(f32) -> f32) -> Result<(), Box<dyn Error>> {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: SAMPLE_RATE_HZ,
        bits_per_sample: 24,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec)?;
    let frames = audio.left.len();
    for n in 0..SONG_S * SAMPLE_RATE_HZ as usize {
        for side in [&audio.left, &audio.right] {
            writer.write_sample((change(side[n % frames]) * 8_388_607.0) as i32)?;
        }
    }
    writer.finalize()?;
    Ok(())
}
