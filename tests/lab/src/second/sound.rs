//! What songs of the second kind sound like.

use super::score::{Song, Stroke};
use crate::corpus::Stereo;
use crate::corpus::amp::Biquad;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::f64::consts::TAU;

/// Adds a plucked string, or a power chord of three: stiff partials, each with its decay, a pick's
/// click ahead, and a stop of 8 ms.
pub fn pluck(out: &mut [f32], rate: u32, stroke: &Stroke, bass: bool, seed: u64) {
    let rate = f64::from(rate);
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ stroke.at_s.to_bits());
    let start = (stroke.at_s * rate) as usize;
    let frames = ((stroke.held_s + 0.008) * rate) as usize;
    let strings: &[i32] = if bass || stroke.muted { &[0] } else { &[0, 7, 12] };
    let decay_s = if stroke.muted { 0.07 } else { 1.1 };
    for (string, above) in strings.iter().enumerate() {
        let hz = 440.0 * (f64::from(stroke.key + above - 69) / 12.0).exp2();
        let late = (string as f64 * 0.0025 * rate) as usize;
        let most = if bass { 12 } else { 20 };
        for partial in (1..=most).take_while(|&k| hz * f64::from(k) < 0.42 * rate) {
            let k = f64::from(partial);
            let stiff = hz * k * (1.0 + 1.2e-4 * k * k).sqrt();
            // Plucked at a fifth of the string: every fifth partial is missing.
            let level = stroke.hard * (TAU * k / 10.0).sin().abs() / k.powf(1.15);
            let fall = (-1.0 / (decay_s / (1.0 + 0.18 * k) * rate)).exp();
            let turn = TAU * stiff / rate;
            // A rotating vector: one product a sample.
            // No two players, and no two notes, start in one phase.
            let phase = random.random_range(0.0..TAU);
            let (mut re, mut im) = (level * 0.35 * phase.cos(), level * 0.35 * phase.sin());
            let (cos, sin) = (turn.cos() * fall, turn.sin() * fall);
            for n in 0..frames {
                (re, im) = (re * cos - im * sin, re * sin + im * cos);
                let stop = ((frames - n) as f64 / (0.008 * rate)).min(1.0);
                if let Some(out) = out.get_mut(start + late + n) {
                    *out += (re * stop) as f32;
                }
            }
        }
    }
    for n in 0..(0.003 * rate) as usize {
        if let Some(out) = out.get_mut(start + n) {
            *out += 0.05 * random.random_range(-1.0..1.0f32) * stroke.hard as f32;
        }
    }
}

/// Two stages with a hard knee, uneven, with a coupling capacitor between; then a cabinet. Four times
/// the rate by straight lines is enough for what is measured here.
#[must_use]
pub fn amplified(dry: &[f32], rate: u32, gain_db: f64) -> Vec<f32> {
    let peak = dry.iter().fold(1e-6f32, |peak, x| peak.max(x.abs()));
    let gain = 10f64.powf(gain_db / 40.0) as f32;
    let fast = f64::from(rate) * 4.0;
    let mut tight = Biquad::high_pass(140.0, fast);
    let mut coupled = Biquad::high_pass(60.0, fast);
    let mut cabinet = [
        Biquad::low_pass(3_800.0, fast),
        Biquad::low_pass(6_200.0, fast),
        Biquad::high_pass(95.0, fast),
    ];
    let knee = |x: f32, low: f32, high: f32| {
        let over =
            |x: f32, top: f32| if x > top { top + (x - top) / (1.0 + 9.0 * (x - top)) } else { x };
        if x >= 0.0 { over(x, high) } else { -over(-x, low) }
    };
    let mut last = 0.0;
    dry.iter()
        .map(|&x| {
            let x = x / peak;
            let mut out = 0.0;
            for n in 1..=4 {
                let between = last + (x - last) * n as f32 / 4.0;
                let first = knee(tight.run(between) * gain * 2.0, 0.5, 0.7);
                let second = knee(coupled.run(first) * gain, 0.6, 0.45);
                out = cabinet.iter_mut().fold(second, |y, stage| stage.run(y));
            }
            last = x;
            out
        })
        .collect()
}

/// A layer that holds: drawbars with a slow tremble, and a choir of noise around the same chord, a
/// chord a bar with a swell of 60 ms.
#[must_use]
pub fn layer(song: &Song, rate: u32, frames: usize, seed: u64) -> Vec<f32> {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x1a7e);
    let mut out = vec![0.0f32; frames];
    let rate_hz = f64::from(rate);
    let mut choir = [Biquad::low_pass(1_400.0, rate_hz), Biquad::high_pass(350.0, rate_hz)];
    for bar in 0..song.bars() {
        let (from, to) = (song.at_s(bar * 16), song.at_s((bar + 1) * 16));
        let (from, to) = ((from * rate_hz) as usize, ((to * rate_hz) as usize).min(frames));
        let root = song.key(bar) + 24;
        for (above, level) in [(0, 1.0), (7, 0.7), (12, 0.6), (16, 0.5)] {
            let hz = 440.0 * (f64::from(root + above - 69) / 12.0).exp2();
            for (drawbar, share) in [(1.0, 1.0), (2.0, 0.6), (3.0, 0.4), (4.0, 0.25)] {
                for n in from..to {
                    let s = (n - from) as f64 / rate_hz;
                    let swell =
                        (s / 0.06).min(1.0) * (((to - n) as f64) / (0.04 * rate_hz)).min(1.0);
                    let tremble = 1.0 + 0.15 * (TAU * 5.6 * n as f64 / rate_hz).sin();
                    let x = level * share * swell * tremble * (TAU * hz * drawbar * s).sin();
                    out[n] += 0.1 * x as f32;
                }
            }
        }
        for x in &mut out[from..to.max(from)] {
            let noise = random.random_range(-1.0..1.0f32);
            *x += 0.15 * choir.iter_mut().fold(noise, |y, stage| stage.run(y));
        }
    }
    out
}

/// A room of eight delays that feed back, no two sides alike.
#[must_use]
pub fn room(dry: &Stereo, seed: u64) -> Stereo {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x2003);
    let mut wet = Stereo::silence(dry.rate, dry.len());
    for (input, out) in [(&dry.left, &mut wet.left), (&dry.right, &mut wet.right)] {
        for _ in 0..4 {
            let delay = random.random_range(700..2_300usize);
            let mut line = vec![0.0f32; delay];
            let mut dull = 0.0;
            for (n, (x, out)) in input.iter().zip(out.iter_mut()).enumerate() {
                let back = line[n % delay];
                dull += 0.4 * (back - dull);
                line[n % delay] = x + 0.72 * dull;
                *out += 0.5 * back;
            }
        }
    }
    wet
}
