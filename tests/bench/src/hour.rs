//! `brunt check` of one hour against ffmpeg's `ebur128` filter, as whole processes.

use std::error::Error;
use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::signal;

const RATE: u32 = 48_000;
/// Turns of each; the quickest counts.
const TURNS: usize = 3;

/// What one process took.
struct Taken {
    wall: Duration,
    cpu_s: f64,
    memory_mb: f64,
}

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

fn run(program: &OsStr, arguments: &[&OsStr]) -> Result<Taken, Box<dyn Error>> {
    let before = children_cpu_s();
    let started = Instant::now();
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|error| format!("{}: {error}", program.to_string_lossy()))?;
    let mut memory_mb = 0.0f64;
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        memory_mb = memory_mb.max(peak_memory_mb(child.id()).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(10));
    };
    let wall = started.elapsed();
    if !status.success() {
        return Err(format!("{}: {status}", program.to_string_lossy()).into());
    }
    Ok(Taken { wall, cpu_s: children_cpu_s() - before, memory_mb })
}

/// Processor time of all children that have ended, s, from `/proc` (fields 16 and 17, in hundredths
/// of a second); 0 on other systems.
fn children_cpu_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name in brackets may hold spaces: count from behind it, where field 3 is next.
    let fields = stat.rsplit_once(')').map_or("", |(_, rest)| rest).split_whitespace();
    fields.skip(13).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / 100.0
}

/// The most memory that a running process has had, MB.
fn peak_memory_mb(id: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1e3)
}
