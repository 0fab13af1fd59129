//! The engine's hits against the truth, one row a file.

use crate::RATE;
use brunt_tests::corpus::ceiling::{merge, quantile};
use brunt_tests::corpus::measure::{Measured, measure};
use brunt_tests::corpus::mix::Library;
use brunt_tests::corpus::score::{Score, score, score_among};
use brunt_tests::corpus::truth::Truth;
use brunt_tests::corpus::{CorpusError, Stereo, kits, mix, oneshots, songs};

/// Prints all rows.
pub fn print_all() -> Result<(), CorpusError> {
    let mut library = Library::default();
    println!(
        "{:<28} {:>4} {:>4} {:>6} {:>6} {:>6}  error ms",
        "", "true", "hits", "F1", "prec", "recall"
    );
    for name in kits::NAMES {
        let row = oneshots::row(name, RATE, &mut library)?;
        let times: Vec<f64> = row.truth.iter().map(|t| t.time_s).collect();
        let result = score(&times, &run(&row.audio)?.times(), 0.010);
        line(&format!("one-shots {name} 10 ms"), &result);
    }
    for song in songs::ALL {
        let mix = mix::render(song, RATE, &mut library)?;
        let hits = run(&mix.buses["drums"])?.times();
        for tolerance in [0.002, 0.010] {
            let drums = mix.drum_truth();
            let times = merged(&drums, mix::audible);
            let result = score_among(&times, &merged(&drums, |_| true), &hits, tolerance);
            line(&format!("drums {} {} ms", song.name, tolerance * 1e3), &result);
        }
        let hits = run(&mix.audio)?.times();
        let wanted = merged(&mix.truth, |t| t.is_backbone());
        let any: Vec<f64> = mix.truth.iter().map(|t| t.time_s).collect();
        line(&format!("mix {} 10 ms", song.name), &score_among(&wanted, &any, &hits, 0.010));
    }
    Ok(())
}

fn run(audio: &Stereo) -> Result<Measured, CorpusError> {
    measure(audio).map_err(|e| CorpusError::Recipe(e.to_string()))
}

fn merged(truth: &[Truth], keep: impl Fn(&Truth) -> bool) -> Vec<f64> {
    merge(truth.iter().filter(|t| keep(t)), 0.015).iter().map(|g| g[0].time_s).collect()
}

fn line(name: &str, score: &Score) {
    let errors: Vec<f64> = score.pairs.iter().map(|p| p.2 * 1e3).collect();
    let sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    println!(
        "{name:<28} {:>4} {:>4} {:>6.3} {:>6.3} {:>6.3}  median {:+.2} |max| {:.2}",
        score.pairs.len() + score.missed.len(),
        score.pairs.len() + score.extra.len(),
        score.f1(),
        score.precision(),
        score.recall(),
        quantile(errors, 0.5),
        quantile(sizes, 1.0),
    );
}
