//! Gain of closed form: a low E with the harmonics of a sawtooth, fading with a time constant of
//! 0.35 s, through tanh.

use brunt_engine::Config;
use brunt_engine::parts::drive::{Saturation, level_spread_db};
use brunt_engine::parts::{PartRole, PartTrack};
use std::f64::consts::TAU;

const RATE: f64 = 48_000.0;
/// Gains, dB.
const GAINS_DB: [f64; 6] = [0.0, 6.0, 12.0, 18.0, 24.0, 30.0];
/// Crest factor, dB, over 1 s. Computed once by hand from the closed form (the sheet of check
/// values), for this tone.
const CREST_DB: [f64; 6] = [11.5, 8.9, 5.8, 3.5, 1.9, 0.9];
/// Fall of level from 20 to 500 ms after the pick, dB. The same source.
const FALL_DB: [f64; 6] = [11.0, 9.1, 6.0, 3.1, 1.4, 0.6];

/// The tone's waveform at `turns` periods, its peak at 1.
fn wave(turns: f64) -> f64 {
    let sum: f64 = (1..=20).map(|k| (TAU * f64::from(k) * turns).sin() / f64::from(k)).sum();
    sum / 1.81
}

/// Notes of `length_s`, one after the other.
fn notes(count: usize, length_s: f64, gain_db: f64, level: f64) -> Vec<f32> {
    let gain = 10f64.powf(gain_db / 20.0);
    let frames = (length_s * RATE) as usize;
    (0..count * frames)
        .map(|n| {
            let s = (n % frames) as f64 / RATE;
            let x = (-s / 0.35).exp() * wave(82.407 * s);
            (level * (gain * x).tanh()) as f32
        })
        .collect()
}

fn track(samples: &[f32]) -> PartTrack {
    let config = Config { sample_rate_hz: RATE, channels: 1 };
    PartTrack::measure(PartRole::Guitars, "tone", config, &[samples]).expect("a fine rate")
}

#[test]
fn cells_hold_crest_and_fall_of_the_table() {
    for (n, gain_db) in GAINS_DB.into_iter().enumerate() {
        let track = track(&notes(1, 1.0, gain_db, 0.5));
        let power = |from: usize, to: usize| {
            let cells = &track.cells[from..to];
            let sum: f64 = cells.iter().map(|cell| f64::from(cell.bands.iter().sum::<f32>())).sum();
            sum / (to - from) as f64
        };
        let peak = track.cells.iter().fold(0.0f32, |peak, cell| peak.max(cell.peak));
        let crest = 20.0 * f64::from(peak).log10() - 10.0 * power(0, 1_000).log10();
        assert!((crest - CREST_DB[n]).abs() <= 0.4, "{gain_db} dB: crest {crest:.2} dB");
        // Around 20 and 500 ms, a period (12 ms) each.
        let fall = 10.0 * (power(14, 26) / power(494, 506)).log10();
        assert!((fall - FALL_DB[n]).abs() <= 0.4, "{gain_db} dB: fall {fall:.2} dB");
    }
}

#[test]
fn the_level_spread_falls_with_gain() {
    let tracks = GAINS_DB.map(|gain_db| track(&notes(12, 0.6, gain_db, 0.3)));
    let spreads = tracks.each_ref().map(|track| level_spread_db(track).expect("7 s of notes"));
    assert!(spreads.windows(2).all(|pair| pair[0] > pair[1]), "{spreads:?}");
}

/// Of the same tone, struck every 0.6 s and every 1 s: the more gain, the more attack is lost, at any
/// level. Without gain a note keeps what it has; at 30 dB of gain its fall to 500 ms is 0.6 of 11 dB,
/// by the table, so next to nothing of its attack is left.
#[test]
fn the_attack_lost_rises_with_gain_and_not_with_level() {
    for length_s in [0.6, 1.0] {
        let lost = GAINS_DB.map(|gain_db| {
            let level = if gain_db % 12.0 == 0.0 { 0.3 } else { 0.05 };
            let track = track(&notes((7.0 / length_s) as usize, length_s, gain_db, level));
            Saturation::read(&track).expect("7 s of notes").attack_lost().db
        });
        assert!(lost.windows(2).all(|pair| pair[0] < pair[1]), "{length_s} s: {lost:.2?}");
        assert!(lost[0] < 0.7, "{length_s} s, no gain: {lost:.2?}");
        assert!(lost[5] > 3.0, "{length_s} s, 30 dB of gain: {lost:.2?}");
    }
}
