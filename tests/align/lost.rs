//! Lost peaks and reductions measured against the mix before the limiter, and the truth.

use crate::rig::{Run, delayed, programmes, random_delay, run};
use brunt_engine::SideRole;
use brunt_lab::corpus::ceiling::{self, CeilingTruth};
use brunt_lab::corpus::process::{self, Processed, Processor, limit};
use brunt_lab::corpus::truth::true_peak;
use rayon::prelude::*;

struct Case {
    run: Run,
    truth: CeilingTruth,
    name: String,
}

/// The programme through a processor at a drive, main behind by a delay of its own, against the
/// mix without make-up gain.
fn case(index: usize, name: &str, processor: Processor, drive_db: f64) -> Case {
    let (mix, seed) = &programmes()[index];
    let both = process::run(processor, mix, drive_db).unwrap_or_else(|e| panic!("{e}"));
    let delay = random_delay(*seed).round();
    let main = delayed(&both.after, delay);
    let run = run(&main, &mix.audio, SideRole::Before, 512);
    // The truth is made on both sides as they left the processor: the hits' times go back by the
    // delay, and the truth ends where the delayed main ends.
    let lag_s = delay / f64::from(both.after.rate);
    let times: Vec<_> = run.hits.iter().map(|hit| (hit.time_s - lag_s, Vec::new())).collect();
    let end = mix.audio.seconds() - lag_s;
    let cut = |audio: &brunt_lab::corpus::Stereo| {
        let frames = (end * f64::from(audio.rate)) as usize;
        brunt_lab::corpus::Stereo {
            rate: audio.rate,
            left: audio.left[..frames].to_vec(),
            right: audio.right[..frames].to_vec(),
        }
    };
    let both = Processed { before: cut(&both.before), after: cut(&both.after), ..both };
    Case { run, truth: ceiling::at(&both, &times), name: format!("{index} {name} {drive_db} dB") }
}

fn quantile(values: &[f64], q: f64) -> f64 {
    ceiling::quantile(values.to_vec(), q)
}

/// Bar: per-hit lost peak within 0.1 dB (median), through limiters and clippers of ours and of
/// ffmpeg, 1 to 9 dB. A hit is given out with the loudness match as it is known by then; here, as for
/// files, the hits are settled to that of the whole programme.
#[test]
fn lost_peaks_are_measured_to_a_tenth_of_a_decibel() {
    let processors = [
        ("limit-fast", Processor::Limiter(limit::FAST)),
        ("limit-program", Processor::Limiter(limit::PROGRAM)),
        ("hard-clip", Processor::HardClip),
        ("alimiter-5-50", Processor::Alimiter { attack_ms: 5.0, release_ms: 50.0, asc: false }),
    ];
    let rows: Vec<_> = (0..20usize)
        .into_par_iter()
        .map(|k| {
            let (name, processor) = processors[k % 4];
            let drive_db = [1.0, 3.0, 6.0, 9.0][k / 4 % 4];
            let case = case(k, name, processor, drive_db);
            let compare = case.run.readings.compare.expect("compared");
            let difference = compare.loudness_difference_lu.expect("a passage");
            let mut lost = Vec::new();
            let mut reduction = Vec::new();
            for (hit, truth) in case.run.settled.iter().zip(&case.truth.hits) {
                let Some(got) = hit.lost_db.filter(|_| hit.before_peak_dbtp.is_some()) else {
                    continue;
                };
                lost.push((got - truth.lost_db).abs());
                if let Some(got) = hit.reduction_db {
                    reduction.push(got - truth.reduction_db);
                }
            }
            let gain = compare.gain_db.unwrap_or(f64::NAN);
            println!(
                "{:<26} {:>3} of {:>3} hits, lost {:.3}/{:.3}, reduction median {:+.3} ({:.2} for {:.2}), gain {gain:.2}, match {difference:.2} for {:.2}, drive {drive_db}",
                case.name,
                lost.len(),
                case.run.hits.len(),
                quantile(&lost, 0.5),
                quantile(&lost, 0.9),
                quantile(&reduction, 0.5),
                compare.reduction_db_median.unwrap_or(f64::NAN),
                case.truth.reduction_db(0.5),
                case.truth.loudness_change_lu + drive_db,
            );
            (lost, (gain - drive_db).abs(), case.name)
        })
        .collect();
    let all: Vec<f64> = rows.iter().flat_map(|(lost, ..)| lost.iter().copied()).collect();
    let median = quantile(&all, 0.5);
    println!("{} hits, lost peak off by {median:.4} dB (median)", all.len());
    assert!(all.len() > 500, "{} hits compared", all.len());
    assert!(median <= 0.1, "{median} dB");
    for (lost, _, name) in &rows {
        assert!(quantile(lost, 0.5) <= 0.2, "{name}: {}", quantile(lost, 0.5));
    }
    let gains: Vec<f64> = rows.iter().map(|row| row.1).collect();
    println!(
        "gain off by {:.3} (median), {:.3} at most",
        quantile(&gains, 0.5),
        quantile(&gains, 1.0)
    );
}

/// The oracle itself: the true peak of the truth is that of the windowed-sinc interpolator, which
/// reads a sampled sine between its samples (closed form).
#[test]
fn the_truths_peak_sees_between_samples() {
    let mut audio = brunt_lab::corpus::Stereo::silence(48_000, 4_800);
    for (n, x) in audio.left.iter_mut().enumerate() {
        let fade = (n.min(4_799 - n) as f64 / 480.0).min(1.0);
        *x = (fade * (std::f64::consts::FRAC_PI_2 * n as f64 + std::f64::consts::FRAC_PI_4).sin())
            as f32;
    }
    let peak = true_peak(&audio, 1_000, 3_000);
    assert!((peak - 1.0).abs() < 0.01, "{peak}");
}
