//! Three-band split: low, mid and high, 12 dB an octave, power-complementary.
//!
//! Both crossovers are second-order Butterworth pairs, whose low-pass and high-pass powers add up
//! to the power that went in at every frequency, so that the three band energies add up to the
//! whole. Filter form: trapezoidal state-variable filter, well conditioned in f32 up to 384 kHz
//! (A. Simper, "Solving the continuous SVF equations using trapezoidal integration", 2013).

use crate::MAX_CHANNELS;
use crate::thresholds::{LOW_MID_HZ, MID_HIGH_HZ};

/// Number of bands: low, mid, high.
pub(crate) const BANDS: usize = 3;

/// Sample rate under which there is no high band, Hz: its crossover needs room below Nyquist.
const HIGH_BAND_FROM_HZ: f64 = 2.5 * MID_HIGH_HZ;

/// Coefficients of one second-order Butterworth crossover.
#[derive(Clone, Copy, Debug)]
struct Crossover {
    a1: f32,
    a2: f32,
    a3: f32,
}

/// Damping of a second-order Butterworth filter, 1/Q.
const DAMPING: f32 = std::f32::consts::SQRT_2;

impl Crossover {
    fn new(hz: f64, rate_hz: f64) -> Self {
        let g = (std::f64::consts::PI * hz / rate_hz).tan();
        let a1 = 1.0 / (1.0 + g * (g + f64::from(DAMPING)));
        Self { a1: a1 as f32, a2: (g * a1) as f32, a3: (g * g * a1) as f32 }
    }

    /// One sample in; low-passed and high-passed sample out.
    #[inline(always)]
    fn tick(&self, state: &mut [f32; 2], x: f32) -> (f32, f32) {
        let v3 = x - state[1];
        let v1 = self.a1 * state[0] + self.a2 * v3;
        let v2 = state[1] + self.a2 * state[0] + self.a3 * v3;
        state[0] = 2.0 * v1 - state[0];
        state[1] = 2.0 * v2 - state[1];
        (v2, x - DAMPING * v1 - v2)
    }

    /// The same for two channels; the state is kept number by number, both channels in each.
    #[inline(always)]
    fn tick_pair(&self, state: &mut [[f32; 2]; 2], x: [f32; 2]) -> ([f32; 2], [f32; 2]) {
        let [s0, s1] = *state;
        let v3 = each(|c| x[c] - s1[c]);
        let v1 = each(|c| self.a1 * s0[c] + self.a2 * v3[c]);
        let v2 = each(|c| s1[c] + self.a2 * s0[c] + self.a3 * v3[c]);
        *state = [each(|c| 2.0 * v1[c] - s0[c]), each(|c| 2.0 * v2[c] - s1[c])];
        (v2, each(|c| x[c] - DAMPING * v1[c] - v2[c]))
    }
}

/// Both channels at once.
#[inline(always)]
fn each(value: impl Fn(usize) -> f32) -> [f32; 2] {
    [value(0), value(1)]
}

/// The split of one bus.
#[derive(Clone, Debug)]
pub(crate) struct BandSplit {
    low_mid: Crossover,
    mid_high: Option<Crossover>,
    /// State of both crossovers, a channel.
    state: [[[f32; 2]; 2]; MAX_CHANNELS],
}

impl BandSplit {
    /// `rate_hz` as in [`Config`](crate::Config).
    pub(crate) fn new(rate_hz: f64) -> Self {
        Self {
            low_mid: Crossover::new(LOW_MID_HZ, rate_hz),
            mid_high: (rate_hz >= HIGH_BAND_FROM_HZ).then(|| Crossover::new(MID_HIGH_HZ, rate_hz)),
            state: [[[0.0; 2]; 2]; MAX_CHANNELS],
        }
    }

    /// Whether this rate carries a high band.
    pub(crate) fn has_high(&self) -> bool {
        self.mid_high.is_some()
    }

    /// Adds the energies (sums of squares) of one channel's samples to `energy`.
    pub(crate) fn process(&mut self, channel: usize, input: &[f32], energy: &mut [f32; BANDS]) {
        let [mut first, mut second] = self.state[channel];
        let [mut low_sum, mut mid_sum, mut high_sum] = *energy;
        if let Some(mid_high) = self.mid_high {
            for &x in input {
                let (low, rest) = self.low_mid.tick(&mut first, x);
                let (mid, high) = mid_high.tick(&mut second, rest);
                low_sum += low * low;
                mid_sum += mid * mid;
                high_sum += high * high;
            }
        } else {
            for &x in input {
                let (low, mid) = self.low_mid.tick(&mut first, x);
                low_sum += low * low;
                mid_sum += mid * mid;
            }
        }
        self.state[channel] = [first, second];
        *energy = [low_sum, mid_sum, high_sum];
    }

    /// The same for two channels side by side, in less time than one after the other. Each channel
    /// is summed by itself first.
    pub(crate) fn process_pair(&mut self, input: [&[f32]; 2], energy: &mut [f32; BANDS]) {
        let Some(mid_high) = self.mid_high else {
            self.process(0, input[0], energy);
            self.process(1, input[1], energy);
            return;
        };
        // Both channels in each number: the compiler uses one instruction for the two.
        let [[first_l, second_l], [first_r, second_r]] = self.state;
        let mut first = [0, 1].map(|k| [first_l[k], first_r[k]]);
        let mut second = [0, 1].map(|k| [second_l[k], second_r[k]]);
        let mut sums = [[0.0f32; 2]; BANDS];
        for (&left, &right) in input[0].iter().zip(input[1]) {
            let (low, rest) = self.low_mid.tick_pair(&mut first, [left, right]);
            let (mid, high) = mid_high.tick_pair(&mut second, rest);
            for (sum, band) in sums.iter_mut().zip([low, mid, high]) {
                *sum = each(|c| sum[c] + band[c] * band[c]);
            }
        }
        self.state = [0, 1].map(|c| [[first[0][c], first[1][c]], [second[0][c], second[1][c]]]);
        for (energy, [left, right]) in energy.iter_mut().zip(sums) {
            *energy += left + right;
        }
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(crate) fn flush_denormals(&mut self) {
        for value in self.state.iter_mut().flatten().flatten() {
            if value.abs() < 1e-15 {
                *value = 0.0;
            }
        }
    }

    pub(crate) fn reset(&mut self) {
        self.state = [[[0.0; 2]; 2]; MAX_CHANNELS];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a second-order Butterworth pair is power-complementary, so the energies of the
    /// three bands add up to that of the input; at the crossover each side has half of it.
    #[test]
    fn band_energies_add_up_and_halve_at_the_crossover() {
        for rate in [8_000.0, 44_100.0, 48_000.0, 192_000.0] {
            for hz in [60.0, 200.0, 1_000.0, 3_000.0] {
                let n = rate as usize;
                let input: Vec<f32> = (0..2 * n)
                    .map(|i| (std::f64::consts::TAU * hz * i as f64 / rate).sin() as f32)
                    .collect();
                let mut split = BandSplit::new(rate);
                let mut energy = [0.0; BANDS];
                split.process(0, &input[..n], &mut energy);
                energy = [0.0; BANDS];
                // In pieces: one long f32 sum would lose digits.
                let mut sums = [0.0f64; BANDS];
                for piece in input[n..].chunks(48) {
                    energy = [0.0; BANDS];
                    split.process(0, piece, &mut energy);
                    for (sum, e) in sums.iter_mut().zip(energy) {
                        *sum += f64::from(e);
                    }
                }
                let _ = energy;
                let whole = n as f64 / 2.0;
                let total: f64 = sums.iter().sum();
                assert!(
                    (total / whole - 1.0).abs() < 2e-3,
                    "{rate} Hz, {hz} Hz: {total} of {whole}"
                );
                if hz == 200.0 {
                    assert!((sums[0] / whole - 0.5).abs() < 5e-3, "{rate} Hz: {sums:?}");
                }
            }
        }
    }
}
