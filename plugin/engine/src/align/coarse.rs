//! The coarse search: where in +-500 ms the two streams are alike.
//!
//! The cross-correlation of the decimated streams is kept as cross-spectra, one for each partition
//! of the lags (partitioned overlap-save, both ways in time). A block of one stream, padded with
//! zeros, meets the blocks of the other stream's last half second. Every block carries the same
//! weight but for the fourth root of its energy, so that neither a limiter's gain nor a few loud
//! hits decide. Forgetting is exponential. Nothing happens in one lump: a cell does one stage, and
//! the stages of a block are over before the next is full.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::thresholds::align as t;

/// Samples of a block.
const BLOCK: usize = t::COARSE_BLOCK;
/// Length of the transforms.
const FFT: usize = 2 * BLOCK;
/// Bins of a transform.
const BINS: usize = BLOCK + 1;
/// Cells between two partitions of a search.
const SEARCH_EVERY: usize = 2;
/// Bins on each side over which a power is smoothed before it whitens: the whitening filter then
/// rings for a fraction of a partition only.
const SMOOTH: usize = 6;

type Bins = [Complex<f32>; BINS];
const NOTHING: Bins = [Complex { re: 0.0, im: 0.0 }; BINS];

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
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    scratch: Box<[Complex<f32>]>,
    time: Box<[f32]>,
    work: Box<[Complex<f32>]>,
    /// The last whole block and the one being filled, of main and side.
    fill: [[f32; FFT]; 2],
    filled: usize,
    /// The same, on their way through the stages.
    taken: [[f32; FFT]; 2],
    /// Spectra of the newest block, padded.
    padded: [Bins; 2],
    /// Spectra of the last blocks of each stream, in rings.
    past: [Box<[Bins]>; 2],
    /// Cross-spectra: main after side, then side after main, a partition each.
    cross: [Box<[Bins]>; 2],
    /// Mean power of each stream's bins, and the weight made from both.
    power: [[f32; BINS]; 2],
    weight: [f32; BINS],
    /// Running mean of a block's energy, a stream.
    mean_energy: [f32; 2],
    /// Blocks seen.
    blocks: u64,
    /// Next stage of the block in `taken`.
    stage: usize,
    parts: usize,
    parts_a_cell: usize,
    keep: f32,
    search: Search,
}

/// A search on its way over the partitions.
#[derive(Clone, Copy, Debug, Default)]
struct Search {
    cells: usize,
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

/// The first stages of a block: transforms, two a cell. Partitions follow.
const FIRST_PARTS: usize = 2;

impl Coarse {
    /// `rate_hz`: rate of the decimated streams; `cell_s`: length of a cell. Allocates.
    pub(crate) fn new(rate_hz: f64, cell_s: f64) -> Self {
        let mut planner = RealFftPlanner::<f32>::new();
        let (forward, inverse) = (planner.plan_fft_forward(FFT), planner.plan_fft_inverse(FFT));
        let parts = (t::ALIGN_REACH_S * rate_hz / BLOCK as f64).ceil() as usize + 1;
        let block_s = BLOCK as f64 / rate_hz;
        let cells_a_block = (block_s / cell_s) as usize;
        let scratch = forward.get_scratch_len().max(inverse.get_scratch_len());
        Self {
            forward,
            inverse,
            scratch: vec![Complex::default(); scratch].into(),
            time: vec![0.0; FFT].into(),
            work: vec![Complex::default(); BINS].into(),
            fill: [[0.0; FFT]; 2],
            filled: 0,
            taken: [[0.0; FFT]; 2],
            padded: [NOTHING; 2],
            past: std::array::from_fn(|_| vec![NOTHING; parts].into()),
            cross: std::array::from_fn(|_| vec![NOTHING; parts].into()),
            power: [[0.0; BINS]; 2],
            weight: [0.0; BINS],
            mean_energy: [0.0; 2],
            blocks: 0,
            stage: usize::MAX,
            parts,
            parts_a_cell: (2 * parts)
                .div_ceil(cells_a_block.saturating_sub(FIRST_PARTS + 1).max(1)),
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

    /// Does one cell's share of the work; gives what a search found when it ends. `tracked`: lag
    /// under watch, coarse samples.
    pub(crate) fn cell(&mut self, tracked: Option<f32>) -> Option<Peak> {
        match self.stage {
            0 => {
                self.transform(0);
                self.stage = 1;
            }
            1 => {
                self.transform(1);
                self.note_powers();
                self.stage = FIRST_PARTS;
            }
            stage if stage < usize::MAX => {
                let from = (stage - FIRST_PARTS) * self.parts_a_cell;
                for part in from..(from + self.parts_a_cell).min(2 * self.parts) {
                    self.multiply(part);
                }
                self.stage += 1;
                if from + self.parts_a_cell >= 2 * self.parts {
                    self.blocks += 1;
                    self.stage = usize::MAX;
                }
            }
            _ => {}
        }
        self.search.cells += 1;
        if self.search.cells < SEARCH_EVERY {
            return None;
        }
        self.search.cells = 0;
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
        for (out, x) in self.time.iter_mut().zip(taken) {
            *out = x * by_whole;
        }
        let done = self.forward.process_with_scratch(
            &mut self.time,
            &mut self.past[stream][newest],
            &mut self.scratch[..self.forward.get_scratch_len()],
        );
        debug_assert!(done.is_ok(), "lengths are the plan's own");
        for (out, x) in self.time[..BLOCK].iter_mut().zip(&taken[BLOCK..]) {
            *out = x * by_last;
        }
        self.time[BLOCK..].fill(0.0);
        let done = self.forward.process_with_scratch(
            &mut self.time,
            &mut self.padded[stream],
            &mut self.scratch[..self.forward.get_scratch_len()],
        );
        debug_assert!(done.is_ok(), "lengths are the plan's own");
    }

    fn note_powers(&mut self) {
        for stream in 0..2 {
            for (power, x) in self.power[stream].iter_mut().zip(&self.padded[stream]) {
                *power = *power * self.keep + x.norm_sqr();
            }
        }
        // Smoothed sums of both powers, by running sums.
        let [main, side] = &self.power;
        for bin in 0..BINS {
            let (from, to) = (bin.saturating_sub(SMOOTH), (bin + SMOOTH + 1).min(BINS));
            let mean = |x: &[f32]| x[from..to].iter().sum::<f32>() / (to - from) as f32;
            let product = mean(main) * mean(side);
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
        for ((sum, x), y) in self.cross[way][part].iter_mut().zip(now).zip(before) {
            let product = x.conj() * y;
            *sum = Complex::new(sum.re * keep + product.re, sum.im * keep + product.im);
        }
    }

    /// Looks through one partition; gives the peak after the last.
    fn look(&mut self, tracked: Option<f32>) -> Option<Peak> {
        let (way, part) = (self.search.next / self.parts, self.search.next % self.parts);
        for ((out, x), w) in self.work.iter_mut().zip(&self.cross[way][part]).zip(&self.weight) {
            *out = x * w;
        }
        self.work[0].im = 0.0;
        self.work[BINS - 1].im = 0.0;
        let done = self.inverse.process_with_scratch(
            &mut self.work,
            &mut self.time,
            &mut self.scratch[..self.inverse.get_scratch_len()],
        );
        debug_assert!(done.is_ok(), "lengths are the plan's own");
        let sign = if way == 0 { 1.0 } else { -1.0 };
        // Sample m of a partition is the lag of (part + 1) blocks less m.
        let lag = |m: usize| sign * (((part + 1) * BLOCK) as f32 - m as f32);
        let search = &mut self.search;
        for m in 0..BLOCK {
            let height = self.time[m].abs();
            search.sum += f64::from(height * height);
            if height > search.best.height {
                search.best.height = height;
                search.best.lag = lag(m);
            }
            if tracked.is_some_and(|at| (at - lag(m)).abs() <= 4.0) {
                search.best.tracked = search.best.tracked.max(height);
            }
        }
        // The lag of zero, at the far end of the first partition only.
        if part == 0 && self.time[BLOCK].abs() > search.best.height {
            search.best.height = self.time[BLOCK].abs();
            search.best.lag = 0.0;
        }
        search.count += BLOCK;
        search.next += 1;
        if search.next < 2 * self.parts {
            return None;
        }
        let mut peak = search.best;
        peak.rms = (search.sum / search.count as f64).sqrt() as f32;
        self.search = Search::default();
        Some(peak)
    }

    pub(crate) fn reset(&mut self) {
        self.fill = [[0.0; FFT]; 2];
        self.filled = 0;
        self.stage = usize::MAX;
        for stream in 0..2 {
            self.past[stream].fill(NOTHING);
            self.cross[stream].fill(NOTHING);
        }
        self.power = [[0.0; BINS]; 2];
        self.mean_energy = [0.0; 2];
        self.blocks = 0;
        self.search = Search::default();
    }
}
