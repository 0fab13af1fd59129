//! Plucked strings after Karplus and Strong (Computer Music Journal 7(2), 1983), with the place
//! of the pick, palm muting and the pick's own noise. The first sample of a note is its onset.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::f64::consts::PI;

/// An instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Voice {
    /// Time in which an open string fades by 60 dB, s.
    pub decay_s: f64,
    /// Loss of the treble on each round, 0 (none) to 1.
    pub dull: f64,
    /// Corner of the pick's sharpness, Hz: a finger is low, a hard pick high.
    pub pick_hz: f64,
    /// Place of the pick as a share of the string.
    pub place: f64,
    /// Level of the pick's scrape over the string's first swing, linear.
    pub scrape: f64,
    /// Time between the strings of a strum, s.
    pub strum_s: f64,
}

impl Voice {
    /// An electric guitar with a hard pick.
    pub const PICKED: Self = Self {
        decay_s: 4.0,
        dull: 0.25,
        pick_hz: 6_000.0,
        place: 0.12,
        scrape: 0.25,
        strum_s: 0.002,
    };
    /// A mellow electric guitar played with a soft pick.
    pub const SOFT: Self = Self {
        decay_s: 3.0,
        dull: 0.45,
        pick_hz: 2_500.0,
        place: 0.2,
        scrape: 0.08,
        strum_s: 0.004,
    };
    /// A bass played with the fingers.
    pub const FINGER_BASS: Self =
        Self { decay_s: 3.0, dull: 0.6, pick_hz: 700.0, place: 0.25, scrape: 0.02, strum_s: 0.0 };
    /// A bass played with a pick.
    pub const PICK_BASS: Self =
        Self { decay_s: 3.0, dull: 0.4, pick_hz: 2_500.0, place: 0.15, scrape: 0.1, strum_s: 0.0 };
}

/// One string, plucked at the first sample, `frames` long. `muted`: the palm lies on the string.
#[must_use]
pub fn pluck(
    voice: &Voice,
    hz: f64,
    muted: bool,
    frames: usize,
    rate: f64,
    random: &mut Pcg64Mcg,
) -> Vec<f32> {
    let (decay_s, dull) =
        if muted { (0.28, (voice.dull + 0.45).min(0.95)) } else { (voice.decay_s, voice.dull) };
    let lag = 0.5 * dull;
    let period = rate / hz - lag;
    let whole = period.floor() as usize;
    let part = period - whole as f64;
    let mut line = excite(whole.max(2) + 1, voice, muted, rate, random);
    let loss = 10f64.powf(-3.0 / (decay_s * hz));
    let (mut at, mut last) = (0, 0.0);
    let mut sound: Vec<f32> = (0..frames)
        .map(|_| {
            let next = (at + 1) % line.len();
            let read = line[next] * (1.0 - part) + line[at] * part;
            line[at] = ((1.0 - lag) * read + lag * last) * loss;
            last = read;
            at = next;
            read as f32
        })
        .collect();
    // The pick scrapes over the winding as it lets go: noise of 6 ms.
    let scrape = if muted { 0.6 * voice.scrape } else { voice.scrape };
    let fade = 0.002 * rate;
    let mut smooth = 0.0;
    for (n, x) in sound.iter_mut().take((0.012 * rate) as usize).enumerate() {
        let noise = random.random_range(-1.0..1.0);
        smooth += 0.5 * (noise - smooth);
        *x += (scrape * (noise - smooth) * (-(n as f64) / fade).exp()) as f32;
    }
    sound
}

/// The velocity wave of a plucked string, two opposite steps, roughened and rounded by the pick.
fn excite(length: usize, voice: &Voice, muted: bool, rate: f64, random: &mut Pcg64Mcg) -> Vec<f64> {
    let kink = ((length as f64 * voice.place) as usize).clamp(1, length - 1);
    let mut wave: Vec<f64> = (0..length)
        .map(|n| {
            let step = if n < kink { 1.0 } else { -(kink as f64) / (length - kink) as f64 };
            step + 0.3 * random.random_range(-1.0..1.0)
        })
        .collect();
    let hz = if muted { 0.6 * voice.pick_hz } else { voice.pick_hz };
    let pole = (-2.0 * PI * hz / rate).exp();
    // Twice round, so that the filter's start does not show.
    let mut state = 0.0;
    for _ in 0..2 {
        for x in &wave {
            state = (1.0 - pole) * x + pole * state;
        }
    }
    for x in &mut wave {
        state = (1.0 - pole) * *x + pole * state;
        *x = state;
    }
    let mean = wave.iter().sum::<f64>() / length as f64;
    wave.iter_mut().for_each(|x| *x -= mean);
    wave
}

/// A random source of a note's own.
#[must_use]
pub fn random(seed: u64) -> Pcg64Mcg {
    Pcg64Mcg::seed_from_u64(seed)
}

/// Pitch of a MIDI key, Hz.
#[must_use]
pub fn hz(key: i32) -> f64 {
    440.0 * (f64::from(key - 69) / 12.0).exp2()
}
