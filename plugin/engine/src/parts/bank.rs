//! Eight bands, an octave and a bit apart, for the onset picker.
//!
//! Each is the band-pass output of a trapezoidal state-variable filter. Upper bands are fed by the
//! signal's first or second difference: 6 or 12 dB an octave more between a string's fundamental
//! and the noise of the pick. The four upper ones run side by side, lane by lane. So do the four
//! lower ones, at a quarter of the rate, on the mean of seven samples under a triangle, which leaves
//! 0.2 % of what would fold into them (-47 dB at 11.3 kHz and 48 kHz).

use wide::f32x4;

use crate::MAX_CHANNELS;
use crate::cells::MICRO;
use crate::svf::{self, Filters, States};

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
/// Width of each band, of 24 kHz.
pub(super) const WIDTH_SHARES: Powers = {
    let mut shares = [0.0; BANDS];
    let mut band = 0;
    while band < BANDS {
        shares[band] = (CENTRES_HZ[band] / QUALITY / 24_000.0) as f32;
        band += 1;
    }
    shares
};
/// Share of the sample rate above which a centre has no room. Ours.
const HIGHEST: f64 = 0.45;
/// Bands of a half.
const HALF: usize = BANDS / 2;
/// Samples that the lower half takes in one step, from [`SLOW_FROM_HZ`] on.
const SLOWER: usize = 4;
/// Sample rate from which the lower half is slower, Hz. Ours: 15 times its highest centre is left.
const SLOW_FROM_HZ: f64 = 44_000.0;
/// Weights of four samples for the mean that ends after them, and for the one that ends with them: a
/// triangle.
const TRIANGLE: [f32x4; 2] = [
    f32x4::new([1.0 / 16.0, 2.0 / 16.0, 3.0 / 16.0, 4.0 / 16.0]),
    f32x4::new([3.0 / 16.0, 2.0 / 16.0, 1.0 / 16.0, 0.0]),
];

/// The filters of one bus.
#[derive(Clone, Debug)]
pub(super) struct Bank {
    lower: Filters,
    upper: Filters,
    /// Gain of each band, so that a band is as loud at its centre as it came; 0 where the sample
    /// rate has no room for it.
    gain: Powers,
    channels: [Channel; MAX_CHANNELS],
    /// Samples to a step of the lower half.
    step: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Channel {
    lower: States,
    upper: States,
    /// Last sample and last difference.
    last: [f32; 2],
    /// What the last samples add to the next mean.
    carried: f32,
}

impl Channel {
    /// A sample into the upper half; gives the squares of what passes.
    #[inline(always)]
    fn upper(&mut self, filters: &Filters, x: f32) -> f32x4 {
        let first = x - self.last[0];
        let second = first - self.last[1];
        self.last = [x, first];
        let fed = f32x4::new([first, first, second, second]);
        let (out, _) = filters.step(&mut self.upper, fed);
        out * out
    }

    /// Adds the squares of each lower band to the sum of the quarter that each step ends in.
    fn lower(
        &mut self,
        filters: &Filters,
        input: &[f32],
        step: usize,
        quarter: usize,
        sums: &mut [(f32x4, u32); MICRO],
    ) {
        let (filters, mut state, mut carried) = (*filters, self.lower, self.carried);
        let mut end = 0;
        for samples in input.chunks_exact(step) {
            let mut x = samples[0];
            if let Ok(four) = <[f32; SLOWER]>::try_from(samples) {
                let four = f32x4::new(four);
                x = carried + (four * TRIANGLE[1]).reduce_add();
                carried = (four * TRIANGLE[0]).reduce_add();
            }
            let (out, _) = filters.step(&mut state, f32x4::splat(x));
            end += step;
            let (sum, steps) = &mut sums[((end - 1) / quarter).min(MICRO - 1)];
            *sum += out * out;
            *steps += 1;
        }
        (self.lower, self.carried) = (state, carried);
    }
}

impl Bank {
    pub(super) fn new(rate_hz: f64) -> Self {
        let step = if rate_hz >= SLOW_FROM_HZ { SLOWER } else { 1 };
        let [lower, upper] =
            [0, HALF].map(|from| std::array::from_fn(|band| CENTRES_HZ[from + band]));
        let gain = std::array::from_fn(|band| {
            let centre = CENTRES_HZ[band];
            // A difference has a gain of 2 sin(w/2) at the frequency w; the band-pass, 1/k.
            let difference = 2.0 * (std::f64::consts::PI * centre / rate_hz).sin();
            let gain = 1.0 / (QUALITY * difference.powi(DIFFERENCES[band] as i32));
            if centre <= HIGHEST * rate_hz { (gain * gain) as f32 } else { 0.0 }
        });
        let filters = |hz: [f64; HALF], rate_hz: f64| {
            Filters::new(hz.map(|hz| hz.min(HIGHEST * rate_hz)), 1.0 / QUALITY, rate_hz)
        };
        Self {
            lower: filters(lower, rate_hz / step as f64),
            upper: filters(upper, rate_hz),
            gain,
            channels: [Channel::default(); MAX_CHANNELS],
            step,
        }
    }

    /// Width of each band, Hz.
    pub(super) fn widths_hz() -> [f64; BANDS] {
        CENTRES_HZ.map(|hz| hz / QUALITY)
    }

    /// Mean power of each band in each quarter of a cell, of one or two channels of one length added
    /// up. The last cell of a passage may be shorter than `cell_frames`, a multiple of [`MICRO`].
    #[inline(never)]
    pub(super) fn process(&mut self, input: &[&[f32]], cell_frames: usize) -> [Powers; MICRO] {
        let quarter = (cell_frames / MICRO).max(1);
        let mut upper = [(f32x4::ZERO, 0u32); MICRO];
        let mut lower = [(f32x4::ZERO, 0u32); MICRO];
        let filters = self.upper;
        match input {
            [left, right] => {
                // Side by side: either alone would wait for its own last step.
                let [mut first, mut second] = self.channels;
                let pieces = left.chunks(quarter).zip(right.chunks(quarter));
                for ((sum, frames), (left, right)) in upper.iter_mut().zip(pieces) {
                    for (&left, &right) in left.iter().zip(right) {
                        *sum += first.upper(&filters, left) + second.upper(&filters, right);
                    }
                    *frames = left.len() as u32;
                }
                self.channels = [first, second];
            }
            [only] => {
                for ((sum, frames), only) in upper.iter_mut().zip(only.chunks(quarter)) {
                    for &x in only {
                        *sum += self.channels[0].upper(&filters, x);
                    }
                    *frames = only.len() as u32;
                }
            }
            _ => {}
        }
        for (channel, input) in self.channels.iter_mut().zip(input) {
            lower.iter_mut().for_each(|(_, steps)| *steps = 0);
            channel.lower(&self.lower, input, self.step, quarter, &mut lower);
        }
        std::array::from_fn(|n| {
            let mean =
                |(sum, count): (f32x4, u32)| (sum / f32x4::splat(count.max(1) as f32)).to_array();
            let (lower, upper) = (mean(lower[n]), mean(upper[n]));
            std::array::from_fn(|band| {
                self.gain[band] * if band < HALF { lower[band] } else { upper[band - HALF] }
            })
        })
    }

    /// Sets states that have decayed to nothing to zero, so that no denormal lives on.
    pub(super) fn flush_denormals(&mut self) {
        for channel in &mut self.channels {
            svf::flush_denormals(&mut channel.lower);
            svf::flush_denormals(&mut channel.upper);
        }
    }

    pub(super) fn reset(&mut self) {
        self.channels = [Channel::default(); MAX_CHANNELS];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone at a band's centre comes out of that band with the power that it has; one two octaves
    /// off is 8 dB under it or more; what lies above the lower half does not fold into it.
    #[test]
    fn a_band_is_as_loud_at_its_centre_as_it_came() {
        for rate in [32_000.0, 44_100.0, 48_000.0, 96_000.0] {
            let cell = (4.0 * (rate / 4e3_f64).round()) as usize;
            let powers = |hz: f64| {
                let tone: Vec<f32> = (0..rate as usize)
                    .map(|n| (std::f64::consts::TAU * hz * n as f64 / rate).sin() as f32)
                    .collect();
                let mut bank = Bank::new(rate);
                let mut sum = [0.0f64; BANDS];
                for cell_in in tone.chunks_exact(cell) {
                    for quarter in bank.process(&[cell_in, cell_in], cell) {
                        for band in 0..BANDS {
                            sum[band] += f64::from(quarter[band]);
                        }
                    }
                }
                let quarters = (MICRO * (tone.len() / cell)) as f64;
                sum.map(|sum| 10.0 * (sum / quarters).log10())
            };
            for (band, hz) in CENTRES_HZ.into_iter().enumerate() {
                let db = powers(hz);
                // Two channels of a sine: a mean square of one.
                assert!(db[band].abs() < 0.5, "{rate} Hz, {hz} Hz: {:.2} dB", db[band]);
                if let Some(above) = db.get(band + 2) {
                    assert!(*above < -8.0, "{rate} Hz, {hz} Hz, two above: {above:.2} dB");
                }
            }
            if rate >= SLOW_FROM_HZ {
                let folded = powers(rate / 4.0 - 700.0);
                assert!(folded[..HALF].iter().all(|db| *db < -40.0), "{rate} Hz: {folded:.1?}");
            }
        }
    }

    /// One channel twice is twice the power of one, in every quarter; a short cell ends a passage.
    #[test]
    fn two_channels_add_up_and_a_short_cell_is_a_mean_too() {
        let noise: Vec<f32> = (0..480).map(|n| (n * 7_919 % 1_009) as f32 / 504.5 - 1.0).collect();
        let (mut one, mut two) = (Bank::new(48_000.0), Bank::new(48_000.0));
        for cell in noise.chunks(47) {
            let (one, two) = (one.process(&[cell], 48), two.process(&[cell, cell], 48));
            for (one, two) in one.iter().flatten().zip(two.iter().flatten()) {
                assert!((2.0 * one - two).abs() <= 1e-6 * two, "{one} {two}");
            }
        }
        assert_eq!(one.process(&[&[]], 48), [[0.0; BANDS]; MICRO]);
    }
}
