//! The coarse search: where in +-500 ms the two streams are alike.
//!
//! The cross-correlation of the decimated streams is kept as cross-spectra, one for each partition
//! of the lags (partitioned overlap-save, both ways in time). A block of one stream, padded with
//! zeros, meets the blocks of the other stream's last half second. Every block carries the same
//! weight but for the fourth root of its energy, so that neither a limiter's gain nor a few loud
//! hits decide. Forgetting is exponential. Nothing happens in one lump: a turn does one stage, and the
//! stages of a block are over before the next is full.

use brunt_transforms::num_complex::Complex;
use wide::f32x4;

use super::pair::{PairTransform, Planes};
use crate::lanes::{LANES, largest};
use crate::thresholds::align as t;

/// Samples of a block.
const BLOCK: usize = t::COARSE_BLOCK;
/// Length of the transforms.
const FFT: usize = 2 * BLOCK;
/// Bins of a transform.
const BINS: usize = BLOCK + 1;
/// Partitions looked through at once: one complex transform is as good as two real ones.
const TOGETHER: usize = 2;
/// Turns between two looks of a search.
const SEARCH_EVERY: usize = 2;
/// The same while the delay is known and holds: all lags are then looked through in 0.4 s instead of
/// 0.1, and a changed delay takes 0.7 s to win anyway.
const WATCH_EVERY: usize = 8;
/// Bins on each side over which a power is smoothed before it whitens: the whitening filter then
/// rings for a fraction of a partition only.
const SMOOTH: usize = 6;

/// What a search over all lags found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Peak {
    /// Main behind side, coarse samples.
    pub(crate) lag: f32,
    /// Magnitude of the correlation there.
    pub(crate) height: f32,
    /// Largest magnitude within a few samples of the tracked lag.
    pub(crate) tracked: f32,
    /// RMS of the correlation over all lags.
    pub(crate) rms: f32,
}

/// Correlates two decimated streams.
pub(crate) struct Coarse {
    pair: PairTransform,
    /// The last whole block and the one being filled, of main and side.
    fill: [[f32; FFT]; 2],
    filled: usize,
    /// The same, on their way through the stages.
    taken: [[f32; FFT]; 2],
    /// Spectra of the newest block, padded.
    padded: [Planes; 2],
    /// Spectra of the last blocks of each stream, in rings.
    past: [Box<[Planes]>; 2],
    /// Cross-spectra: main after side, then side after main, a partition each.
    cross: [Box<[Planes]>; 2],
    /// Mean power of each stream's bins, and the weight made from both.
    power: [[f32; BINS]; 2],
    weight: [f32; BINS],
    /// Magnitudes of a partition's correlation, and of the one sample behind it.
    heights: [f32; BLOCK + 1],
    /// Running mean of a block's energy, a stream.
    mean_energy: [f32; 2],
    /// Blocks seen.
    blocks: u64,
    /// Blocks in the time that is remembered.
    settled: u64,
    /// Next stage of the block in `taken`.
    stage: usize,
    parts: usize,
    parts_a_turn: usize,
    keep: f32,
    search: Search,
}

/// A search on its way over the partitions.
#[derive(Clone, Copy, Debug, Default)]
struct Search {
    turns: usize,
    next: usize,
    best: Peak,
    sum: f64,
    count: usize,
}

impl std::fmt::Debug for Coarse {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Coarse").field("blocks", &self.blocks).finish_non_exhaustive()
    }
}

/// The first stages of a block: two transforms, and the weights. Partitions follow.
const FIRST_PARTS: usize = 3;

impl Coarse {
    /// `rate_hz`: rate of the decimated streams; `turn_s`: time from one turn to the next. Allocates.
    pub(crate) fn new(rate_hz: f64, turn_s: f64) -> Self {
        let parts = (t::ALIGN_REACH_S * rate_hz / BLOCK as f64).ceil() as usize + 1;
        let block_s = BLOCK as f64 / rate_hz;
        let turns_a_block = (block_s / turn_s) as usize;
        let planes = || vec![Planes::new(BINS); parts].into_boxed_slice();
        Self {
            pair: PairTransform::new(FFT),
            fill: [[0.0; FFT]; 2],
            filled: 0,
            taken: [[0.0; FFT]; 2],
            padded: std::array::from_fn(|_| Planes::new(BINS)),
            past: [planes(), planes()],
            cross: [planes(), planes()],
            power: [[0.0; BINS]; 2],
            weight: [0.0; BINS],
            heights: [0.0; BLOCK + 1],
            mean_energy: [0.0; 2],
            blocks: 0,
            stage: usize::MAX,
            parts,
            parts_a_turn: (2 * parts)
                .div_ceil(turns_a_block.saturating_sub(FIRST_PARTS + 1).max(1)),
            settled: (t::COARSE_MEMORY_S / block_s) as u64,
            keep: (-block_s / t::COARSE_MEMORY_S).exp() as f32,
            search: Search::default(),
        }
    }

    /// Takes one pair of decimated samples.
    pub(crate) fn push(&mut self, main: f32, side: f32) {
        self.fill[0][BLOCK + self.filled] = main;
        self.fill[1][BLOCK + self.filled] = side;
        self.filled += 1;
        if self.filled == BLOCK {
            self.filled = 0;
            self.taken = self.fill;
            for fill in &mut self.fill {
                fill.copy_within(BLOCK.., 0);
            }
            self.stage = 0;
        }
    }

    /// Does a share of the work; gives what a search found when it ends. `tracked`: lag under watch,
    /// coarse samples; `holds`: whether it is known to be the delay, and there is no hurry.
    pub(crate) fn turn(&mut self, tracked: Option<f32>, holds: bool) -> Option<Peak> {
        self.search.turns += 1;
        match self.stage {
            0 => {
                self.transform(0);
                self.stage = 1;
                return None;
            }
            1 => {
                self.transform(1);
                self.stage = 2;
                return None;
            }
            2 => {
                self.note_powers();
                self.stage = FIRST_PARTS;
            }
            stage if stage < usize::MAX => {
                let from = (stage - FIRST_PARTS) * self.parts_a_turn;
                for part in from..(from + self.parts_a_turn).min(2 * self.parts) {
                    self.multiply(part);
                }
                self.stage += 1;
                if from + self.parts_a_turn >= 2 * self.parts {
                    self.blocks += 1;
                    self.stage = usize::MAX;
                }
            }
            _ => {}
        }
        let every = if holds { WATCH_EVERY } else { SEARCH_EVERY };
        if self.search.turns < every {
            return None;
        }
        // What was put off by a transform is made up for.
        self.search.turns -= every;
        self.look(tracked)
    }

    /// Both spectra of the newest block of one stream.
    fn transform(&mut self, stream: usize) {
        let newest = (self.blocks % self.parts as u64) as usize;
        let taken = &self.taken[stream];
        let energy = |x: &[f32]| x.iter().map(|x| x * x).sum::<f32>();
        let (whole, last) = (energy(taken), energy(&taken[BLOCK..]));
        let mean = &mut self.mean_energy[stream];
        *mean = mean.max(last) * self.keep + (1.0 - self.keep) * last;
        // A quiet block is left out of both roles.
        let level = |energy: f32| {
            if energy > t::QUIET_SHARE * *mean && energy > 1e-9 { energy.powf(-0.25) } else { 0.0 }
        };
        let (by_whole, by_last) = (level(whole), level(last));
        for (n, (out, x)) in self.pair.time.iter_mut().zip(taken).enumerate() {
            let padded = if n < BLOCK { taken[BLOCK + n] * by_last } else { 0.0 };
            *out = Complex::new(x * by_whole, padded);
        }
        self.pair.forward(&mut self.past[stream][newest], &mut self.padded[stream]);
    }

    fn note_powers(&mut self) {
        for (power, spectrum) in self.power.iter_mut().zip(&self.padded) {
            for (bin, power) in power.iter_mut().enumerate() {
                *power = *power * self.keep + spectrum.power(bin);
            }
        }
        // Smoothed by the sums up to each bin.
        let mut up_to = [[0.0f64; BINS + 1]; 2];
        for (up_to, power) in up_to.iter_mut().zip(&self.power) {
            for (bin, power) in power.iter().enumerate() {
                up_to[bin + 1] = up_to[bin] + f64::from(*power);
            }
        }
        for bin in 0..BINS {
            let (from, to) = (bin.saturating_sub(SMOOTH), (bin + SMOOTH + 1).min(BINS));
            let [main, side] = up_to.each_ref().map(|up_to| up_to[to] - up_to[from]);
            let product = (main * side / ((to - from) as f64).powi(2)) as f32;
            self.weight[bin] = if product > 1e-20 { product.sqrt().recip() } else { 0.0 };
        }
        self.weight[0] = 0.0;
        self.weight[BINS - 1] = 0.0;
    }

    /// Brings one partition's cross-spectrum up to date. Partitions of the second half are those
    /// of side after main.
    fn multiply(&mut self, part: usize) {
        let (way, part) = (part / self.parts, part % self.parts);
        let newest = self.blocks % self.parts as u64;
        if part as u64 > self.blocks {
            return;
        }
        let old = ((newest + self.parts as u64 - part as u64) % self.parts as u64) as usize;
        let (now, before) = (&self.padded[way], &self.past[1 - way][old]);
        let keep = self.keep;
        let sum = &mut self.cross[way][part];
        let [x_re, x_im, y_re, y_im] =
            [&now.re, &now.im, &before.re, &before.im].map(|plane| &plane[..BINS]);
        let (re, im) = (&mut sum.re[..BINS], &mut sum.im[..BINS]);
        for bin in 0..BINS {
            re[bin] = re[bin] * keep + (x_re[bin] * y_re[bin] + x_im[bin] * y_im[bin]);
            im[bin] = im[bin] * keep + (x_re[bin] * y_im[bin] - x_im[bin] * y_re[bin]);
        }
    }

    /// Looks through the next partitions; gives the peak after the last.
    fn look(&mut self, tracked: Option<f32>) -> Option<Peak> {
        let place = |next: usize| (next / self.parts, next % self.parts);
        let [first, second] = [0, 1].map(|k| place(self.search.next + k));
        let (x, y) = (&self.cross[first.0][first.1], &self.cross[second.0][second.1]);
        self.pair.inverse(x, y, &self.weight);
        for (k, (way, part)) in [first, second].into_iter().enumerate() {
            let height = |value: &Complex<f32>| if k == 0 { value.re } else { value.im }.abs();
            for (out, value) in self.heights.iter_mut().zip(&self.pair.time) {
                *out = height(value);
            }
            self.search.take(&self.heights, way, part, tracked);
        }
        self.search.next += TOGETHER;
        if self.search.next < 2 * self.parts {
            return None;
        }
        let mut peak = self.search.best;
        peak.rms = (self.search.sum / self.search.count as f64).sqrt() as f32;
        self.search = Search::default();
        Some(peak)
    }

    /// Whether so much was heard that one moment does not decide.
    pub(crate) fn is_settled(&self) -> bool {
        self.blocks >= self.settled
    }

    pub(crate) fn reset(&mut self) {
        self.fill = [[0.0; FFT]; 2];
        self.filled = 0;
        self.stage = usize::MAX;
        self.past.iter_mut().chain(&mut self.cross).flatten().for_each(Planes::clear);
        self.power = [[0.0; BINS]; 2];
        self.mean_energy = [0.0; 2];
        self.blocks = 0;
        self.search = Search::default();
    }
}

impl Search {
    /// Takes the heights of a partition's correlation.
    fn take(&mut self, heights: &[f32; BLOCK + 1], way: usize, part: usize, tracked: Option<f32>) {
        let sign = if way == 0 { 1.0 } else { -1.0 };
        // Sample m of a partition is the lag of (part + 1) blocks less m.
        let end = ((part + 1) * BLOCK) as f32;
        let lag = |m: usize| sign * (end - m as f32);
        let (mut most, mut sum) = (f32x4::ZERO, f32x4::ZERO);
        for four in heights[..BLOCK].as_chunks::<LANES>().0 {
            let four = f32x4::new(*four);
            most = most.fast_max(four);
            sum += four * four;
        }
        self.sum += f64::from(sum.reduce_add());
        self.count += BLOCK;
        if largest(most) > self.best.height
            && let Some(m) = heights.iter().position(|height| *height == largest(most))
        {
            self.best.height = largest(most);
            self.best.lag = lag(m);
        }
        if let Some(at) = tracked {
            let middle = end - sign * at;
            let near = (middle as i64 - 5).clamp(0, BLOCK as i64) as usize
                ..(middle as i64 + 6).clamp(0, BLOCK as i64) as usize;
            for m in near.filter(|m| (at - lag(*m)).abs() <= 4.0) {
                self.best.tracked = self.best.tracked.max(heights[m]);
            }
        }
        // The lag of zero, at the far end of the first partition only.
        if part == 0 && heights[BLOCK] > self.best.height {
            self.best.height = heights[BLOCK];
            self.best.lag = 0.0;
        }
    }
}
