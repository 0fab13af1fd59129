//! Eight bands, an octave and a bit apart, for the onset picker.
//!
//! Each is the band-pass output of a trapezoidal state-variable filter (A. Simper, "Solving the
//! continuous SVF equations using trapezoidal integration", 2013). Upper bands are fed by the
//! signal's first or second difference: 6 or 12 dB an octave more between a string's fundamental
//! and the noise of the pick. The eight run side by side, lane by lane.

use crate::MAX_CHANNELS;

/// Bands of the picker.
pub(super) const BANDS: usize = 8;
/// Powers of the bands, mean squares.
pub(super) type Powers = [f32; BANDS];

/// Centres, Hz. Ours.
const CENTRES_HZ: [f64; BANDS] = [60.0, 140.0, 320.0, 700.0, 1_400.0, 2_800.0, 5_600.0, 11_000.0];
/// How often the signal is differentiated ahead of each band.
const DIFFERENCES: [usize; BANDS] = [0, 0, 0, 0, 1, 1, 2, 2];
/// Quality of each band: an octave between its -3 dB points.
const QUALITY: f64 = 1.41;
/// Share of the sample rate above which a centre has no room. Ours.
const HIGHEST: f64 = 0.45;

/// The filters of one bus.
#[derive(Clone, Debug)]
pub(super) struct Bank {
    a1: Powers,
    a2: Powers,
    a3: Powers,
    /// Gain of each band, so that a band is as loud at its centre as it came; 0 where the sample
    /// rate has no room for it.
    gain: Powers,
    state: [Lanes; MAX_CHANNELS],
}

#[derive(Clone, Copy, Debug, Default)]
struct Lanes {
    s1: Powers,
    s2: Powers,
    /// Last sample and last difference.
    last: [f32; 2],
}

impl Bank {
    pub(super) fn new(rate_hz: f64) -> Self {
        let mut bank = Self {
            a1: [0.0; BANDS],
            a2: [0.0; BANDS],
            a3: [0.0; BANDS],
            gain: [0.0; BANDS],
            state: [Lanes::default(); MAX_CHANNELS],
        };
        for band in 0..BANDS {
            let centre = CENTRES_HZ[band].min(HIGHEST * rate_hz);
            let g = (std::f64::consts::PI * centre / rate_hz).tan();
            let k = 1.0 / QUALITY;
            let a1 = 1.0 / (1.0 + g * (g + k));
            bank.a1[band] = a1 as f32;
            bank.a2[band] = (g * a1) as f32;
            bank.a3[band] = (g * g * a1) as f32;
            // A difference has a gain of 2 sin(w/2) at the frequency w; the band-pass, 1/k.
            let difference = 2.0 * (std::f64::consts::PI * centre / rate_hz).sin();
            let gain = k / difference.powi(DIFFERENCES[band] as i32);
            if CENTRES_HZ[band] <= HIGHEST * rate_hz {
                bank.gain[band] = (gain * gain) as f32;
            }
        }
        bank
    }

    /// Width of each band, Hz.
    pub(super) fn widths_hz() -> [f64; BANDS] {
        CENTRES_HZ.map(|hz| hz / QUALITY)
    }

    /// Mean power of each band over `input`, of one channel.
    pub(super) fn process(&mut self, channel: usize, input: &[f32]) -> Powers {
        let mut lanes = self.state[channel];
        let mut sum = [0.0f32; BANDS];
        for &x in input {
            let first = x - lanes.last[0];
            let second = first - lanes.last[1];
            lanes.last = [x, first];
            let fed = [x, x, x, x, first, first, second, second];
            for band in 0..BANDS {
                let v3 = fed[band] - lanes.s2[band];
                let v1 = self.a1[band] * lanes.s1[band] + self.a2[band] * v3;
                let v2 = lanes.s2[band] + self.a2[band] * lanes.s1[band] + self.a3[band] * v3;
                lanes.s1[band] = 2.0 * v1 - lanes.s1[band];
                lanes.s2[band] = 2.0 * v2 - lanes.s2[band];
                sum[band] += v1 * v1;
            }
        }
        self.state[channel] = lanes;
        let frames = input.len().max(1) as f32;
        std::array::from_fn(|band| sum[band] * self.gain[band] / frames)
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(super) fn flush_denormals(&mut self) {
        for lanes in &mut self.state {
            for value in lanes.s1.iter_mut().chain(&mut lanes.s2) {
                if value.abs() < 1e-15 {
                    *value = 0.0;
                }
            }
        }
    }

    pub(super) fn reset(&mut self) {
        self.state = [Lanes::default(); MAX_CHANNELS];
    }
}
