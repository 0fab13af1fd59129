//! `ceiling`: the evidence of a ceiling beside the truth about it, for the fit and for the table.
//!
//! `ceiling traces OUT.csv --drawn COUNT --seed S --without SONG,SONG` draws songs from the material
//! of the written ones, but for some and their kits (`-`: without none);
//! the same with `--unlimited` gives single buses and compressed mixes that no limiter touched, with
//! `--on-drums` mixes of which the drum bus alone is limited, with `--uneven` songs in other hands; with
//! `--parts` parts of drawn sessions alone, with `--kits` their drums alone and their mixes, with
//! `--sessions` their mixes in other hands, with `--second` songs of the second generator;
//! `ceiling traces OUT.csv --written SONG,SONG` takes written ones as they are (`-`: all). Every song is
//! put through processors of known effect at several drives, some through faders, codecs and
//! other rates, and measured by the engine. One row is one hit.
//! `ceiling evidence TRACES.csv OUT.csv HITS` makes windows of at most so many hits of them, one row a
//! window. `ceiling bench` prints the table, on songs that no fit has seen, with `--drawn COUNT SEED` on
//! ones drawn from their sections and kits, with `--records FOLDER` on records of other people.

mod bench;
mod evidence;
mod traces;

use std::error::Error;
use std::process::ExitCode;

use bench::Songs;
use traces::sessions;

const USAGE: &str = "expected one of
  traces OUT.csv --drawn COUNT --seed S --without NAMES
  traces OUT.csv --unlimited COUNT --seed S --without NAMES
  traces OUT.csv --on-drums COUNT --seed S --without NAMES
  traces OUT.csv --uneven COUNT --seed S --without NAMES
  traces OUT.csv --parts COUNT --seed S
  traces OUT.csv --kits COUNT --seed S
  traces OUT.csv --sessions COUNT --seed S
  traces OUT.csv --second COUNT --seed S
  traces OUT.csv --written NAMES
  traces OUT.csv --records FOLDER --seed S
  evidence TRACES.csv OUT.csv HITS
  bench [--short | --drawn COUNT SEED | --records FOLDER] [--csv FILE]";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words[..] {
        [
            "traces",
            out,
            kind @ ("--drawn" | "--unlimited" | "--on-drums" | "--uneven"),
            count,
            "--seed",
            seed,
            "--without",
            without,
        ] => whole(count, seed).and_then(|(count, seed)| {
            let make = match kind {
                "--drawn" => traces::drawn,
                "--on-drums" => traces::on_drums,
                "--uneven" => traces::uneven,
                _ => traces::unlimited,
            };
            make(out, count, seed, without)
        }),
        [
            "traces",
            out,
            kind @ ("--parts" | "--kits" | "--sessions" | "--second"),
            count,
            "--seed",
            seed,
        ] => {
            let make = match kind {
                "--kits" => sessions::kits,
                "--sessions" => sessions::mixes,
                "--second" => sessions::second,
                _ => sessions::parts,
            };
            whole(count, seed).and_then(|(count, seed)| make(out, count, seed))
        }
        ["traces", out, "--records", folder, "--seed", seed] => {
            let seed = seed.parse().map_err(|_| format!("seed {seed}: expected a whole number"));
            seed.map_err(Into::into).and_then(|seed| traces::records(out, folder, seed))
        }
        ["evidence", traces, out, size] => match size.parse() {
            Ok(size @ 16..=64) => evidence::write(traces, out, size),
            _ => Err(format!("window {size}: expected 16 to 64 hits").into()),
        },
        ["bench", ref songs @ .., "--csv", path] => bench(songs, Some(path)),
        ["bench", ref songs @ ..] => bench(songs, None),
        ["traces", out, "--written", names] => traces::written(out, names),
        _ => Err(USAGE.into()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("ceiling: {error}");
            ExitCode::from(2)
        }
    }
}

/// How many, and from which seed.
fn whole(count: &str, seed: &str) -> Result<(u64, u64), Box<dyn Error>> {
    match (count.parse(), seed.parse()) {
        (Ok(count), Ok(seed)) => Ok((count, seed)),
        _ => Err(format!("count {count} and seed {seed}: expected whole numbers").into()),
    }
}

fn bench(songs: &[&str], csv: Option<&str>) -> Result<(), Box<dyn Error>> {
    let songs = match *songs {
        [] => Songs::Written,
        ["--short"] => Songs::Short,
        ["--drawn", count, seed] => {
            let (count, seed) = whole(count, seed)?;
            Songs::Drawn(count, seed)
        }
        ["--records", folder] => Songs::Records(folder.into()),
        _ => return Err(USAGE.into()),
    };
    bench::run(songs, csv)
}
