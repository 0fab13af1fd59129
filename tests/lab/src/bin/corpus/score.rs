//! The engine's hits against the truth, one row a file; with a filter, also what went wrong.

use crate::RATE;
use brunt_lab::corpus::ceiling::{onsets, quantile};
use brunt_lab::corpus::measure::{Measured, measure};
use brunt_lab::corpus::mix::Library;
use brunt_lab::corpus::score::{Onset, Score, score, score_among};
use brunt_lab::corpus::truth::Truth;
use brunt_lab::corpus::{CorpusError, Stereo, kits, mix, oneshots, songs};

/// Events closer than this are one hit, s.
const GAP_S: f64 = 0.015;

/// Prints all rows whose name contains `filter`.
pub fn print_all(filter: Option<&str>) -> Result<(), CorpusError> {
    let mut library = Library::default();
    let wanted = |name: &str| filter.is_none_or(|f| name.contains(f));
    println!(
        "{:<36} {:>4} {:>4} {:>6} {:>6} {:>6}  error ms",
        "", "true", "hits", "F1", "prec", "recall"
    );
    for kit in kits::NAMES {
        let name = format!("one-shots {kit}");
        if !wanted(&name) {
            continue;
        }
        let row = oneshots::row(kit, RATE, &mut library)?;
        let times: Vec<Onset> = row.truth.iter().map(|t| Onset::at(t.time_s)).collect();
        let hits = run(&row.audio)?;
        let result = score(&times, &hits.times(), 0.010);
        line(&name, &result);
        if filter.is_some() {
            details(&times, &row.truth, &hits, &result);
        }
    }
    for song in songs::ALL {
        let names = ["drums", "mix"].map(|kind| format!("{kind} {}", song.name));
        if !names.iter().any(|n| wanted(n)) {
            continue;
        }
        let mix = mix::render(song, RATE, &mut library)?;
        if wanted(&names[0]) {
            let drums = mix.drum_truth();
            let any = onsets(drums.iter(), 0.0, false);
            let hits = run(&mix.buses["drums"])?;
            for (tolerance, strict) in [(0.002, true), (0.002, false), (0.010, false)] {
                let times = onsets(drums.iter().filter(|t| t.is_audible()), GAP_S, strict);
                let result = score_among(&times, &any, &hits.times(), tolerance);
                let kind = if strict { " strict" } else { "" };
                line(&format!("{} {} ms{kind}", names[0], tolerance * 1e3), &result);
                if filter.is_some() && tolerance < 0.005 && !strict {
                    details(&times, &drums, &hits, &result);
                }
            }
        }
        if wanted(&names[1]) {
            let hits = run(&mix.audio)?;
            let backbone = |t: &&Truth| t.is_backbone() && t.is_audible();
            let times = onsets(mix.truth.iter().filter(backbone), GAP_S, false);
            let any = onsets(mix.truth.iter(), 0.0, false);
            let result = score_among(&times, &any, &hits.times(), 0.010);
            line(&names[1], &result);
            if filter.is_some() {
                details(&times, &mix.truth, &hits, &result);
            }
        }
    }
    Ok(())
}

fn run(audio: &Stereo) -> Result<Measured, CorpusError> {
    measure(audio).map_err(|e| CorpusError::Recipe(e.to_string()))
}

fn line(name: &str, score: &Score) {
    let errors: Vec<f64> = score.pairs.iter().map(|p| p.2 * 1e3).collect();
    let sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    println!(
        "{name:<36} {:>4} {:>4} {:>6.3} {:>6.3} {:>6.3}  median {:+.2} |max| {:.2}",
        score.pairs.len() + score.missed.len(),
        score.pairs.len() + score.extra.len(),
        score.f1(),
        score.precision(),
        score.recall(),
        quantile(errors, 0.5),
        quantile(sizes, 1.0),
    );
}

/// Every miss with what plays there, every extra with how far the next event is, every pair more
/// than half a millisecond off.
fn details(times: &[Onset], truth: &[Truth], hits: &Measured, score: &Score) {
    let near = |time: f64| -> String {
        truth
            .iter()
            .filter(|t| (t.time_s - time).abs() < 0.016)
            .map(|t| {
                let rise = |db: Option<f64>| db.map_or("-".to_owned(), |db| format!("{db:.0}"));
                format!(
                    "{}@{:+.1}ms v{:.2} rise {} dB; ",
                    t.instrument.name(),
                    (t.time_s - time) * 1e3,
                    t.velocity,
                    rise(t.rise_db)
                )
            })
            .collect()
    };
    for &t in &score.missed {
        let other = hits.hits.iter().map(|h| (h.time_s - times[t].from_s) * 1e3);
        let other = other.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(f64::NAN);
        println!(
            "  miss  {:>8.4} nearest hit {other:+.1} ms: {}",
            times[t].from_s,
            near(times[t].from_s)
        );
    }
    for &d in &score.extra {
        let hit = &hits.hits[d];
        let last = truth.iter().rfind(|t| t.time_s <= hit.time_s + 0.002);
        let since = last.map_or_else(String::new, |t| {
            format!("{} {:.1} ms before", t.instrument.name(), (hit.time_s - t.time_s) * 1e3)
        });
        println!(
            "  extra {:>8.4} contrast {:.1} dB, peak {:.1} dBTP: {since}",
            hit.time_s, hit.contrast_db, hit.true_peak_dbtp
        );
    }
    for &(t, _, error) in score.pairs.iter().filter(|p| p.2.abs() > 0.5e-3) {
        println!(
            "  off   {:>8.4} by {:+.2} ms: {}",
            times[t].from_s,
            error * 1e3,
            near(times[t].from_s)
        );
    }
}
