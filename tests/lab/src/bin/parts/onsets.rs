//! The picker against the programmed notes.

use super::rendered;
use brunt_engine::Config;
use brunt_engine::parts::{PartOnset, PartTrack};
use brunt_lab::corpus::CorpusError;
use brunt_lab::corpus::score::{Onset, Score, score};
use brunt_lab::session::plan::Sound;
use brunt_lab::session::{Layer, Plan, Stem};
use std::collections::BTreeMap;

/// Notes closer than this are one stroke, s.
const GAP_S: f64 = 0.015;
/// Tolerance of a match, s.
const TOLERANCE_S: f64 = 0.010;

/// Prints a row a stem and one a kind of stem.
pub fn print(plans: &[Plan], filter: Option<&str>) -> Result<(), CorpusError> {
    let mut kinds: BTreeMap<&str, Score> = BTreeMap::new();
    for (plan, session) in plans.iter().zip(rendered(plans)?) {
        for (layer, stem) in plan.layers.iter().zip(&session.stems) {
            let (result, onsets) = score_stem(stem);
            let label = format!("{} {}", plan.name, stem.name);
            println!("{}", row(&label, &result));
            if filter.is_some_and(|filter| label.contains(filter)) {
                faults(&result, stem, &onsets);
            }
            kinds.entry(kind(layer)).or_default().join(result);
        }
    }
    println!();
    for (kind, score) in kinds {
        println!("{}", row(kind, &score));
    }
    Ok(())
}

/// What the bars are stated for.
fn kind(layer: &Layer) -> &'static str {
    match (&layer.sound, layer.amp_db, layer.role.code()) {
        (Sound::Kit(..), ..) => "drums",
        (_, Some(_), _) => "distorted",
        (_, None, "guitars") => "clean",
        (.., code) => code,
    }
}

/// The same as a number, for the rows of the fit.
pub fn kind_number(layer: &Layer) -> f32 {
    let kinds = ["drums", "bass", "clean", "distorted", "vocals", "other"];
    kinds.iter().position(|name| *name == kind(layer)).unwrap_or(kinds.len()) as f32
}

fn score_stem(stem: &Stem) -> (Score, Vec<PartOnset>) {
    let config = Config { sample_rate_hz: f64::from(stem.audio.rate), channels: 2 };
    let track =
        PartTrack::measure(stem.role, stem.name, config, &stem.audio.channels()).expect("a rate");
    let times: Vec<f64> = track.onsets.iter().map(|onset| onset.time_s).collect();
    let truth: Vec<Onset> = stem.times_s(GAP_S).into_iter().map(Onset::at).collect();
    (score(&truth, &times, TOLERANCE_S), track.onsets)
}

fn row(name: &str, score: &Score) -> String {
    let mut errors: Vec<f64> = score.pairs.iter().map(|(_, _, error)| error * 1e3).collect();
    errors.sort_by(f64::total_cmp);
    let at = |q: f64| errors.get((q * errors.len() as f64) as usize).copied().unwrap_or(f64::NAN);
    let mean = errors.iter().sum::<f64>() / errors.len().max(1) as f64;
    let sd = (errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / errors.len().max(1) as f64)
        .sqrt();
    format!(
        "{name:<28} F1 {:.3} P {:.3} R {:.3} n {:>4}  error ms: median {:>5.2} p10 {:>5.2} p90 {:>5.2} sd {:.2}",
        score.f1(),
        score.precision(),
        score.recall(),
        errors.len(),
        at(0.5),
        at(0.1),
        at(0.9),
        sd
    )
}

fn faults(score: &Score, stem: &Stem, onsets: &[PartOnset]) {
    let truth = stem.times_s(GAP_S);
    for &missed in &score.missed {
        println!("    missed {:.4} s", truth[missed]);
    }
    for &extra in &score.extra {
        let PartOnset { time_s, strength, .. } = onsets[extra];
        let nearest = truth.iter().map(|t| time_s - t).min_by(|a, b| a.abs().total_cmp(&b.abs()));
        println!(
            "    extra  {time_s:.4} s, {:+.1} ms from a note, log odds {strength:.1}",
            nearest.unwrap_or(0.0) * 1e3
        );
    }
    let mut odds: Vec<f32> = score.pairs.iter().map(|&(_, n, _)| onsets[n].strength).collect();
    odds.sort_by(f32::total_cmp);
    if let (Some(least), Some(middle)) = (odds.get(odds.len() / 20), odds.get(odds.len() / 2)) {
        println!(
            "    found with log odds of {middle:.1} in the median, one in 20 under {least:.1}"
        );
    }
    for &(t, _, error) in score.pairs.iter().filter(|(_, _, error)| error.abs() > 0.003) {
        println!("    off    {:.4} s by {:+.1} ms", truth[t], error * 1e3);
    }
}
