//! `brunt check` of one hour against ffmpeg's `ebur128` filter, as whole processes.

use std::error::Error;
use std::ffi::OsStr;
use std::path::Path;

use crate::process::{Taken, run};
use crate::signal;

const RATE: u32 = 48_000;
/// Turns of each; the quickest counts.
const TURNS: usize = 3;

/// Prints both, and their ratio.
pub fn print(brunt: &Path, short: bool) -> Result<(), Box<dyn Error>> {
    let minutes = if short { 3 } else { 60 };
    println!("\nFile: {minutes} minutes, stereo, 24 bits, {RATE} Hz, quickest of {TURNS} turns");
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("song.wav");
    write(&file, minutes)?;
    let json = folder.path().join("out.json");
    let ours = [OsStr::new("check"), file.as_os_str(), OsStr::new("--json"), json.as_os_str()];
    let filter = ["-af", "ebur128=peak=true", "-f", "null", "-"].map(OsStr::new);
    let mut theirs = ["-hide_banner", "-nostats", "-i"].map(OsStr::new).to_vec();
    theirs.push(file.as_os_str());
    theirs.extend(filter);
    let mut best: [Option<Taken>; 2] = [None, None];
    for turn in 0..TURNS {
        for (best, (program, arguments)) in best
            .iter_mut()
            .zip([(brunt.as_os_str(), &ours[..]), (OsStr::new("ffmpeg"), &theirs[..])])
        {
            if turn > 0 {
                // A program may refuse to replace what it has written.
                let _ = std::fs::remove_file(&json);
            }
            let taken = run(program, arguments)?;
            if best.as_ref().is_none_or(|best| taken.wall < best.wall) {
                *best = Some(taken);
            }
        }
    }
    let [Some(ours), Some(theirs)] = best else { return Err("nothing ran".into()) };
    for (what, taken) in [("brunt check", &ours), ("ffmpeg ebur128=peak=true", &theirs)] {
        println!(
            "  {what:<26} {:>6.2} s, {:>6.2} s of processor, {:>5.0} MB at most",
            taken.wall.as_secs_f64(),
            taken.cpu_s,
            taken.memory_mb
        );
    }
    println!(
        "  ratio {:.2} of wall clock, {:.2} of processor time (bar 0.5)",
        ours.wall.as_secs_f64() / theirs.wall.as_secs_f64(),
        ours.cpu_s / theirs.cpu_s
    );
    Ok(())
}

fn write(path: &Path, minutes: usize) -> Result<(), Box<dyn Error>> {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE,
        bits_per_sample: 24,
        sample_format: hound::SampleFormat::Int,
    };
    let song = signal::limited(&signal::song(RATE, 20.0));
    let [left, right] = song.part(0, song.frames());
    let mut writer = hound::WavWriter::create(path, spec)?;
    for _ in 0..3 * minutes {
        for (left, right) in left.iter().zip(right) {
            for x in [left, right] {
                writer.write_sample((x * 8_388_607.0) as i32)?;
            }
        }
    }
    writer.finalize()?;
    Ok(())
}
