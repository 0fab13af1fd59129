//! Three-band split: low, mid and high, 12 dB an octave, power-complementary.
//!
//! Both crossovers are second-order Butterworth pairs, whose low-pass and high-pass powers add up
//! to the power that went in at every frequency, so that the three band energies add up to the
//! whole. Filter form: trapezoidal state-variable filter.

use wide::f32x4;

use crate::MAX_CHANNELS;
use crate::svf::{self, Filters, States};
use crate::thresholds::{LOW_MID_HZ, MID_HIGH_HZ};

/// Number of bands: low, mid, high.
pub(crate) const BANDS: usize = 3;

/// Sample rate under which there is no high band, Hz: its crossover needs room below Nyquist.
const HIGH_BAND_FROM_HZ: f64 = 2.5 * MID_HIGH_HZ;

/// Damping of a second-order Butterworth filter, 1/Q.
const DAMPING: f32 = std::f32::consts::SQRT_2;

/// Frames that go through one crossover before they go through the next: frame by frame, each step
/// would wait for the one before.
const RUN: usize = 16;

/// The split of one bus of two channels.
#[derive(Clone, Debug)]
pub(crate) struct BandSplit {
    lower: Crossover,
    upper: Crossover,
    has_high: bool,
}

/// A second-order Butterworth crossover. Left and right go side by side in the first two lanes; the
/// others are silent.
#[derive(Clone, Copy, Debug)]
struct Crossover {
    filters: Filters,
    state: States,
}

impl Crossover {
    fn new(hz: f64, rate_hz: f64) -> Self {
        let filters = Filters::new([hz; 4], f64::from(DAMPING), rate_hz);
        Self { filters, state: States::default() }
    }

    /// One frame in; low-passed and high-passed frames out.
    #[inline(always)]
    fn step(&mut self, x: f32x4) -> (f32x4, f32x4) {
        let (band, low) = self.filters.step(&mut self.state, x);
        (low, x - f32x4::splat(DAMPING) * band - low)
    }
}

impl BandSplit {
    /// `rate_hz` as in [`Config`](crate::Config).
    pub(crate) fn new(rate_hz: f64) -> Self {
        let has_high = rate_hz >= HIGH_BAND_FROM_HZ;
        let upper_hz = if has_high { MID_HIGH_HZ } else { LOW_MID_HZ };
        Self {
            lower: Crossover::new(LOW_MID_HZ, rate_hz),
            upper: Crossover::new(upper_hz, rate_hz),
            has_high,
        }
    }

    /// Whether this rate carries a high band.
    pub(crate) fn has_high(&self) -> bool {
        self.has_high
    }

    /// Splits two channels of one length, and adds the energies (sums of squares) of each `piece`
    /// frames to the next of `energies`; what lies beyond them is left out.
    #[inline(never)]
    pub(crate) fn process(
        &mut self,
        input: [&[f32]; MAX_CHANNELS],
        piece: usize,
        energies: &mut [[f32; BANDS]],
    ) {
        let (mut lower, mut upper) = (self.lower, self.upper);
        let pieces = input[0].chunks(piece).zip(input[1].chunks(piece)).zip(energies);
        for ((left, right), energy) in pieces {
            // A band each.
            let mut sums = [f32x4::ZERO; BANDS];
            for (left, right) in left.chunks(RUN).zip(right.chunks(RUN)) {
                let mut rests = [f32x4::ZERO; RUN];
                for ((&left, &right), rest) in left.iter().zip(right).zip(&mut rests) {
                    let (low, high) = lower.step(f32x4::new([left, right, 0.0, 0.0]));
                    sums[0] += low * low;
                    *rest = high;
                }
                for rest in &rests[..left.len().min(right.len())] {
                    if self.has_high {
                        let (mid, high) = upper.step(*rest);
                        sums[1] += mid * mid;
                        sums[2] += high * high;
                    } else {
                        sums[1] += *rest * *rest;
                    }
                }
            }
            for (energy, sum) in energy.iter_mut().zip(sums) {
                let [left, right, ..] = sum.to_array();
                *energy += left + right;
            }
        }
        (self.lower, self.upper) = (lower, upper);
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(crate) fn flush_denormals(&mut self) {
        svf::flush_denormals(&mut self.lower.state);
        svf::flush_denormals(&mut self.upper.state);
    }

    pub(crate) fn reset(&mut self) {
        self.lower.state = States::default();
        self.upper.state = States::default();
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
                let tone = |phase: f64| -> Vec<f32> {
                    let angle = |i: usize| std::f64::consts::TAU * hz * i as f64 / rate + phase;
                    (0..2 * n).map(|i| angle(i).sin() as f32).collect()
                };
                let (left, right) = (tone(0.0), tone(1.0));
                let mut split = BandSplit::new(rate);
                split.process([&left[..n], &right[..n]], n, &mut [[0.0; BANDS]]);
                // In pieces: one long f32 sum would lose digits.
                let mut energies = vec![[0.0; BANDS]; n.div_ceil(12)];
                split.process([&left[n..], &right[n..]], 12, &mut energies);
                let mut sums = [0.0f64; BANDS];
                for energy in &energies {
                    for (sum, e) in sums.iter_mut().zip(energy) {
                        *sum += f64::from(*e);
                    }
                }
                let whole = n as f64;
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

    /// Each channel by itself, each piece by itself: a burst in one channel shows in its piece, and
    /// the cutting changes nothing.
    #[test]
    fn pieces_and_channels_keep_apart() {
        for rate in [8_000.0, 48_000.0] {
            let burst: Vec<f32> = (0..480)
                .map(|i| if (240..252).contains(&i) { [0.5, -0.5][i % 2] } else { 0.0 })
                .collect();
            let silence = [0.0; 480];
            let mut whole = [[0.0; BANDS]; 40];
            BandSplit::new(rate).process([&burst, &silence], 12, &mut whole);
            assert!(whole[..20].iter().flatten().all(|energy| *energy == 0.0), "{rate} Hz");
            let loudest = |energy: &[f32; BANDS]| energy[1] + energy[2];
            assert!(loudest(&whole[20]) > 2.0 && loudest(&whole[21]) < 0.5, "{rate} Hz");

            let mut cut = [[0.0; BANDS]; 40];
            let mut split = BandSplit::new(rate);
            for (input, energies) in burst.chunks(48).zip(cut.chunks_mut(4)) {
                split.process([&silence[..input.len()], input], 12, energies);
            }
            assert_eq!(cut, whole, "{rate} Hz");
        }
    }
}
