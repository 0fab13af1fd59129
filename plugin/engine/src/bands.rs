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

/// Frames that the lower crossover is ahead of the upper one. Ours: with fewer the upper one would
/// wait for what the lower one has just begun.
const AHEAD: usize = 3;

/// The split of one bus of two channels. A step takes four lanes: left and right of a frame through
/// the lower crossover, and left and right of what it left of an earlier one through the upper.
#[derive(Clone, Debug)]
pub(crate) struct BandSplit {
    filters: Filters,
    state: States,
    has_high: bool,
}

impl BandSplit {
    /// `rate_hz` as in [`Config`](crate::Config).
    pub(crate) fn new(rate_hz: f64) -> Self {
        let has_high = rate_hz >= HIGH_BAND_FROM_HZ;
        let upper_hz = if has_high { MID_HIGH_HZ } else { LOW_MID_HZ };
        let hz = [LOW_MID_HZ, LOW_MID_HZ, upper_hz, upper_hz];
        Self {
            filters: Filters::new(hz, f64::from(DAMPING), rate_hz),
            state: States::default(),
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
        let frames = input[0].len().min(input[1].len()).min(piece * energies.len());
        let [left, right] = input.map(|channel| &channel[..frames]);
        let filters = self.filters;
        let ahead = AHEAD.min(frames);
        let mut state = self.state;
        let mut lower = Pieces::new(piece, 0, frames);
        let mut upper = Pieces::new(piece, ahead, frames + ahead);
        // Energies of what each crossover passes as low and as high.
        let mut passed = [f32x4::ZERO; 2];
        let step = |x: f32x4, state: &mut States, passed: &mut [f32x4; 2]| {
            let (band, low) = filters.step(state, x);
            let high = x - f32x4::splat(DAMPING) * band - low;
            passed[0] += low * low;
            passed[1] += high * high;
            high
        };
        let mut rests = [f32x4::ZERO; AHEAD];
        let before = state;
        for (n, (&left, &right)) in left.iter().zip(right).take(ahead).enumerate() {
            let rest = step(f32x4::new([left, right, 0.0, 0.0]), &mut state, &mut passed);
            rests = [rests[1], rests[2], rest];
            if let Some(piece) = lower.ended(n + 1) {
                passed = self.give_lower(passed, &mut energies[piece]);
            }
        }
        // The upper one has not begun.
        state = [0, 1].map(|n| join(state[n], before[n]));
        passed = passed.map(|sum| join(sum, f32x4::ZERO));
        let mut at = ahead;
        while at < frames {
            let end = frames.min(lower.end).min(upper.end);
            for (&left, &right) in left[at..end].iter().zip(&right[at..end]) {
                let [oldest, older, last] = rests;
                let [rest_left, rest_right, ..] = oldest.to_array();
                let x = f32x4::new([left, right, rest_left, rest_right]);
                rests = [older, last, step(x, &mut state, &mut passed)];
            }
            at = end;
            if let Some(piece) = lower.ended(at) {
                passed = self.give_lower(passed, &mut energies[piece]);
            }
            if let Some(piece) = upper.ended(at) {
                passed = self.give_upper(passed, &mut energies[piece]);
            }
        }
        let before = state;
        for (n, rest) in rests[AHEAD - ahead..].iter().enumerate() {
            let [left, right, ..] = rest.to_array();
            step(f32x4::new([0.0, 0.0, left, right]), &mut state, &mut passed);
            if let Some(piece) = upper.ended(frames + n + 1) {
                passed = self.give_upper(passed, &mut energies[piece]);
            }
        }
        // The lower one had ended.
        self.state = [0, 1].map(|n| join(before[n], state[n]));
    }

    /// Gives a piece what the lower crossover passed as low and as high; the upper one goes on.
    fn give_lower(&self, passed: [f32x4; 2], energy: &mut [f32; BANDS]) -> [f32x4; 2] {
        let [lows, highs] = passed.map(f32x4::to_array);
        energy[0] += lows[0] + lows[1];
        if !self.has_high {
            energy[1] += highs[0] + highs[1];
        }
        passed.map(|sum| join(f32x4::ZERO, sum))
    }

    /// The same of the upper crossover.
    fn give_upper(&self, passed: [f32x4; 2], energy: &mut [f32; BANDS]) -> [f32x4; 2] {
        let [lows, highs] = passed.map(f32x4::to_array);
        if self.has_high {
            energy[1] += lows[2] + lows[3];
            energy[2] += highs[2] + highs[3];
        }
        passed.map(|sum| join(sum, f32x4::ZERO))
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(crate) fn flush_denormals(&mut self) {
        svf::flush_denormals(&mut self.state);
    }

    pub(crate) fn reset(&mut self) {
        self.state = States::default();
    }
}

/// Where the pieces of a call end for one of the crossovers, in frames of the lower one.
struct Pieces {
    length: usize,
    next: usize,
    end: usize,
    last: usize,
}

impl Pieces {
    fn new(length: usize, start: usize, last: usize) -> Self {
        Self { length, next: 0, end: (start + length).min(last), last }
    }

    /// The number of the piece that ends at this frame.
    fn ended(&mut self, at: usize) -> Option<usize> {
        if at != self.end {
            return None;
        }
        let piece = self.next;
        self.next += 1;
        self.end = if at == self.last { usize::MAX } else { (at + self.length).min(self.last) };
        Some(piece)
    }
}

/// The lanes of the lower crossover of one, and of the upper one of the other.
fn join(lower: f32x4, upper: f32x4) -> f32x4 {
    let ([left, right, ..], [.., upper_left, upper_right]) = (lower.to_array(), upper.to_array());
    f32x4::new([left, right, upper_left, upper_right])
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
