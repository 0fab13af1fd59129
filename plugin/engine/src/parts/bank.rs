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
/// Those of each quarter of a cell.
pub(super) type Quarters = [Powers; MICRO];

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

    /// Sums of the squares of each lower band over the quarter that each step ends in.
    #[inline(always)]
    fn lower(
        &mut self,
        filters: &Filters,
        input: &[f32],
        step: usize,
        quarter: usize,
    ) -> [Sum; MICRO] {
        let (filters, mut state, mut carried) = (*filters, self.lower, self.carried);
        let mut sums = [Sum::default(); MICRO];
        let (mut end, mut at, mut last) = (0, 0, quarter);
        let mut pass = |x: f32| {
            let (out, _) = filters.step(&mut state, f32x4::splat(x));
            end += step;
            while end > last && at < MICRO - 1 {
                (at, last) = (at + 1, last + quarter);
            }
            let sum = &mut sums[at];
            *sum = Sum { squares: sum.squares + out * out, count: sum.count + 1 };
        };
        if step == SLOWER {
            for &[a, b, c, d] in input.as_chunks::<SLOWER>().0 {
                // The triangle's rise over this step, and its fall over the one before.
                let rise = (a + 2.0 * b + (3.0 * c + 4.0 * d)) * (1.0 / 16.0);
                pass(carried + ((a + b + (c + d)) * 0.25 - rise));
                carried = rise;
            }
        } else {
            input.iter().for_each(|&x| pass(x));
        }
        (self.lower, self.carried) = (state, carried);
        sums
    }
}

/// Squares of four bands added up, and how many.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    squares: f32x4,
    count: u32,
}

impl Sum {
    /// Of both channels: as many moments as of one.
    fn and(self, other: Self) -> Self {
        Self { squares: self.squares + other.squares, ..self }
    }
}

/// Mean powers from the sums of the lower and the upper bands.
fn powers(lower: &[Sum; MICRO], upper: &[Sum; MICRO], gain: &Powers) -> Quarters {
    let mut out = Quarters::default();
    for ((out, lower), upper) in out.iter_mut().zip(lower).zip(upper) {
        for (half, sum) in [lower, upper].into_iter().enumerate() {
            let at = half * HALF;
            let gain = f32x4::new(std::array::from_fn(|lane| gain[at + lane]));
            let mean = sum.squares * gain * f32x4::splat(1.0 / sum.count.max(1) as f32);
            out[at..at + HALF].copy_from_slice(&mean.to_array());
        }
    }
    out
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
    /// up; of two, `apart` gets each alone. The last cell of a passage may be shorter than
    /// `cell_frames`, a multiple of [`MICRO`].
    #[inline(never)]
    pub(super) fn process(
        &mut self,
        input: &[&[f32]],
        cell_frames: usize,
        apart: Option<&mut [Quarters; MAX_CHANNELS]>,
    ) -> Quarters {
        let quarter = (cell_frames / MICRO).max(1);
        match (input, apart) {
            (&[left, right], None) => self.pair::<false>([left, right], quarter)[2],
            (&[left, right], Some(apart)) => {
                let [left, right, both] = self.pair::<true>([left, right], quarter);
                *apart = [left, right];
                both
            }
            (&[only], _) => self.one(only, quarter),
            _ => Quarters::default(),
        }
    }

    fn one(&mut self, input: &[f32], quarter: usize) -> Quarters {
        let (filters, channel) = (self.upper, &mut self.channels[0]);
        let mut upper = [Sum::default(); MICRO];
        for (sum, samples) in upper.iter_mut().zip(input.chunks(quarter)) {
            for &x in samples {
                sum.squares += channel.upper(&filters, x);
            }
            sum.count = samples.len() as u32;
        }
        let lower = channel.lower(&self.lower, input, self.step, quarter);
        powers(&lower, &upper, &self.gain)
    }

    /// Left, right and both; the first two only where `APART`.
    #[inline(always)]
    fn pair<const APART: bool>(
        &mut self,
        [left, right]: [&[f32]; MAX_CHANNELS],
        quarter: usize,
    ) -> [Quarters; 3] {
        // Side by side: either alone would wait for its own last step.
        let (filters, [mut first, mut second]) = (self.upper, self.channels);
        let mut upper = [[Sum::default(); MICRO]; 3];
        let pieces = left.chunks(quarter).zip(right.chunks(quarter)).take(MICRO);
        for (n, (left, right)) in pieces.enumerate() {
            let mut sums = [f32x4::ZERO; 3];
            for (&left, &right) in left.iter().zip(right) {
                let [left, right] = [first.upper(&filters, left), second.upper(&filters, right)];
                if APART {
                    sums[0] += left;
                    sums[1] += right;
                }
                sums[2] += left + right;
            }
            for (upper, squares) in upper.iter_mut().zip(sums) {
                upper[n] = Sum { squares, count: left.len() as u32 };
            }
        }
        let left = first.lower(&self.lower, left, self.step, quarter);
        let right = second.lower(&self.lower, right, self.step, quarter);
        self.channels = [first, second];
        let both = std::array::from_fn(|n| left[n].and(right[n]));
        let [upper_left, upper_right, upper] = &upper;
        let both = powers(&both, upper, &self.gain);
        if APART {
            let [left, right] = [(&left, upper_left), (&right, upper_right)]
                .map(|(lower, upper)| powers(lower, upper, &self.gain));
            [left, right, both]
        } else {
            [Quarters::default(), Quarters::default(), both]
        }
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
                    for quarter in bank.process(&[cell_in, cell_in], cell, None) {
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

    /// Each channel of two is what it is alone, in every quarter, and both are their sum; a short
    /// cell ends a passage.
    #[test]
    fn channels_keep_apart_and_a_short_cell_is_a_mean_too() {
        let noise: Vec<f32> = (0..480).map(|n| (n * 7_919 % 1_009) as f32 / 504.5 - 1.0).collect();
        let other: Vec<f32> = (0..480).map(|n| (n * 5_003 % 1_013) as f32 / 506.5 - 1.0).collect();
        for rate in [32_000.0, 48_000.0] {
            let [mut first, mut second, mut both, mut same] = [(); 4].map(|()| Bank::new(rate));
            for (left, right) in noise.chunks(47).zip(other.chunks(47)) {
                let mut apart = [Quarters::default(); MAX_CHANNELS];
                let sum = both.process(&[left, right], 48, Some(&mut apart));
                assert_eq!(sum, same.process(&[left, right], 48, None), "{rate} Hz");
                let alone = [first.process(&[left], 48, None), second.process(&[right], 48, None)];
                assert_eq!(apart, alone, "{rate} Hz");
                let [left, right] = alone.map(|quarters| quarters.into_iter().flatten());
                for ((left, right), sum) in left.zip(right).zip(sum.into_iter().flatten()) {
                    assert!((left + right - sum).abs() <= 1e-6 * sum, "{left} {right}");
                }
            }
            assert_eq!(first.process(&[&[]], 48, None), Quarters::default());
        }
    }
}
