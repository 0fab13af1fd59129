//! A simple guitar amplifier: the gain of a saturated guitar, nothing of a particular make.
//!
//! High-pass at 90 Hz, gain, soft clipping by tanh at four times the sample rate, then a cabinet:
//! low-pass at 4.5 kHz (second order) and a high-pass at 80 Hz.

use super::audio::db;
use super::resample;

/// Oversampling of the clipping stage: its harmonics fold back under -60 dB at 48 kHz.
const OVERSAMPLING: u32 = 4;

/// Offset of the clipping stage, share of its full scale.
const OFFSET: f32 = 0.15;

/// Distorts one channel in place. `gain_db` is applied to the input after its peak is brought to
/// 0 dBFS; the output peak is 0 dBFS again.
pub fn drive(samples: &mut Vec<f32>, rate: u32, gain_db: f64) {
    normalise(samples);
    let mut high = Biquad::high_pass(90.0, f64::from(rate));
    samples.iter_mut().for_each(|x| *x = high.run(*x));
    normalise(samples);
    let gain = db(gain_db);
    let mut over = resample::channel(samples, rate, rate * OVERSAMPLING);
    // The offset makes the curve uneven, so that even harmonics appear as in a real stage. Its
    // value at rest is taken off, or silence would start with a thump.
    over.iter_mut().for_each(|x| *x = (gain * *x + OFFSET).tanh() - OFFSET.tanh());
    let frames = samples.len();
    *samples = resample::channel(&over, rate * OVERSAMPLING, rate);
    samples.resize(frames, 0.0);
    let mut cabinet = [
        Biquad::high_pass(80.0, f64::from(rate)),
        Biquad::low_pass(4_500.0, f64::from(rate)),
        Biquad::low_pass(5_500.0, f64::from(rate)),
    ];
    for x in samples.iter_mut() {
        *x = cabinet.iter_mut().fold(*x, |x, stage| stage.run(x));
    }
    normalise(samples);
}

fn normalise(samples: &mut [f32]) {
    let peak = samples.iter().fold(0.0_f32, |p, x| p.max(x.abs()));
    if peak > 0.0 {
        samples.iter_mut().for_each(|x| *x /= peak);
    }
}

/// A second-order filter, transposed direct form 2.
#[derive(Clone, Copy, Debug)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    s: [f64; 2],
}

impl Biquad {
    /// Any coefficients: b0 b1 b2 and a1 a2.
    #[must_use]
    pub fn with(b: [f64; 3], a: [f64; 2]) -> Self {
        Self { b, a, s: [0.0; 2] }
    }

    /// Butterworth low-pass with its -3 dB point at `hz`.
    #[must_use]
    pub fn low_pass(hz: f64, rate: f64) -> Self {
        let (k, norm) = Self::prewarp(hz, rate);
        Self::new([k * k * norm, 2.0 * k * k * norm, k * k * norm], k, norm)
    }

    /// Butterworth high-pass with its -3 dB point at `hz`.
    #[must_use]
    pub fn high_pass(hz: f64, rate: f64) -> Self {
        let (k, norm) = Self::prewarp(hz, rate);
        Self::new([norm, -2.0 * norm, norm], k, norm)
    }

    /// One sample.
    pub fn run(&mut self, x: f32) -> f32 {
        let x = f64::from(x);
        let y = self.b[0] * x + self.s[0];
        self.s[0] = self.b[1] * x - self.a[0] * y + self.s[1];
        self.s[1] = self.b[2] * x - self.a[1] * y;
        y as f32
    }

    fn prewarp(hz: f64, rate: f64) -> (f64, f64) {
        let k = (std::f64::consts::PI * hz / rate).tan();
        (k, 1.0 / (1.0 + std::f64::consts::SQRT_2 * k + k * k))
    }

    fn new(b: [f64; 3], k: f64, norm: f64) -> Self {
        let a = [2.0 * (k * k - 1.0) * norm, (1.0 - std::f64::consts::SQRT_2 * k + k * k) * norm];
        Self { b, a, s: [0.0; 2] }
    }
}
