//! `ceiling`: the evidence of a ceiling beside the truth about it, for the fit and for the table.
//!
//! `ceiling traces OUT.csv --drawn COUNT --seed S --without SONG,SONG` draws songs from the material
//! of the written ones, but for some and their kits (`-`: without none);
//! the same with `--unlimited` gives single buses and compressed mixes that no limiter touched;
//! `ceiling traces OUT.csv --written SONG,SONG` takes written ones as they are (`-`: all). Every song is
//! put through processors of known effect at several drives, some through faders, codecs and
//! other rates, and measured by the engine. One row is one hit.
//! `ceiling evidence TRACES.csv OUT.csv HITS` makes windows of at most so many hits of them, one row a
//! window. `ceiling bench` prints the table, on songs that no fit has seen, with `--drawn COUNT SEED` on
//! ones drawn from their sections and kits.

mod bench;
mod evidence;
mod traces;

use std::process::ExitCode;

use bench::Songs;

const USAGE: &str = "expected one of
  traces OUT.csv --drawn COUNT --seed S --without NAMES
  traces OUT.csv --unlimited COUNT --seed S --without NAMES
  traces OUT.csv --written NAMES
  evidence TRACES.csv OUT.csv HITS
  bench [--short | --drawn COUNT SEED] [--csv FILE]";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words[..] {
        [
            "traces",
            out,
            kind @ ("--drawn" | "--unlimited"),
            count,
            "--seed",
            seed,
            "--without",
            without,
        ] => match (count.parse(), seed.parse()) {
            (Ok(count), Ok(seed)) if kind == "--drawn" => traces::drawn(out, count, seed, without),
            (Ok(count), Ok(seed)) => traces::unlimited(out, count, seed, without),
            _ => Err(format!("count {count} and seed {seed}: expected whole numbers").into()),
        },
        ["evidence", traces, out, size] => match size.parse() {
            Ok(size @ 16..=64) => evidence::write(traces, out, size),
            _ => Err(format!("window {size}: expected 16 to 64 hits").into()),
        },
        ["bench"] => bench::run(Songs::Written, None),
        ["bench", "--short"] => bench::run(Songs::Short, None),
        ["bench", "--csv", path] => bench::run(Songs::Written, Some(path)),
        ["bench", "--drawn", count, seed, ref rest @ ..] => {
            match (count.parse(), seed.parse(), rest) {
                (Ok(count), Ok(seed), []) => bench::run(Songs::Drawn(count, seed), None),
                (Ok(count), Ok(seed), ["--csv", path]) => {
                    bench::run(Songs::Drawn(count, seed), Some(path))
                }
                (Ok(_), Ok(_), _) => Err(USAGE.into()),
                _ => Err(format!("count {count} and seed {seed}: expected whole numbers").into()),
            }
        }
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
