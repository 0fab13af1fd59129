//! A guitar amplifier: gain into a soft ceiling, at four times the rate, and a closed cabinet.

use std::f64::consts::PI;

use super::db;
use super::filter::Biquad;

/// The amplifier's gain, dB over a barely broken-up sound, and its cabinet.
pub fn play(sound: &mut [f64], gain_db: f64) {
    // Bass is taken out ahead of the gain, or low chords turn to mud.
    Biquad::high_pass(140.0, 0.6).run(sound);
    Biquad::bell(900.0, 0.6, 5.0).run(sound);
    let gain = db(gain_db);
    oversampled(sound, |x| {
        // Slightly uneven, so that even harmonics appear too.
        let first = (gain * x + 0.12).tanh() - 0.12_f64.tanh();
        (1.3 * first).tanh()
    });
    cabinet(sound);
}

/// A closed cabinet of twelve-inch speakers: nothing under 80 Hz, little over 5 kHz.
fn cabinet(sound: &mut [f64]) {
    Biquad::high_pass(82.0, 0.9).run(sound);
    Biquad::bell(120.0, 1.0, 2.5).run(sound);
    Biquad::bell(420.0, 0.9, -2.5).run(sound);
    Biquad::bell(2500.0, 0.9, 4.5).run(sound);
    Biquad::low_pass(5200.0, 0.8).run(sound);
    Biquad::low_pass(5800.0, 0.6).run(sound);
}

/// Half the length of the interpolating filter, input samples.
const REACH: usize = 8;
/// How many times the rate.
const TIMES: usize = 4;

/// Runs a bent characteristic at four times the rate, so that what it adds above the band is
/// taken out again and not folded into it.
pub fn oversampled(sound: &mut [f64], bend: impl Fn(f64) -> f64) {
    let taps = 2 * REACH * TIMES + 1;
    let middle = (taps / 2) as f64;
    let filter: Vec<f64> = (0..taps)
        .map(|tap| {
            let x = (tap as f64 - middle) / TIMES as f64;
            let sinc = if x == 0.0 { 1.0 } else { (0.9 * PI * x).sin() / (0.9 * PI * x) };
            // Hann's window ends at zero one step beyond the last tap.
            let window = 0.5 + 0.5 * (PI * x / (REACH as f64 + 0.25)).cos();
            0.9 * sinc * window
        })
        .collect();
    let length = sound.len();
    let at = |index: isize| usize::try_from(index).ok().filter(|index| *index < length);
    let mut fast = vec![0.0; length * TIMES];
    for (place, out) in fast.iter_mut().enumerate() {
        let (whole, phase) = (place / TIMES, place % TIMES);
        let mut sum = 0.0;
        for back in 0..=2 * REACH {
            let tap = back * TIMES + phase;
            if tap < taps
                && let Some(index) = at(whole as isize + REACH as isize - back as isize)
            {
                sum += filter[tap] * sound[index];
            }
        }
        *out = bend(sum);
    }
    for (place, out) in sound.iter_mut().enumerate() {
        let mut sum = 0.0;
        for (tap, weight) in filter.iter().enumerate() {
            let index = (place * TIMES + tap) as isize - (REACH * TIMES) as isize;
            if let Ok(index) = usize::try_from(index)
                && index < fast.len()
            {
                sum += weight * fast[index];
            }
        }
        *out = sum / TIMES as f64;
    }
}
