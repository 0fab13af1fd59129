//! True peak (ITU-R BS.1770-5, Annex 2): the largest value between the samples, found by
//! interpolating four times.

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
const CHUNK: usize = 256;
/// Samples worked on side by side.
const LANES: usize = 8;

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
    /// The last samples of the past, then the chunk at hand, then room for a last full step.
    window: [f32; PAST + CHUNK + LANES],
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
        Self { window: [0.0; PAST + CHUNK + LANES] }
    }

    /// Largest magnitudes of this piece. Samples must be finite.
    pub fn process(&mut self, input: &[f32]) -> Peaks {
        let mut peaks = Peaks::default();
        for chunk in input.chunks(CHUNK) {
            let frames = chunk.len();
            self.window[PAST..PAST + frames].copy_from_slice(chunk);
            let sample = largest(chunk);
            peaks.sample = larger(peaks.sample, sample);
            peaks.inter = larger(peaks.inter, larger(sample, self.interpolated(frames)));
            self.window.copy_within(frames..frames + PAST, 0);
        }
        peaks
    }

    /// Writes the magnitude of each frame into `out`, linear: the larger of the frame's sample and
    /// of the four values between the samples 6 and 5 frames before it. Samples must be finite;
    /// `out` is as long as `input`, or the longer one is cut.
    pub fn magnitudes(&mut self, input: &[f32], out: &mut [f32]) {
        for (chunk, out) in input.chunks(CHUNK).zip(out.chunks_mut(CHUNK)) {
            let frames = chunk.len().min(out.len());
            self.window[PAST..PAST + frames].copy_from_slice(&chunk[..frames]);
            for at in (0..frames).step_by(LANES) {
                let now = self.step(at);
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

    /// Largest interpolated magnitude of the first `frames` frames of the chunk.
    fn interpolated(&self, frames: usize) -> f32 {
        let mut best = [0.0; LANES];
        let mut at = 0;
        while at + LANES <= frames {
            let now = self.step(at);
            for lane in 0..LANES {
                best[lane] = larger(best[lane], now[lane]);
            }
            at += LANES;
        }
        if at < frames {
            // What the last lanes read lies behind the chunk, so they do not count.
            let now = self.step(at);
            for lane in 0..frames - at {
                best[lane] = larger(best[lane], now[lane]);
            }
        }
        best.into_iter().fold(0.0, larger)
    }

    /// Largest magnitude of the four phases, for each of the frames from `at` on.
    #[inline(always)]
    fn step(&self, at: usize) -> [f32; LANES] {
        let mut window = [0.0; LANES + PAST];
        window.copy_from_slice(&self.window[at..at + LANES + PAST]);
        let mut even_0 = [0.0; LANES];
        let mut odd_0 = [0.0; LANES];
        let mut even_1 = [0.0; LANES];
        let mut odd_1 = [0.0; LANES];
        for k in 0..HALF {
            for lane in 0..LANES {
                let old = window[lane + k];
                let new = window[lane + PAST - k];
                let sum = old + new;
                let difference = old - new;
                even_0[lane] += EVEN_0[k] * sum;
                odd_0[lane] += ODD_0[k] * difference;
                even_1[lane] += EVEN_1[k] * sum;
                odd_1[lane] += ODD_1[k] * difference;
            }
        }
        let mut magnitude = [0.0; LANES];
        for lane in 0..LANES {
            magnitude[lane] = larger(
                even_0[lane].abs() + odd_0[lane].abs(),
                even_1[lane].abs() + odd_1[lane].abs(),
            );
        }
        magnitude
    }
}

/// Largest magnitude of a slice.
fn largest(samples: &[f32]) -> f32 {
    let mut best = [0.0; LANES];
    let mut steps = samples.chunks_exact(LANES);
    for step in &mut steps {
        for lane in 0..LANES {
            best[lane] = larger(best[lane], step[lane].abs());
        }
    }
    let rest = steps.remainder().iter().fold(0.0, |a, x| larger(a, x.abs()));
    best.into_iter().fold(rest, larger)
}

/// The larger of two numbers that are not NaN: one instruction, where [`f32::max`] is four.
#[inline(always)]
fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;
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

    fn noise(frames: usize, seed: u32) -> Vec<f32> {
        let mut state = seed;
        (0..frames)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 8) as f32 / (1_u32 << 23) as f32 - 1.0
            })
            .collect()
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
            meter.window[PAST..PAST + 240].copy_from_slice(&input[480..720]);
            let got = 20.0 * f64::from(meter.interpolated(240)).log10();
            assert!((got - want).abs() < 0.001, "case {case}: {got} dBTP for {want}");
        }
    }
}
