//! Evens out the delay between mix and side-chain, to a fraction of a frame, by delaying
//! whichever comes first.

use std::f64::consts::PI;

use super::limits::DELAY_SLACK;

/// Taps of the interpolation between frames.
pub const TAPS: usize = 32;
/// Shape of its window (Kaiser 1974): side lobes under -80 dB.
const KAISER_BETA: f64 = 8.0;
/// A fraction of a frame smaller than this counts as none.
const WHOLE: f64 = 1e-3;

/// Delays of both buses that bring them together, and the interpolation for what is not a whole
/// number of frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// How many frames the mix comes after the side-chain, as asked for.
    frames: f64,
    /// Whole frames by which each is read late.
    pub mix: usize,
    /// The same of the side-chain, the interpolation's own delay taken off.
    pub side: usize,
    /// Weights of the side-chain's samples, oldest first; `None` where the shift is whole.
    pub taps: Option<[f32; TAPS]>,
}

impl Shift {
    /// They lie together already.
    pub const NONE: Self = Self { frames: 0.0, mix: 0, side: 0, taps: None };

    /// For a mix that comes `frames` frames after the side-chain (before it where negative);
    /// `None` where that is no number or more than `most`.
    #[must_use]
    pub fn new(frames: f64, most: usize) -> Option<Self> {
        if !frames.is_finite() || frames.abs() > most as f64 {
            return None;
        }
        let nearest = frames.round();
        if (frames - nearest).abs() < WHOLE {
            let whole = nearest as i64;
            let (mix, side) = ((-whole).max(0) as usize, whole.max(0) as usize);
            return Some(Self { frames, mix, side, taps: None });
        }
        // The side-chain is read half the filter early, so both wait for that half.
        let base = TAPS / 2 - 1;
        let floor = frames.floor();
        let fraction = frames - floor;
        let whole = floor as i64;
        let mix = base + (-whole).max(0) as usize;
        let side = whole.max(0) as usize;
        Some(Self { frames, mix, side, taps: Some(interpolation(fraction)) })
    }

    /// Whether a new estimate is too near to this one to be worth a change.
    #[must_use]
    pub fn is_near(&self, frames: f64) -> bool {
        (self.frames - frames).abs() < DELAY_SLACK
    }

    /// How many frames the mix comes after the side-chain.
    #[must_use]
    pub fn frames(&self) -> f64 {
        self.frames
    }
}

/// A windowed sinc that delays by `TAPS / 2 - 1` frames and `fraction` of one more.
fn interpolation(fraction: f64) -> [f32; TAPS] {
    let centre = (TAPS / 2 - 1) as f64 + fraction;
    let mut taps = [0.0; TAPS];
    let mut sum = 0.0;
    for (age, tap) in taps.iter_mut().enumerate() {
        let x = age as f64 - centre;
        let sinc = if x.abs() < 1e-12 { 1.0 } else { (PI * x).sin() / (PI * x) };
        let at = x / (TAPS as f64 / 2.0);
        let window = bessel_i0(KAISER_BETA * (1.0 - at * at).max(0.0).sqrt());
        *tap = sinc * window;
        sum += *tap;
    }
    // Weights by age, the newest sample first; they are kept oldest first, as samples are read.
    std::array::from_fn(|k| (taps[TAPS - 1 - k] / sum) as f32)
}

/// The modified Bessel function of the first kind, of order 0, by its series.
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..40 {
        let half = x / (2.0 * f64::from(k));
        term *= half * half;
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_shifts_delay_whichever_comes_first() {
        let shift = Shift::new(7.0, 100).expect("in range");
        assert_eq!((shift.mix, shift.side, shift.taps), (0, 7, None));
        let shift = Shift::new(-3.0, 100).expect("in range");
        assert_eq!((shift.mix, shift.side, shift.taps), (3, 0, None));
        assert_eq!(Shift::new(100.5, 100), None);
        assert_eq!(Shift::new(f64::NAN, 100), None);
    }

    #[test]
    fn a_fraction_delays_a_tone_by_that_fraction() {
        // Closed form: a sine delayed by d frames is the same sine at another phase.
        for hz in [100.0, 1_000.0, 10_000.0, 16_000.0] {
            for fraction in [0.1, 0.25, 0.5, 0.9] {
                let taps = interpolation(fraction);
                let step = 2.0 * PI * hz / 48_000.0;
                let worst = (0..200)
                    .map(|n| {
                        let got: f64 = (0..TAPS)
                            .map(|k| {
                                let age = TAPS - 1 - k;
                                f64::from(taps[k]) * (step * (n as f64 - age as f64)).sin()
                            })
                            .sum();
                        let delay = (TAPS / 2 - 1) as f64 + fraction;
                        (got - (step * (n as f64 - delay)).sin()).abs()
                    })
                    .fold(0.0, f64::max);
                assert!(worst < 1e-3, "{hz} Hz by {fraction}: {worst}");
            }
        }
    }
}
