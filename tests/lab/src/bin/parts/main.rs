//! Writes the programmed sessions to a folder, and scores the part measurements on them.

mod evidence;
mod onsets;
mod roles;

use brunt_lab::corpus::CorpusError;
use brunt_lab::corpus::mix::Library;
use brunt_lab::session::roles::Set;
use brunt_lab::session::{Feel, Plan, Rendered, render, testing, tuning};
use rayon::prelude::*;
use std::path::Path;
use std::process::ExitCode;

const USAGE: &str = "\
usage: parts write DIR SET          a WAV a stem and its note times, a line each
       parts onsets SET [FILTER]    the picker against the programmed notes, one row a stem;
                                    with FILTER, part of a stem's name, every fault of it
       parts evidence FILE N SEED   rows for the fit, from N drawn sessions and the tuning set
       parts roles FILE SET N SEED  a line a stem of N drawn plans: what it is, and the evidence
                                    for its role
SET is tuning or testing.";

/// Rate of everything, Hz.
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
        ["write", dir, set] => {
            let Some(plans) = plans(set) else { return Ok(false) };
            write(Path::new(dir), &plans)?;
        }
        ["onsets", set] => {
            let Some(plans) = plans(set) else { return Ok(false) };
            onsets::print(&plans, None)?;
        }
        ["onsets", set, filter] => {
            let Some(plans) = plans(set) else { return Ok(false) };
            onsets::print(&plans, Some(filter))?;
        }
        ["evidence", file, count, seed] => {
            let (Ok(count), Ok(seed)) = (count.parse(), seed.parse()) else { return Ok(false) };
            evidence::write(Path::new(file), count, seed)?;
        }
        ["roles", file, set, count, seed] => {
            let (Ok(count), Ok(seed)) = (count.parse(), seed.parse()) else { return Ok(false) };
            let set = match set {
                "tuning" => Set::Tuning,
                "testing" => Set::Testing,
                _ => return Ok(false),
            };
            roles::write(Path::new(file), set, count, seed)?;
        }
        _ => return Ok(false),
    }
    Ok(true)
}

fn plans(set: &str) -> Option<Vec<Plan>> {
    let mut plans = match set {
        "tuning" => tuning::all(),
        "testing" => testing::all(),
        _ => return None,
    };
    // A little human: exact repetition at one phase of the cells would hide errors.
    for layer in plans.iter_mut().flat_map(|plan| &mut plan.layers) {
        layer.feel = Feel::of(0.0, 3.0);
    }
    Some(plans)
}

/// Renders plans, each on a thread of its own.
pub fn rendered(plans: &[Plan]) -> Result<Vec<Rendered>, CorpusError> {
    plans
        .par_iter()
        .map_init(Library::default, |library, plan| render(plan, RATE, library))
        .collect()
}

fn write(dir: &Path, plans: &[Plan]) -> Result<(), CorpusError> {
    for (plan, session) in plans.iter().zip(rendered(plans)?) {
        let dir = dir.join(plan.name);
        std::fs::create_dir_all(&dir).map_err(|e| CorpusError::file(&dir, e))?;
        for stem in &session.stems {
            stem.audio.write(&dir.join(format!("{}.wav", stem.name)))?;
            let lines: String = stem
                .notes
                .iter()
                .map(|note| format!("{:.6} {} {:.3}\n", note.time_s, note.step, note.velocity))
                .collect();
            let path = dir.join(format!("{}.txt", stem.name));
            std::fs::write(&path, lines).map_err(|e| CorpusError::file(&path, e))?;
        }
    }
    Ok(())
}
