//! Writes the corpus to a folder, and scores the engine on it.

mod beats;
mod ceiling;
mod score;
mod stats;
mod write;

use brunt_lab::corpus::CorpusError;
use std::path::Path;
use std::process::ExitCode;

const USAGE: &str = "\
usage: corpus beats DIR                    one-shots, drum beats and mixes with their truth
       corpus ceiling DIR [SONG [PROC]]    songs through limiters, with the truth about each hit;
                                           SONG `unlimited`: what no limiter touched
       corpus score [FILTER]               the engine's hits against the truth, one row a file
       corpus onsets                       how far definitions of an onset lie apart";

/// Rate of everything written, Hz.
const RATE: u32 = 48_000;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match run(&args.iter().map(String::as_str).collect::<Vec<_>>()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            eprintln!("{USAGE}");
            ExitCode::from(2)
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

fn run(args: &[&str]) -> Result<bool, CorpusError> {
    match *args {
        ["beats", dir] => beats::write_all(Path::new(dir))?,
        ["ceiling", dir] => ceiling::write_all(Path::new(dir), None, None)?,
        ["ceiling", dir, song] => ceiling::write_all(Path::new(dir), Some(song), None)?,
        ["ceiling", dir, song, processor] => {
            ceiling::write_all(Path::new(dir), Some(song), Some(processor))?;
        }
        ["score"] => score::print_all(None)?,
        ["score", filter] => score::print_all(Some(filter))?,
        ["onsets"] => stats::print_all()?,
        _ => return Ok(false),
    }
    Ok(true)
}
