//! A look-ahead limiter, plain and standard: the least gain that the next milliseconds need, let
//! go slowly, smoothed over the look-ahead.

use std::collections::VecDeque;

use super::stereo::Stereo;
use super::{SAMPLE_RATE_HZ, db, frames};

/// How far the mix is turned up into the limiter, dB.
const DRIVE_DB: f64 = 7.0;
/// Largest sample that it lets through, dBFS.
const CEILING_DBFS: f64 = -1.0;
/// How far it looks ahead, s.
const LOOK_AHEAD_S: f64 = 0.0015;
/// Time in which its gain comes back by two thirds, s.
const RELEASE_S: f64 = 0.060;

/// What the limiter gives.
pub struct Limited {
    /// The limited sound, in time with what went in.
    pub audio: Stereo,
    /// Its gain at every frame, dB, make-up not counted.
    pub gain_db: Vec<f32>,
}

/// Limits both channels by one gain.
pub fn limit(mix: &Stereo) -> Limited {
    let ceiling = db(CEILING_DBFS);
    let drive = db(DRIVE_DB);
    let ahead = frames(LOOK_AHEAD_S);
    let keep = (-1.0 / (RELEASE_S * f64::from(SAMPLE_RATE_HZ))).exp();
    let needed: Vec<f64> = (0..mix.len())
        .map(|frame| {
            let peak = f64::from(mix.left[frame].abs().max(mix.right[frame].abs())) * drive;
            if peak > ceiling { ceiling / peak } else { 1.0 }
        })
        .collect();

    let mut audio = mix.clone();
    let mut gain_db = vec![0.0; mix.len()];
    // Frames whose need is the least from themselves to the window's end, in order.
    let mut least: VecDeque<usize> = VecDeque::new();
    let mut held = 1.0_f64;
    let mut window: VecDeque<f64> = vec![1.0; ahead + 1].into();
    let mut sum = (ahead + 1) as f64;
    for step in 0..mix.len() + ahead {
        if step < mix.len() {
            while least.back().is_some_and(|last| needed[*last] >= needed[step]) {
                least.pop_back();
            }
            least.push_back(step);
        }
        // The frame that leaves now was seen `ahead` frames ago; its need stays in the window.
        while least.front().is_some_and(|first| first + ahead < step) {
            least.pop_front();
        }
        let need = least.front().map_or(1.0, |first| needed[*first]);
        held = need.min(1.0 - (1.0 - held) * keep);
        sum += held - window.pop_front().unwrap_or(1.0);
        window.push_back(held);
        if step >= ahead {
            let frame = step - ahead;
            // The mean over the look-ahead reaches the need exactly when the peak leaves; the
            // running sum's rounding error must not lift it over the ceiling.
            let gain = (sum / (ahead + 1) as f64).min(needed[frame]);
            for sample in [&mut audio.left[frame], &mut audio.right[frame]] {
                *sample = (f64::from(*sample) * drive * gain) as f32;
            }
            gain_db[frame] = (20.0 * gain.log10()) as f32;
        }
    }
    Limited { audio, gain_db }
}
