//! Loudness and peak readings, from one energy and two peaks every hop.
//!
//! Windows slide by one hop (10 ms). A window counts once it lies wholly inside the programme,
//! so momentary loudness starts after 400 ms and short-term loudness after 3 s: neither is ever
//! read from a part of its window. Gating blocks of the integrated loudness are 400 ms long and
//! start every 100 ms (BS.1770-5, Annex 1); the windows of the loudness range are 3 s long and
//! start every second (EBU Tech 3342 asks for an overlap of at least 2 s).
//!
//! Memory is flat and every hop does a bounded amount of work. Sliding sums are summed anew each
//! hop, and long sums only ever grow, so nothing drifts: after 24 h a sum of a million blocks in
//! f64 is still right to 1e-10.

mod bins;
mod level;
mod psr;
mod window;

use crate::Loudness;
use crate::decibels::magnitude_db;
use crate::thresholds::ABSOLUTE_GATE_LUFS;
use bins::LevelBins;
pub use level::{lufs, power_of_lufs};
use psr::PsrGrid;
use window::Windows;

/// Length of the momentary window and of a gating block, s: EBU Tech 3341, 2.2; BS.1770-5, Annex 1.
const MOMENTARY_S: f64 = 0.4;
/// Length of the short-term window, s: EBU Tech 3341, 2.2.
const SHORT_TERM_S: f64 = 3.0;
/// Distance between the starts of gating blocks, s: a quarter of a block (BS.1770-5, Annex 1).
const BLOCK_STEP_S: f64 = 0.1;
/// Distance between the starts of the windows of the loudness range, s: the largest that EBU
/// Tech 3342 allows, and what the `ebur128` crate uses.
const RANGE_STEP_S: f64 = 1.0;
/// Relative gate of the integrated loudness, LU under the mean above the absolute gate: BS.1770-5.
const RELATIVE_GATE_LU: f64 = 10.0;
/// Relative gate of the loudness range, LU, likewise: EBU Tech 3342.
const RANGE_GATE_LU: f64 = 20.0;
/// The percentiles between which the loudness range lies: EBU Tech 3342.
const RANGE_PERCENTILES: [f64; 2] = [0.10, 0.95];
/// Loudness, LUFS, and peak, dBFS, under which there is silence and no number. Ours: one step of
/// a 24-bit sample is -138 dBFS.
const SILENCE_DB: f64 = -140.0;

/// Loudness, LUFS; `None` for silence.
fn audible_lufs(power: f64) -> Option<f64> {
    Some(lufs(power)).filter(|l| *l >= SILENCE_DB)
}

/// Level of a magnitude, dB re full scale; `None` for silence.
fn audible_db(magnitude: f32) -> Option<f64> {
    Some(magnitude_db(f64::from(magnitude))).filter(|db| *db >= SILENCE_DB)
}

/// Momentary and integrated loudness alone, for a bus that needs no more.
#[derive(Clone, Debug)]
pub(crate) struct BusLoudness {
    windows: Windows,
    blocks: Blocks,
}

impl BusLoudness {
    /// For a stream of `rate_hz`, cut into hops of `hop_frames` frames.
    pub(crate) fn new(rate_hz: f64, hop_frames: usize) -> Self {
        let steps = Steps::new(rate_hz, hop_frames);
        Self { windows: Windows::new(steps.windows(), hop_frames), blocks: Blocks::new(&steps) }
    }

    /// Takes one hop: the sum of the squares of its weighted samples, over all channels.
    pub(crate) fn hop(&mut self, weighted_sum_of_squares: f64) {
        self.windows.push(weighted_sum_of_squares, 0.0);
        self.blocks.hop(&self.windows);
    }

    /// Momentary loudness, LUFS.
    pub(crate) fn momentary_lufs(&self) -> Option<f64> {
        self.windows.momentary().and_then(audible_lufs)
    }

    /// Integrated loudness, LUFS.
    pub(crate) fn integrated_lufs(&self) -> Option<f64> {
        self.blocks.integrated_lufs
    }

    /// Forgets everything.
    pub(crate) fn reset(&mut self) {
        self.windows.reset();
        self.blocks.reset();
    }
}

/// All readings of [`Loudness`].
#[derive(Clone, Debug)]
pub(crate) struct LoudnessStats {
    steps: Steps,
    windows: Windows,
    blocks: Blocks,
    range: LevelBins,
    psr: PsrGrid,
    hops: u64,
    momentary_max: f64,
    short_term_max: f64,
    true_peak: f32,
    sample_peak: f32,
    readings: Loudness,
}

impl LoudnessStats {
    /// For a stream of `rate_hz`, cut into hops of `hop_frames` frames. The windows are the whole
    /// numbers of hops next to their lengths in seconds.
    pub(crate) fn new(rate_hz: f64, hop_frames: usize) -> Self {
        let steps = Steps::new(rate_hz, hop_frames);
        Self {
            windows: Windows::new(steps.windows(), hop_frames),
            blocks: Blocks::new(&steps),
            range: LevelBins::new(),
            psr: PsrGrid::new(),
            hops: 0,
            momentary_max: 0.0,
            short_term_max: 0.0,
            true_peak: 0.0,
            sample_peak: 0.0,
            readings: Loudness::default(),
            steps,
        }
    }

    /// Takes one hop.
    ///
    /// `weighted_sum_of_squares` is summed over the hop's frames and all channels, each of weight
    /// 1. The peaks are the largest of any channel within the hop, linear.
    #[inline(never)]
    pub(crate) fn hop(&mut self, weighted_sum_of_squares: f64, true_peak: f32, sample_peak: f32) {
        self.hops += 1;
        self.windows.push(weighted_sum_of_squares, true_peak);
        self.true_peak = self.true_peak.max(true_peak);
        self.sample_peak = self.sample_peak.max(sample_peak);
        let new_block = self.blocks.hop(&self.windows);

        let momentary = self.windows.momentary();
        let short_term = self.windows.short_term();
        self.momentary_max = self.momentary_max.max(momentary.unwrap_or(0.0));
        self.short_term_max = self.short_term_max.max(short_term.unwrap_or(0.0));

        let out = &mut self.readings;
        out.momentary_lufs = momentary.and_then(audible_lufs);
        out.short_term_lufs = short_term.and_then(audible_lufs);
        out.momentary_max_lufs = audible_lufs(self.momentary_max);
        out.short_term_max_lufs = audible_lufs(self.short_term_max);
        out.integrated_lufs = self.blocks.integrated_lufs;
        out.psr_db = difference(
            audible_db(self.windows.short_term_peak()),
            out.short_term_lufs.filter(|l| *l > ABSOLUTE_GATE_LUFS),
        );

        if let (true, Some(gate)) = (new_block, self.blocks.gate_lufs) {
            if let (Some(psr), Some(short_term)) = (out.psr_db, out.short_term_lufs) {
                self.psr.push(short_term, psr);
            }
            self.psr.set_gate(gate);
            out.psr_min_db = self.psr.min();
            out.psr_median_db = self.psr.median();
        }
        if let Some(power) = short_term
            && (self.hops - self.steps.short_term as u64).is_multiple_of(self.steps.range as u64)
        {
            self.range.push(power);
            out.range_lu = range_lu(&self.range);
        }
        self.read_peaks();
    }

    /// Brings the peaks and what hangs on them up to date.
    fn read_peaks(&mut self) {
        let out = &mut self.readings;
        out.true_peak_dbtp = audible_db(self.true_peak);
        out.sample_peak_dbfs = audible_db(self.sample_peak);
        out.plr_db = difference(out.true_peak_dbtp, out.integrated_lufs);
    }

    /// Everything since the last reset, as of the last hop.
    pub(crate) fn readings(&self) -> Loudness {
        self.readings
    }

    /// Takes the peaks of a hop that the end of the programme cut short. Its energy belongs to no
    /// whole window and counts nowhere, but a peak is a peak.
    pub(crate) fn last_peaks(&mut self, true_peak: f32, sample_peak: f32) {
        self.true_peak = self.true_peak.max(true_peak);
        self.sample_peak = self.sample_peak.max(sample_peak);
        self.read_peaks();
    }

    /// Forgets everything.
    pub(crate) fn reset(&mut self) {
        self.windows.reset();
        self.blocks.reset();
        self.range.reset();
        self.psr.reset();
        self.hops = 0;
        (self.momentary_max, self.short_term_max) = (0.0, 0.0);
        (self.true_peak, self.sample_peak) = (0.0, 0.0);
        self.readings = Loudness::default();
    }
}

fn difference(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    Some(a? - b?)
}

/// Loudness range, LU, from the 3 s windows above the absolute gate. Two of them at least: one
/// value has no range.
fn range_lu(windows: &LevelBins) -> Option<f64> {
    let gate = power_of_lufs(lufs(windows.all().mean()?) - RANGE_GATE_LU);
    let gated = windows.above(gate);
    if gated.count < 2 {
        return None;
    }
    let level = |p: f64| windows.percentile(gated.count, p).map(lufs);
    difference(level(RANGE_PERCENTILES[1]), level(RANGE_PERCENTILES[0]))
}

/// Lengths in hops.
#[derive(Clone, Copy, Debug)]
struct Steps {
    momentary: usize,
    short_term: usize,
    block: usize,
    range: usize,
}

impl Steps {
    fn new(rate_hz: f64, hop_frames: usize) -> Self {
        let hops = |seconds: f64| ((seconds * rate_hz / hop_frames as f64).round() as usize).max(1);
        Self {
            momentary: hops(MOMENTARY_S),
            short_term: hops(SHORT_TERM_S),
            block: hops(BLOCK_STEP_S),
            range: hops(RANGE_STEP_S),
        }
    }

    fn windows(&self) -> [usize; 2] {
        [self.momentary, self.short_term]
    }
}

/// The gating blocks of the integrated loudness.
#[derive(Clone, Debug)]
struct Blocks {
    step: usize,
    first: usize,
    hops: usize,
    bins: LevelBins,
    /// The relative gate, LUFS, never under the absolute one.
    gate_lufs: Option<f64>,
    integrated_lufs: Option<f64>,
}

impl Blocks {
    fn new(steps: &Steps) -> Self {
        Self {
            step: steps.block,
            first: steps.momentary,
            hops: 0,
            bins: LevelBins::new(),
            gate_lufs: None,
            integrated_lufs: None,
        }
    }

    /// Counts a hop that `windows` has taken, and says whether a block ended with it.
    fn hop(&mut self, windows: &Windows) -> bool {
        self.hops += 1;
        if self.hops < self.first {
            return false;
        }
        // The counter starts over within one step, so that it can run for ever.
        self.hops -= self.step;
        if let Some(power) = windows.momentary() {
            self.bins.push(power);
        }
        if let Some(mean) = self.bins.all().mean() {
            let gate = (lufs(mean) - RELATIVE_GATE_LU).max(ABSOLUTE_GATE_LUFS);
            self.gate_lufs = Some(gate);
            self.integrated_lufs = self.bins.above(power_of_lufs(gate)).mean().map(lufs);
        }
        true
    }

    fn reset(&mut self) {
        self.hops = 0;
        self.bins.reset();
        (self.gate_lufs, self.integrated_lufs) = (None, None);
    }
}

#[cfg(test)]
mod tests;
