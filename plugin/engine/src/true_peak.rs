//! True peak (ITU-R BS.1770-5, Annex 2): the largest value between the samples, found by
//! interpolating four times.
//!
//! Where no value between the samples can be larger than one that is known already, none is worked
//! out: a bound by the curvature of the samples tells. The largest value is the same to the bit.

use wide::f32x4;

use crate::lanes::{LANES, larger, largest, load};

/// The first phase of the interpolator: BS.1770-5, Annex 2. The fourth is its mirror image.
const PHASE_0: [f32; TAPS] = [
    0.001_708_984_375_0,
    0.010_986_328_125_0,
    -0.019_653_320_312_5,
    0.033_203_125_000_0,
    -0.059_448_242_187_5,
    0.137_329_101_562_5,
    0.972_167_968_750_0,
    -0.102_294_921_875_0,
    0.047_607_421_875_0,
    -0.026_611_328_125_0,
    0.014_892_578_125_0,
    -0.008_300_781_250_0,
];
/// The second phase. The third is its mirror image.
const PHASE_1: [f32; TAPS] = [
    -0.029_174_804_687_5,
    0.029_296_875_000_0,
    -0.051_757_812_500_0,
    0.089_111_328_125_0,
    -0.166_503_906_250_0,
    0.465_087_890_625_0,
    0.779_785_156_250_0,
    -0.200_317_382_812_5,
    0.101_562_500_000_0,
    -0.058_227_539_062_5,
    0.033_081_054_687_5,
    -0.018_920_898_437_5,
];

const TAPS: usize = 12;
const HALF: usize = TAPS / 2;
const PAST: usize = TAPS - 1;
/// Frames handled at once; more than that is done in turns.
const CHUNK: usize = 64;

/// Blocks of four frames in a chunk, and as many more as are looked at in passing.
const BLOCKS: usize = CHUNK / LANES + 2 * LANES;
/// Samples that four blocks reach.
const PIECE: usize = LANES * LANES + 2 * LANES;
/// Samples that all blocks reach.
const WINDOW: usize = LANES * BLOCKS + PIECE;
/// The sample in the middle of the interpolator's reach; a phase lies between it and the next.
const MIDDLE: usize = 5;

/// A phase and its mirror image share their products: with `e` the sum and `o` the difference of
/// two samples that lie symmetrically, one phase is `E + O` and the other `E - O`, where `E` and
/// `O` weight `e` and `o` with these halves. The larger magnitude of the two is `|E| + |O|`.
const EVEN_0: [f32; HALF] = halves(&PHASE_0, 1.0);
const ODD_0: [f32; HALF] = halves(&PHASE_0, -1.0);
const EVEN_1: [f32; HALF] = halves(&PHASE_1, 1.0);
const ODD_1: [f32; HALF] = halves(&PHASE_1, -1.0);

const fn halves(phase: &[f32; TAPS], sign: f32) -> [f32; HALF] {
    let mut half = [0.0; HALF];
    let mut k = 0;
    while k < HALF {
        // Exact: the standard's coefficients are multiples of 2^-13.
        half[k] = (phase[k] + sign * phase[PAST - k]) * 0.5;
        k += 1;
    }
    half
}

/// A phase `p` is a straight line between the two samples around it plus a weighted sum of second
/// differences: `a x[5] + b x[6] + sum d[k] (x[k] - 2 x[k + 1] + x[k + 2])`. So no interpolated
/// value is larger than `line` times the larger of the two samples plus `curve` times the largest
/// of the second differences. A thousandth more stands above any rounding: the samples reached are
/// at most 22 times the two plus 60 times the second differences, and rounding leaves 1.5e-6 of
/// that.
struct Bound {
    line: f32,
    curve: f32,
}

const BOUND_0: Bound = bound(&PHASE_0);
const BOUND_1: Bound = bound(&PHASE_1);

const fn bound(phase: &[f32; TAPS]) -> Bound {
    let (mut sum, mut moment) = (0.0, 0.0);
    let mut k = 0;
    while k < TAPS {
        sum += phase[k] as f64;
        moment += (k as f64 - 5.0) * phase[k] as f64;
        k += 1;
    }
    let line = [sum - moment, moment];
    let (mut once, mut twice, mut curve) = (0.0, 0.0, 0.0);
    k = 0;
    while k < TAPS {
        once += phase[k] as f64 - if k == 5 || k == 6 { line[k - 5] } else { 0.0 };
        twice += once;
        curve += if twice < 0.0 { -twice } else { twice };
        k += 1;
    }
    // Both ends of the line count with the same sign in the standard's phases.
    assert!(line[0] > 0.0 && line[1] > 0.0);
    Bound { line: (1.001 * (line[0] + line[1])) as f32, curve: (1.001 * curve) as f32 }
}

/// The largest magnitudes of a piece, linear, 1 being full scale.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    /// Largest sample.
    pub sample: f32,
    /// Largest sample or interpolated value, whichever is larger.
    pub inter: f32,
}

/// Finds the peaks of one channel.
///
/// Interpolated values lie 5 to 6 frames behind the newest sample, so a peak between samples is
/// reported up to 6 frames late. The standard's table, made for 48 kHz, is used at every rate;
/// the interpolation is fourfold throughout. How the stream is cut into calls changes no bit of
/// the maximum over them.
#[derive(Clone, Debug)]
pub struct TruePeak {
    /// The last samples of the past, then the chunk at hand, then room for what the last blocks
    /// reach.
    window: [f32; WINDOW],
}

impl Default for TruePeak {
    fn default() -> Self {
        Self::new()
    }
}

impl TruePeak {
    /// Remembers silence.
    #[must_use]
    pub fn new() -> Self {
        Self { window: [0.0; WINDOW] }
    }

    /// Largest magnitudes of this piece. Samples must be finite.
    pub fn process(&mut self, input: &[f32]) -> Peaks {
        let sample = sample_peak(input);
        Peaks { sample, inter: self.raise(input, sample) }
    }

    /// The largest of `known` and of all values between the samples of this piece. Samples must be
    /// finite. The more is known, the less is to be done.
    #[inline(never)]
    pub(crate) fn raise(&mut self, input: &[f32], known: f32) -> f32 {
        let mut most = known;
        for chunk in input.chunks(CHUNK) {
            let frames = chunk.len();
            self.window[PAST..PAST + frames].copy_from_slice(chunk);
            most = self.interpolated(frames, most);
            self.window.copy_within(frames..frames + PAST, 0);
        }
        most
    }

    /// Writes the magnitude of each frame into `out`, linear: the larger of the frame's sample and
    /// of the four values between the samples 6 and 5 frames before it. Samples must be finite;
    /// `out` is as long as `input`, or the longer one is cut.
    pub fn magnitudes(&mut self, input: &[f32], out: &mut [f32]) {
        for (chunk, out) in input.chunks(CHUNK).zip(out.chunks_mut(CHUNK)) {
            let frames = chunk.len().min(out.len());
            self.window[PAST..PAST + frames].copy_from_slice(&chunk[..frames]);
            for at in (0..frames).step_by(LANES) {
                let now = self.step(at).to_array();
                for (lane, out) in out[at..frames].iter_mut().take(LANES).enumerate() {
                    *out = larger(now[lane], self.window[PAST + at + lane].abs());
                }
            }
            self.window.copy_within(frames..frames + PAST, 0);
        }
    }

    /// Forgets the past.
    pub fn reset(&mut self) {
        self.window.fill(0.0);
    }

    /// The larger of `known` and the largest interpolated magnitude of the first `frames` frames of
    /// the chunk.
    fn interpolated(&self, frames: usize, known: f32) -> f32 {
        let blocks = frames.div_ceil(LANES);
        // Of each block of four frames: largest second difference and largest sample. What lies
        // behind the chunk is old, and only makes the bound of the last blocks wider.
        let (mut bends, mut ends) = ([0.0f32; BLOCKS], [0.0f32; BLOCKS]);
        for first in (0..blocks + LANES - 1).step_by(LANES) {
            let Some(piece) = self.window[LANES * first..].first_chunk::<PIECE>() else { break };
            let bend = |block: usize| {
                let at = LANES * block;
                let middle = four(piece, at + 1);
                (four(piece, at) - (middle + middle) + four(piece, at + 2)).abs()
            };
            let end = |block: usize| four(piece, LANES * block + MIDDLE).abs();
            let bend = largest_each([bend(0), bend(1), bend(2), bend(3)]);
            let end = largest_each([end(0), end(1), end(2), end(3)]);
            bends[first..first + LANES].copy_from_slice(&bend);
            ends[first..first + LANES].copy_from_slice(&end);
        }
        let mut bounds = [0.0f32; BLOCKS];
        for first in (0..blocks).step_by(LANES) {
            // Twelve samples back from four frames: thirteen second differences.
            let bend = load(&bends, first)
                .fast_max(load(&bends, first + 1))
                .fast_max(load(&bends, first + 2).fast_max(load(&bends, first + 3)));
            let end = load(&ends, first).fast_max(load(&ends, first + 1));
            let reach = |by: Bound| end * f32x4::splat(by.line) + bend * f32x4::splat(by.curve);
            let bound = reach(BOUND_0).fast_max(reach(BOUND_1));
            bounds[first..first + LANES].copy_from_slice(&bound.to_array());
        }
        // The block that may hold the largest first: what it holds leaves out most of the others.
        let bounds = &mut bounds[..blocks];
        let widest = bounds.iter().fold(0.0f32, |most, &bound| larger(most, bound));
        let mut most = known;
        if widest > most
            && let Some(block) = bounds.iter().position(|&bound| bound == widest)
        {
            most = self.block(block, frames, most);
            bounds[block] = 0.0;
        }
        for (block, &bound) in bounds.iter().enumerate() {
            if bound > most {
                most = self.block(block, frames, most);
            }
        }
        most
    }

    /// The larger of `known` and the largest interpolated magnitude of a block of four frames.
    fn block(&self, block: usize, frames: usize, known: f32) -> f32 {
        let at = LANES * block;
        let now = self.step(at);
        if at + LANES <= frames {
            return larger(known, largest(now));
        }
        // What the last lanes read lies behind the chunk, so they do not count.
        now.to_array()[..frames - at].iter().fold(known, |most, &x| larger(most, x))
    }

    /// Largest magnitude of the four phases, for each of the frames from `at` on.
    #[inline(always)]
    fn step(&self, at: usize) -> f32x4 {
        let mut even_0 = f32x4::ZERO;
        let mut odd_0 = f32x4::ZERO;
        let mut even_1 = f32x4::ZERO;
        let mut odd_1 = f32x4::ZERO;
        let Some(window) = self.window[at..].first_chunk::<{ LANES + PAST }>() else {
            return f32x4::ZERO;
        };
        for k in 0..HALF {
            let (old, new) = (four(window, k), four(window, PAST - k));
            let (sum, difference) = (old + new, old - new);
            even_0 += f32x4::splat(EVEN_0[k]) * sum;
            odd_0 += f32x4::splat(ODD_0[k]) * difference;
            even_1 += f32x4::splat(EVEN_1[k]) * sum;
            odd_1 += f32x4::splat(ODD_1[k]) * difference;
        }
        (even_0.abs() + odd_0.abs()).fast_max(even_1.abs() + odd_1.abs())
    }
}

/// Four of the samples, from `at` on.
#[inline(always)]
fn four<const N: usize>(samples: &[f32; N], at: usize) -> f32x4 {
    f32x4::new([samples[at], samples[at + 1], samples[at + 2], samples[at + 3]])
}

/// The largest number of each of four blocks.
#[inline(always)]
fn largest_each(blocks: [f32x4; LANES]) -> [f32; LANES] {
    let [a, b, c, d] = f32x4::transpose(blocks);
    a.fast_max(b).fast_max(c.fast_max(d)).to_array()
}

/// Largest magnitude of samples that are finite.
pub(crate) fn sample_peak(samples: &[f32]) -> f32 {
    let (fours, rest) = samples.as_chunks::<LANES>();
    let most = fours.iter().fold(f32x4::ZERO, |most, four| most.fast_max(f32x4::new(*four).abs()));
    rest.iter().fold(largest(most), |most, x| larger(most, x.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::noise::noise;
    use std::f64::consts::PI;

    /// The standard's interpolation written out: four phases of twelve taps, in f64.
    fn plain(input: &[f32]) -> f64 {
        let mirror = |phase: &[f32; TAPS]| {
            let mut phase = *phase;
            phase.reverse();
            phase
        };
        let phases = [PHASE_0, PHASE_1, mirror(&PHASE_1), mirror(&PHASE_0)];
        let mut best = 0.0_f64;
        for n in 0..input.len() {
            for phase in &phases {
                let y: f64 = (0..TAPS.min(n + 1))
                    .map(|k| f64::from(phase[k]) * f64::from(input[n - k]))
                    .sum();
                best = best.max(y.abs());
            }
        }
        best
    }

    #[test]
    fn shared_products_give_the_four_phases() {
        for seed in 0..50 {
            let input = noise(37 + 11 * seed as usize, seed);
            let peaks = TruePeak::new().process(&input);
            let sample = input.iter().fold(0.0_f32, |a, x| a.max(x.abs()));
            assert_eq!(peaks.sample, sample);
            let want = plain(&input).max(f64::from(sample));
            assert!((f64::from(peaks.inter) - want).abs() < 1e-6 * want, "seed {seed}");
        }
    }

    #[test]
    fn cutting_changes_no_bit() {
        let input = noise(3_000, 9);
        let want = TruePeak::new().process(&input);
        for size in [1, 2, 7, 11, 48, 64, 255, 257, 1_000] {
            let mut cut = TruePeak::new();
            let got = input.chunks(size).map(|piece| cut.process(piece)).fold(
                Peaks::default(),
                |a, b| Peaks { sample: a.sample.max(b.sample), inter: a.inter.max(b.inter) },
            );
            assert_eq!(got, want, "pieces of {size}");
        }
    }

    #[test]
    fn the_largest_of_the_magnitudes_is_the_peak() {
        for (seed, frames) in [(1, 1), (2, 7), (3, 300), (4, 1_000)] {
            let input = noise(frames, seed);
            let want = TruePeak::new().process(&input).inter;
            for size in [1, 9, 256, 1_000] {
                let mut meter = TruePeak::new();
                let mut out = vec![0.0; frames];
                for (piece, out) in input.chunks(size).zip(out.chunks_mut(size)) {
                    meter.magnitudes(piece, out);
                }
                assert_eq!(out.iter().fold(0.0_f32, |a, &x| a.max(x)), want, "pieces of {size}");
            }
        }
    }

    /// What is left out can hold no peak: signals from smooth to rough, most of them such that the
    /// bound leaves much out, against all values worked out.
    #[test]
    fn the_bound_changes_no_bit() {
        let rough = noise(2_400, 5);
        let kinds: [&dyn Fn(usize) -> f32; 7] = [
            &|n| (n as f32 * 0.01).sin(),
            &|n| 0.8 * (n as f32 * 0.02).sin() + 0.01 * rough[n],
            &|n| (n as f32 * 0.02).sin() * 0.5 + 0.2 * rough[n],
            &|n| if n % 97 == 13 { 0.9 } else { 0.001 * rough[n] },
            &|n| if n % 200 < 100 { 0.7 } else { -0.7 },
            &|n| (n % 150) as f32 / 150.0,
            &|n| (-((n % 300) as f32) / 40.0).exp() * rough[n] + 0.3 * (n as f32 * 0.03).sin(),
        ];
        for (kind, value) in kinds.iter().enumerate() {
            let input: Vec<f32> = (0..2_400).map(value).collect();
            for size in [7, 48, 240, 600] {
                let (mut bounded, mut whole) = (TruePeak::new(), TruePeak::new());
                let mut out = vec![0.0; size];
                for piece in input.chunks(size) {
                    whole.magnitudes(piece, &mut out[..piece.len()]);
                    let want = out[..piece.len()].iter().copied().fold(0.0, larger);
                    assert_eq!(bounded.process(piece).inter, want, "kind {kind}, pieces of {size}");
                }
            }
            assert_eq!(TruePeak::new().raise(&input, 3.0), 3.0, "kind {kind}");
        }
    }

    #[test]
    fn interpolation_reads_tech_3341_15_to_19() {
        // What the Annex 2 filter itself gives for the sines of EBU Tech 3341, cases 15-19, in
        // the steady state: computed from the coefficients of the standard, 0.001 dB.
        for (case, per_cycle, amplitude, degrees, want) in [
            (15, 4.0, 0.50, 0.0, -6.218),
            (16, 4.0, 0.50, 45.0, -5.976),
            (17, 6.0, 0.50, 60.0, -6.316),
            (18, 8.0, 0.50, 67.5, -6.028),
            (19, 4.0, 1.41, 45.0, 3.029),
        ] {
            let phase = f64::to_radians(degrees);
            let input: Vec<f32> = (0..960)
                .map(|n| (amplitude * (2.0 * PI * f64::from(n) / per_cycle + phase).sin()) as f32)
                .collect();
            let mut meter = TruePeak::new();
            meter.process(&input[..480]);
            meter.window[PAST..PAST + 48].copy_from_slice(&input[480..528]);
            let got = 20.0 * f64::from(meter.interpolated(48, 0.0)).log10();
            assert!((got - want).abs() < 0.001, "case {case}: {got} dBTP for {want}");
        }
    }
}
