//! Brings a mix near the tonal balance of commercial music, as a mix engineer would.
//!
//! Two shelves, one under and one over the mids, take [`SHARE`] of the distance between the mix
//! and the published long-term curve (Elowsson & Friberg 2017):
//! `-2.35 u - 0.659 u^2` dB, `u = log2(f / 200 Hz)`, power density.

use super::Stereo;
use super::process::equal;

/// Share of the distance that is taken: songs keep a character of their own.
const SHARE: f64 = 0.7;
/// Most that a shelf may do, dB.
const MOST_DB: f64 = 9.0;
/// The three ranges that are compared, Hz.
const RANGES_HZ: [(f64, f64); 3] = [(40.0, 120.0), (350.0, 1_400.0), (8_000.0, 16_000.0)];
/// Midpoints of the shelves, Hz: between the ranges.
const SHELVES_HZ: (f64, f64) = (170.0, 3_500.0);

/// The two shelves of one mix.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tone {
    /// Gain of the low shelf, dB.
    pub low_db: f64,
    /// Gain of the high shelf, dB.
    pub high_db: f64,
}

impl Tone {
    /// Finds the shelves for a mix.
    #[must_use]
    pub fn of(mix: &Stereo) -> Self {
        let over = RANGES_HZ.map(|(low, high)| {
            let band = equal::band(mix, low, high);
            let power: f64 =
                band.left.iter().chain(&band.right).map(|x| f64::from(*x).powi(2)).sum();
            10.0 * power.max(1e-20).log10() - curve_db(low, high)
        });
        let gain = |over: f64| (-SHARE * over).clamp(-MOST_DB, MOST_DB);
        Self { low_db: gain(over[0] - over[1]), high_db: gain(over[2] - over[1]) }
    }

    /// Applies the shelves.
    #[must_use]
    pub fn apply(self, audio: &Stereo) -> Stereo {
        let low = equal::low_shelf(audio, SHELVES_HZ.0, self.low_db);
        equal::high_shelf(&low, SHELVES_HZ.1, self.high_db)
    }
}

/// Power of the curve through the same band filter, dB; summed over hundredths of an octave.
fn curve_db(low_hz: f64, high_hz: f64) -> f64 {
    let ratio = 2_f64.powf(0.01);
    let mut hz = 20.0;
    let mut power = 0.0;
    while hz < 20_000.0 {
        let u = (hz / 200.0_f64).log2();
        let through = 1.0 / ((1.0 + (low_hz / hz).powi(4)) * (1.0 + (hz / high_hz).powi(4)));
        power += 10_f64.powf((-2.35 * u - 0.659 * u * u) / 10.0) * through * hz * (ratio - 1.0);
        hz *= ratio;
    }
    10.0 * power.log10()
}
