//! Instructions under valgrind's callgrind, a frame of one bus: the same on every run, whatever
//! else the machine does. This program starts itself under valgrind, once a case.

use std::error::Error;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::signal;
use crate::turn::{measure, measure_reference, meter, reference};

/// Word by which this program is told to play one case.
pub const CASE: &str = "case";
const SECONDS: f64 = 4.0;
const BLOCK: usize = 64;

/// A run to count.
struct Case {
    name: &'static str,
    what: &'static str,
    rate: u32,
    buses: f64,
}

const CASES: [Case; 6] = [
    Case { name: "reference-48", what: "ebur128, 48 kHz", rate: 48_000, buses: 1.0 },
    Case { name: "main-48", what: "main, 48 kHz", rate: 48_000, buses: 1.0 },
    Case { name: "both-48", what: "main and side-chain, 48 kHz", rate: 48_000, buses: 2.0 },
    Case { name: "reference-96", what: "ebur128, 96 kHz", rate: 96_000, buses: 1.0 },
    Case { name: "main-96", what: "main, 96 kHz", rate: 96_000, buses: 1.0 },
    Case { name: "both-96", what: "main and side-chain, 96 kHz", rate: 96_000, buses: 2.0 },
];

/// Stages by the engine's functions, each with what it calls.
const STAGES: [(&str, &str); 15] = [
    ("intake", "input::Intake::take"),
    ("K-weighting, small speaker", "KWeighting::process_small_pair"),
    ("true peak", "TruePeak::raise"),
    ("three bands", "BandSplit::process"),
    ("third octaves", "LongTermSpectrum::cell"),
    ("onsets", "HitMeter::cell"),
    ("hits", "HitMeter::work"),
    ("ceiling", "CeilingMeter::work"),
    ("loudness", "LoudnessStats::hop"),
    ("readings of the spectra", "Meter::spectral_readings"),
    ("readings of punch", "Meter::punch_readings"),
    ("side-chain: K-weighting", "SideMeter::stretch"),
    ("side-chain: delay", "Aligner::cell"),
    ("side-chain: comparison", "Comparison::cell"),
    ("the whole", "speed::turn::measure"),
];

/// Plays one case: what valgrind is started on.
pub fn play(name: &str) -> Result<(), Box<dyn Error>> {
    let case = CASES.iter().find(|case| case.name == name).ok_or("no such case")?;
    let song = signal::song(case.rate, SECONDS);
    let limited = signal::limited(&song);
    if name.starts_with("reference") {
        measure_reference(&mut reference(case.rate)?, &limited, BLOCK);
    } else {
        let side = (case.buses > 1.0).then_some(&song);
        let mut meter = meter(case.rate, side.is_some())?;
        measure(&mut meter, &limited, side, BLOCK);
        std::hint::black_box(meter.readings());
    }
    Ok(())
}

/// Counts all cases and prints them, and the stages of one.
pub fn print() -> Result<(), Box<dyn Error>> {
    println!("\nInstructions a frame of one bus, block {BLOCK}, under callgrind");
    let there = Command::new("valgrind").arg("--version").stdout(Stdio::null()).status();
    if !there.is_ok_and(|status| status.success()) {
        println!("  left out: valgrind is not installed (Debian package `valgrind`)");
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let mut reference = f64::NAN;
    for case in &CASES {
        let out = folder.path().join(case.name);
        let functions = run(case, &out)?;
        let frames = f64::from(case.rate) * SECONDS * case.buses;
        let whole = cost(&functions, "speed::turn::measure") / frames;
        if case.name.starts_with("reference") {
            reference = whole;
            println!("  {:<30} {whole:>7.0}", case.what);
        } else {
            println!("  {:<30} {whole:>7.0}   ratio {:.2}", case.what, whole / reference);
        }
        if case.name == "both-48" {
            println!("    of which, a frame of both, by stage with all that it calls:");
            for (label, function) in STAGES {
                let share = cost(&functions, function) / (frames / case.buses);
                println!("      {label:<30} {share:>7.1}");
            }
        }
    }
    Ok(())
}

/// Names of functions, and instructions of each with what it calls.
type Functions = Vec<(String, f64)>;

fn run(case: &Case, out: &Path) -> Result<Functions, Box<dyn Error>> {
    let mut out_file = std::ffi::OsString::from("--callgrind-out-file=");
    out_file.push(out);
    let done = Command::new("valgrind")
        .args(["--tool=callgrind", "--collect-atstart=no"])
        .arg("--toggle-collect=speed::turn::measure*")
        .arg(out_file)
        .arg(std::env::current_exe()?)
        .args([CASE, case.name])
        .output()?;
    if !done.status.success() {
        return Err(format!("valgrind: {}", String::from_utf8_lossy(&done.stderr)).into());
    }
    let listed = Command::new("callgrind_annotate")
        .args(["--inclusive=yes", "--threshold=100", "--auto=no"])
        .arg(out)
        .output()?;
    if !listed.status.success() {
        let said = String::from_utf8_lossy(&listed.stderr);
        return Err(format!("callgrind_annotate: {said}").into());
    }
    let functions = parse(&String::from_utf8_lossy(&listed.stdout));
    if cost(&functions, "speed::turn::measure") == 0.0 {
        return Err("callgrind names no function of this program: was it stripped?".into());
    }
    Ok(functions)
}

/// Lines such as `96,646,914 (83.7%)  file:function [object]`.
fn parse(listing: &str) -> Functions {
    listing
        .lines()
        .filter_map(|line| {
            let (number, rest) = line.trim_start().split_once(" (")?;
            let (_, name) = rest.split_once(")  ")?;
            Some((name.to_owned(), number.replace(',', "").parse().ok()?))
        })
        .collect()
}

/// The largest: what was inlined from elsewhere may be listed apart under the same name.
fn cost(functions: &Functions, name: &str) -> f64 {
    let named = functions.iter().filter(|(function, _)| function.contains(name));
    named.map(|(_, cost)| *cost).fold(0.0, f64::max)
}
