//! Cymbals: many inharmonic modes that ring and fade, high ones first, and noise.

use std::f64::consts::TAU;

use super::feel::Feel;
use super::filter::Biquad;
use super::{SAMPLE_RATE_HZ, frames};

/// Two small cymbals against each other: `decay_s` short when closed.
pub fn hat(decay_s: f64, feel: &mut Feel) -> Vec<f64> {
    let mut sound = metal(
        feel,
        &Metal { modes: 28, low_hz: 4200.0, high_hz: 15_000.0, decay_s, bright: 0.9, noise: 1.0 },
        (decay_s * 7.0).min(1.2),
    );
    Biquad::high_pass(6000.0, 0.7).run(&mut sound);
    sound
}

/// The ride's tip: a ping over a quiet wash.
pub fn ride(feel: &mut Feel) -> Vec<f64> {
    let mut sound = metal(
        feel,
        &Metal {
            modes: 36,
            low_hz: 2400.0,
            high_hz: 13_000.0,
            decay_s: 0.16,
            bright: 0.7,
            noise: 0.5,
        },
        0.8,
    );
    Biquad::high_pass(3600.0, 0.7).run(&mut sound);
    sound
}

/// The crash: everything at once, for two seconds.
pub fn crash(feel: &mut Feel) -> Vec<f64> {
    let mut sound = metal(
        feel,
        &Metal {
            modes: 64,
            low_hz: 500.0,
            high_hz: 14_000.0,
            decay_s: 0.62,
            bright: 0.7,
            noise: 0.8,
        },
        2.4,
    );
    Biquad::high_pass(900.0, 0.6).run(&mut sound);
    Biquad::bell(5500.0, 0.6, 2.0).run(&mut sound);
    sound
}

struct Metal {
    modes: usize,
    low_hz: f64,
    high_hz: f64,
    /// Time for the middle modes to fall to 1/e, s.
    decay_s: f64,
    /// How much sooner the high modes fade: 0 not at all.
    bright: f64,
    /// Level of the noise against the modes.
    noise: f64,
}

fn metal(feel: &mut Feel, metal: &Metal, length_s: f64) -> Vec<f64> {
    let length = frames(length_s);
    let rate = f64::from(SAMPLE_RATE_HZ);
    let mut sound = vec![0.0; length];
    let span = metal.high_hz / metal.low_hz;
    let level = (1.0 / metal.modes as f64).sqrt();
    for mode in 0..metal.modes {
        let place = (mode as f64 + 0.5 + 0.45 * feel.noise()) / metal.modes as f64;
        let step = TAU * metal.low_hz * span.powf(place) / rate;
        let decay =
            metal.decay_s * (1.0 - metal.bright * (place - 0.5)) * (1.0 + 0.3 * feel.noise());
        let fade = (-1.0 / (decay * rate)).exp();
        // A rotating phasor: a sine and its decay for two products a sample.
        let phase = TAU * feel.noise();
        let (mut re, mut im) = (phase.cos() * level, phase.sin() * level);
        let (cos, sin) = (step.cos() * fade, step.sin() * fade);
        for sample in &mut sound {
            *sample += im;
            (re, im) = (re * cos - im * sin, re * sin + im * cos);
        }
    }
    for (frame, sample) in sound.iter_mut().enumerate() {
        let t = frame as f64 / rate;
        let hiss = feel.noise() * metal.noise * (-t / (0.55 * metal.decay_s)).exp();
        // The stick's contact takes half a millisecond.
        *sample = (*sample + 0.7 * hiss) * (1.0 - (-t / 0.0005).exp());
    }
    let tail = frames(0.02).min(length);
    for index in 0..tail {
        sound[length - 1 - index] *= index as f64 / tail as f64;
    }
    sound
}
