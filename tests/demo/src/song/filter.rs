//! Second-order filters. Formulas: R. Bristow-Johnson, "Cookbook formulae for audio EQ biquad
//! filter coefficients".

use std::f64::consts::PI;

use super::SAMPLE_RATE_HZ;

/// One filter with its memory; transposed direct form II.
#[derive(Clone, Copy, Debug)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    z: [f64; 2],
}

impl Biquad {
    fn new(b: [f64; 3], a: [f64; 3]) -> Self {
        Self { b: b.map(|b| b / a[0]), a: [a[1] / a[0], a[2] / a[0]], z: [0.0; 2] }
    }

    /// Low-pass at `hz` with quality `q`.
    pub fn low_pass(hz: f64, q: f64) -> Self {
        let (cos, alpha) = angle(hz, q);
        let b = (1.0 - cos) / 2.0;
        Self::new([b, 2.0 * b, b], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// High-pass at `hz` with quality `q`.
    pub fn high_pass(hz: f64, q: f64) -> Self {
        let (cos, alpha) = angle(hz, q);
        let b = (1.0 + cos) / 2.0;
        Self::new([b, -2.0 * b, b], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// Band-pass at `hz` with quality `q`, 0 dB at its peak.
    pub fn band_pass(hz: f64, q: f64) -> Self {
        let (cos, alpha) = angle(hz, q);
        Self::new([alpha, 0.0, -alpha], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// Bell at `hz` with quality `q` and a gain in dB.
    pub fn bell(hz: f64, q: f64, gain_db: f64) -> Self {
        let (cos, alpha) = angle(hz, q);
        let a = 10_f64.powf(gain_db / 40.0);
        Self::new(
            [1.0 + alpha * a, -2.0 * cos, 1.0 - alpha * a],
            [1.0 + alpha / a, -2.0 * cos, 1.0 - alpha / a],
        )
    }

    /// Low shelf: `gain_db` well below `hz`, half of it at `hz`.
    pub fn low_shelf(hz: f64, gain_db: f64) -> Self {
        let (cos, alpha) = angle(hz, std::f64::consts::FRAC_1_SQRT_2);
        let a = 10_f64.powf(gain_db / 40.0);
        let root = 2.0 * a.sqrt() * alpha;
        Self::new(
            [
                a * ((a + 1.0) - (a - 1.0) * cos + root),
                2.0 * a * ((a - 1.0) - (a + 1.0) * cos),
                a * ((a + 1.0) - (a - 1.0) * cos - root),
            ],
            [
                (a + 1.0) + (a - 1.0) * cos + root,
                -2.0 * ((a - 1.0) + (a + 1.0) * cos),
                (a + 1.0) + (a - 1.0) * cos - root,
            ],
        )
    }

    /// High shelf: `gain_db` well above `hz`, half of it at `hz`.
    pub fn high_shelf(hz: f64, gain_db: f64) -> Self {
        let (cos, alpha) = angle(hz, std::f64::consts::FRAC_1_SQRT_2);
        let a = 10_f64.powf(gain_db / 40.0);
        let root = 2.0 * a.sqrt() * alpha;
        Self::new(
            [
                a * ((a + 1.0) + (a - 1.0) * cos + root),
                -2.0 * a * ((a - 1.0) + (a + 1.0) * cos),
                a * ((a + 1.0) + (a - 1.0) * cos - root),
            ],
            [
                (a + 1.0) - (a - 1.0) * cos + root,
                2.0 * ((a - 1.0) - (a + 1.0) * cos),
                (a + 1.0) - (a - 1.0) * cos - root,
            ],
        )
    }

    /// One sample through.
    pub fn next(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.z[0];
        self.z[0] = self.b[1] * x - self.a[0] * y + self.z[1];
        self.z[1] = self.b[2] * x - self.a[1] * y;
        y
    }

    /// A whole sound through, in place.
    pub fn run(mut self, sound: &mut [f64]) {
        for sample in sound {
            *sample = self.next(*sample);
        }
    }

    /// A whole sound of single precision through, in place.
    pub fn run_f32(mut self, sound: &mut [f32]) {
        for sample in sound {
            *sample = self.next(f64::from(*sample)) as f32;
        }
    }
}

/// Cosine of the corner's angle and half its bandwidth, for a corner kept below the band's edge.
fn angle(hz: f64, q: f64) -> (f64, f64) {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let w = 2.0 * PI * hz.clamp(1.0, 0.49 * rate) / rate;
    (w.cos(), w.sin() / (2.0 * q))
}
