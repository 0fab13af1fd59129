//! A compressor with a slow attack: hits come through whole, what follows is turned down. It
//! lowers levels and is no limiter.

use crate::corpus::Stereo;

/// Settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compressor {
    /// Threshold below the mix's peak, dB.
    pub below_peak_db: f64,
    /// Ratio.
    pub ratio: f64,
    /// Attack time constant, ms.
    pub attack_ms: f64,
    /// Release time constant, ms.
    pub release_ms: f64,
}

/// A bus compressor's usual range (common practice, no source).
pub const BUS: Compressor =
    Compressor { below_peak_db: 16.0, ratio: 4.0, attack_ms: 30.0, release_ms: 150.0 };

impl Compressor {
    /// Compresses `input`; left and right share one gain.
    #[must_use]
    pub fn run(&self, input: &Stereo) -> Stereo {
        let rate = f64::from(input.rate);
        let keep = |ms: f64| (-1.0 / (ms * 1e-3 * rate)).exp();
        let (attack, release) = (keep(self.attack_ms), keep(self.release_ms));
        let threshold = f64::from(input.peak()) * 10_f64.powf(-self.below_peak_db / 20.0);
        let mut reduction = 0.0_f64;
        let mut out = input.clone();
        for n in 0..out.len() {
            let over =
                (20.0 * (f64::from(input.magnitude(n)) / threshold).max(1e-9).log10()).max(0.0);
            let want = over * (1.0 - 1.0 / self.ratio);
            let keep = if want > reduction { attack } else { release };
            reduction = want + keep * (reduction - want);
            let gain = 10_f64.powf(-reduction / 20.0) as f32;
            out.left[n] *= gain;
            out.right[n] *= gain;
        }
        out
    }
}
