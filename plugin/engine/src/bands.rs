//! Three-band split: low, mid and high, 12 dB an octave, power-complementary.
//!
//! Both crossovers are second-order Butterworth pairs, whose low-pass and high-pass powers add up
//! to the power that went in at every frequency, so that the three band energies add up to the
//! whole. Filter form: trapezoidal state-variable filter, well conditioned in f32 up to 384 kHz
//! (A. Simper, "Solving the continuous SVF equations using trapezoidal integration", 2013).

use wide::f32x4;

use crate::MAX_CHANNELS;
use crate::thresholds::{LOW_MID_HZ, MID_HIGH_HZ};

/// Number of bands: low, mid, high.
pub(crate) const BANDS: usize = 3;

/// Sample rate under which there is no high band, Hz: its crossover needs room below Nyquist.
const HIGH_BAND_FROM_HZ: f64 = 2.5 * MID_HIGH_HZ;

/// Damping of a second-order Butterworth filter, 1/Q.
const DAMPING: f32 = std::f32::consts::SQRT_2;

/// The split of one bus of two channels.
///
/// Four filters go side by side: lanes 0 and 1 are the lower crossover of left and right, lanes 2
/// and 3 the upper one, which works on the frame before, since it waits for the lower one's rest.
#[derive(Clone, Debug)]
pub(crate) struct BandSplit {
    crossovers: Crossovers,
    has_high: bool,
}

/// Coefficients and halved states of four second-order Butterworth crossovers.
#[derive(Clone, Copy, Debug)]
struct Crossovers {
    input: [f32x4; 2],
    cross: f32x4,
    own: [f32x4; 2],
    state: [f32x4; 2],
}

/// Lanes of the lower crossover.
const LOWER: [f32; 4] = [f32::from_bits(u32::MAX), f32::from_bits(u32::MAX), 0.0, 0.0];

impl Crossovers {
    fn new(hz: [f64; 2], rate_hz: f64) -> Self {
        let [lower, upper] = hz.map(|hz| {
            let g = (std::f64::consts::PI * hz / rate_hz).tan();
            let a1 = 1.0 / (1.0 + g * (g + f64::from(DAMPING)));
            [a1, g * a1, g * g * a1]
        });
        let lanes = |of: fn([f64; 3]) -> f64| {
            let [lower, upper] = [of(lower) as f32, of(upper) as f32];
            f32x4::new([lower, lower, upper, upper])
        };
        Self {
            input: [lanes(|a| a[1]), lanes(|a| a[2])],
            cross: lanes(|a| 2.0 * a[1]),
            own: [lanes(|a| 2.0 * a[0] - 1.0), lanes(|a| 2.0 * a[2])],
            state: [f32x4::ZERO; 2],
        }
    }

    /// One sample in for each filter; low-passed and high-passed samples out. The trapezoidal form
    /// put so that a state's way to the next is one product and two sums.
    #[inline(always)]
    fn step(&mut self, x: f32x4) -> (f32x4, f32x4) {
        let [h0, h1] = self.state;
        let next0 = self.own[0] * h0 + (self.input[0] * x - self.cross * h1);
        let next1 = (h1 - self.own[1] * h1) + (self.input[1] * x + self.cross * h0);
        self.state = [next0, next1];
        let (band, low) = (h0 + next0, h1 + next1);
        (low, x - f32x4::splat(DAMPING) * band - low)
    }

    /// The same for some lanes only: the others' state stays as it is.
    fn step_lanes(&mut self, lanes: f32x4, x: f32x4) -> (f32x4, f32x4) {
        let before = self.state;
        let out = self.step(x);
        for (state, before) in self.state.iter_mut().zip(before) {
            *state = lanes.bitselect(*state, before);
        }
        out
    }
}

/// A frame for the lower crossover, and the rest of the frame before for the upper one.
#[inline(always)]
fn inputs(left: f32, right: f32, rest: f32x4) -> f32x4 {
    let [rest_left, rest_right, ..] = rest.to_array();
    f32x4::new([left, right, rest_left, rest_right])
}

/// Sums of squares of what is low-passed and of what is high-passed, a filter.
#[derive(Clone, Copy, Default)]
struct Sums {
    low: f32x4,
    high: f32x4,
}

impl Sums {
    #[inline(always)]
    fn add(&mut self, (low, high): (f32x4, f32x4)) {
        self.low += low * low;
        self.high += high * high;
    }

    /// Adds what the upper crossovers gave, which ends the piece, to its energies. Each channel is
    /// summed by itself first.
    fn close(mut self, last: (f32x4, f32x4), energy: &mut [f32; BANDS]) {
        let low = self.low.to_array();
        self.add(last);
        let (mid, high) = (self.low.to_array(), self.high.to_array());
        for (energy, (left, right)) in
            energy.iter_mut().zip([(low[0], low[1]), (mid[2], mid[3]), (high[2], high[3])])
        {
            *energy += left + right;
        }
    }
}

impl BandSplit {
    /// `rate_hz` as in [`Config`](crate::Config).
    pub(crate) fn new(rate_hz: f64) -> Self {
        let has_high = rate_hz >= HIGH_BAND_FROM_HZ;
        let upper = if has_high { MID_HIGH_HZ } else { LOW_MID_HZ };
        Self { crossovers: Crossovers::new([LOW_MID_HZ, upper], rate_hz), has_high }
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
        let pieces = input[0].chunks(piece).zip(input[1].chunks(piece)).zip(energies);
        if !self.has_high {
            self.process_low(pieces);
            return;
        }
        let mut filters = self.crossovers;
        let lower = f32x4::new(LOWER);
        let mut rest = f32x4::ZERO;
        let mut open: Option<(Sums, &mut [f32; BANDS])> = None;
        for ((left, right), energy) in pieces {
            let mut frames = left.iter().zip(right);
            let Some((&left, &right)) = frames.next() else { break };
            // The first frame of a piece, and the last of the piece before.
            let mut sums = Sums::default();
            let x = inputs(left, right, rest);
            rest = if let Some((open, energy)) = open.take() {
                let (low, high) = filters.step(x);
                open.close((low, high), energy);
                sums.low = lower & (low * low);
                high
            } else {
                let (low, high) = filters.step_lanes(lower, x);
                sums.low = lower & (low * low);
                high
            };
            for (&left, &right) in frames {
                let (low, high) = filters.step(inputs(left, right, rest));
                sums.add((low, high));
                rest = high;
            }
            open = Some((sums, energy));
        }
        if let Some((open, energy)) = open {
            open.close(filters.step_lanes(!lower, inputs(0.0, 0.0, rest)), energy);
        }
        self.crossovers = filters;
    }

    /// The same at a rate without high band.
    fn process_low<'a>(
        &mut self,
        pieces: impl Iterator<Item = ((&'a [f32], &'a [f32]), &'a mut [f32; BANDS])>,
    ) {
        let mut filters = self.crossovers;
        for ((left, right), [low_sum, mid_sum, _]) in pieces {
            let mut sums = Sums::default();
            for (&left, &right) in left.iter().zip(right) {
                sums.add(filters.step(inputs(left, right, f32x4::ZERO)));
            }
            let (low, mid) = (sums.low.to_array(), sums.high.to_array());
            *low_sum += low[0] + low[1];
            *mid_sum += mid[0] + mid[1];
        }
        self.crossovers = filters;
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(crate) fn flush_denormals(&mut self) {
        for state in &mut self.crossovers.state {
            *state = f32x4::new(state.to_array().map(|x| if x.abs() < 1e-15 { 0.0 } else { x }));
        }
    }

    pub(crate) fn reset(&mut self) {
        self.crossovers.state = [f32x4::ZERO; 2];
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
