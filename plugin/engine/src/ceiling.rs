//! The ceiling leak: what a limiter or clipper takes from the hits, told from the mix alone.
//!
//! Every hit leaves a trace. The traces of the last hits give the evidence, the model turns it
//! into a reduction with its range. The last [`evidence::WINDOW`] hits tell how much each new hit
//! lost, and the readings of the whole programme gather that; the last [`t::SECTION_HITS`] are
//! the reading of the present section.

mod evidence;
mod model;
pub(crate) mod trace;
mod verdict;
#[rustfmt::skip]
#[allow(clippy::approx_constant, reason = "fitted numbers, near a constant by chance")]
mod weights;
mod whole;

pub use evidence::{EVIDENCE, ceiling_evidence, evidence_names};
pub use trace::{TRACE, TRACE_NAMES, Trace};

use evidence::{KEPT, WINDOW, Window, Work};
use model::{Estimate, Forest};
use trace::at;
use verdict::Verdict;
use whole::Whole;

use crate::cells::Cells;
use crate::hits::MeasuredHit;
use crate::quantile::quantile;
use crate::thresholds as t;
use crate::{Ceiling, Need, Thresholds};

/// Estimates what a limiter or clipper takes from the hits.
#[derive(Clone, Debug)]
pub(crate) struct CeilingMeter {
    ring: Vec<Trace>,
    /// Hits since reset.
    count: u64,
    /// K-weighted power summed over all cells, and their number.
    energy: f64,
    cells: u64,
    /// Cells when the last work began.
    read_at: u64,
    work: Work,
    forest: Forest,
    job: Option<Job>,
    /// What the last windows said: the present section, and as far back as the estimate looks.
    section: Option<Reading>,
    window: Option<Reading>,
    whole: Whole,
    verdicts: [Verdict; 2],
}

/// A window being worked on.
#[derive(Clone, Copy, Debug)]
struct Job {
    /// Hits that there were when the work began.
    upto: u64,
    /// Most hits of the window.
    most: usize,
}

/// What a window of hits says.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    estimate: Estimate,
    /// Level at which peaks would be pinned, dBTP: their 97th percentile.
    ceiling_dbtp: f64,
    /// Hits of the window at the ceiling.
    at_ceiling: u64,
    /// Where their largest samples would be pinned, dBFS: 97th percentile. Between samples a clipped
    /// wave goes on, so that its true peaks are not.
    top_dbfs: f64,
    /// Hits whose largest sample is there, and those of them with a flat top.
    at_top: u64,
    flat: u64,
    /// Whether the hits at the ceiling are copies of one another: their height then says nothing.
    copies: bool,
    /// Hits that there were when the work on it began.
    upto: u64,
}

impl CeilingMeter {
    pub(crate) fn new() -> Self {
        Self {
            ring: vec![[0.0; TRACE]; KEPT],
            count: 0,
            energy: 0.0,
            cells: 0,
            read_at: 0,
            work: Work::new(),
            forest: Forest::default(),
            job: None,
            section: None,
            window: None,
            whole: Whole::default(),
            verdicts: [Verdict::default(); 2],
        }
    }

    /// Takes note of a cell's K-weighted power.
    pub(crate) fn cell(&mut self, weighted: f32) {
        self.energy += f64::from(weighted);
        self.cells += 1;
    }

    /// Does a little of the work that waits; gives whether there was any.
    #[inline(never)]
    pub(crate) fn work(&mut self) -> bool {
        self.step(false)
    }

    /// Takes note of a hit; gives its lost peak, dB, as the hits before it tell.
    pub(crate) fn hit(&mut self, cells: &Cells, measured: &MeasuredHit) -> Option<f64> {
        let mut trace = trace::trace(cells, &measured.hit, measured.cell, measured.next);
        trace[at::ENERGY] = self.energy;
        trace[at::CELLS] = self.cells as f64;
        let lost = self.window.map(|reading| {
            let hits = window(&self.ring, WINDOW, self.count);
            reading.reduction_db(hits, &trace) * t::LOST_SHARE
        });
        self.ring[(self.count % KEPT as u64) as usize] = trace;
        self.count += 1;
        lost
    }

    /// The newest hit's trace.
    pub(crate) fn newest(&self) -> Option<&Trace> {
        let newest = self.count.checked_sub(1)?;
        Some(&self.ring[(newest % KEPT as u64) as usize])
    }

    /// Ends the work that waits: for the end of a programme.
    pub(crate) fn finish(&mut self) {
        while self.step(true) {}
    }

    /// The leak over the whole programme, and in the present section.
    pub(crate) fn read(&mut self, limits: &Thresholds) -> [Ceiling; 2] {
        let (Some(section), Some(window)) = (self.section, self.window) else {
            let have = self.count.min(u64::from(u32::MAX)) as u32;
            let need = Need::Hits { have, want: t::CEILING_LEAST_HITS };
            return [Ceiling { need, ..Ceiling::default() }; 2];
        };
        let whole = self.whole.reading(&window);
        [self.verdicts[0].judge(&whole, limits), self.verdicts[1].judge(&section, limits)]
    }

    /// Does one piece of the work; gives whether there was any. At the `end` of a programme no hit
    /// is left unread.
    fn step(&mut self, end: bool) -> bool {
        let Some(job) = self.job else {
            let read = self.window.map_or(0, |window| window.upto);
            let new = self.count - read;
            // A few hits at a time, or what there is after a while: one more hit says little.
            let waited = self.cells >= self.read_at + t::CEILING_WAIT_MS;
            let due = new >= t::CEILING_NEW_HITS || (new > 0 && (waited || end));
            if self.count < u64::from(t::CEILING_LEAST_HITS) || !due {
                return false;
            }
            self.read_at = self.cells;
            self.job = Some(Job { upto: self.count, most: t::SECTION_HITS });
            self.work.begin();
            return true;
        };
        let window = window(&self.ring, job.most, job.upto);
        let Some(evidence) = self.work.step(window) else { return true };
        let Some(estimate) = self.forest.step(evidence, window.count) else { return true };
        let mut reading = Reading::new(estimate, window, job.upto);
        if job.most == WINDOW {
            let new = job.upto - self.window.map_or(0, |window| window.upto);
            self.whole.take(&reading, window, new);
            self.window = Some(reading);
            self.job = None;
        } else {
            // Few hits tell little: half of the odds are what they were, even ones at first.
            let before = self.section.map_or(0.0, |section| section.estimate.odds);
            reading.estimate.odds = (before + reading.estimate.odds) / 2.0;
            self.section = Some(reading);
            self.work.begin();
            self.job = Some(Job { most: WINDOW, ..job });
        }
        true
    }

    pub(crate) fn reset(&mut self) {
        self.ring.fill([0.0; TRACE]);
        self.count = 0;
        self.energy = 0.0;
        self.cells = 0;
        self.read_at = 0;
        self.forest = Forest::default();
        self.job = None;
        self.section = None;
        self.window = None;
        self.whole = Whole::default();
        self.verdicts = [Verdict::default(); 2];
    }
}

/// The last traces of the first `upto`, `most` at most.
fn window(ring: &[Trace], most: usize, upto: u64) -> Window<'_> {
    let count = upto.min(most as u64) as usize;
    Window { ring, first: upto - count as u64, count }
}

impl Reading {
    fn new(estimate: Estimate, window: Window<'_>, upto: u64) -> Self {
        let mut heights = [0.0; WINDOW];
        let mut pinned_at = |height_of: fn(&Trace) -> f64| {
            let heights = &mut heights[..window.count];
            for (height, trace) in heights.iter_mut().zip(window.iter()) {
                *height = height_of(trace);
            }
            heights.sort_unstable_by(f64::total_cmp);
            quantile(heights, 0.97)
        };
        let mut reading = Self {
            estimate,
            ceiling_dbtp: pinned_at(|trace| trace[at::PEAK]),
            at_ceiling: 0,
            top_dbfs: pinned_at(largest_sample),
            at_top: 0,
            flat: 0,
            copies: false,
            upto,
        };
        let at_ceiling = window.iter().filter(|trace| reading.pins(trace)).count() as u64;
        let flat = window.iter().filter_map(|trace| reading.flat_at_top(trace));
        let (at_top, flat) = flat.fold((0, 0), |(all, flat), is| (all + 1, flat + u64::from(is)));
        (reading.at_ceiling, reading.at_top, reading.flat) = (at_ceiling, at_top, flat);
        // What a hit's loudest 10 ms have under its peak: music and hands change it from hit to hit.
        let bodies = || {
            let pinned = window.iter().filter(|trace| reading.pins(trace));
            pinned.map(|trace| trace[at::LEVEL] - trace[at::PEAK])
        };
        let mean = bodies().sum::<f64>() / at_ceiling as f64;
        let power = bodies().map(|db| (db - mean).powi(2)).sum::<f64>() / at_ceiling as f64;
        reading.copies = at_ceiling >= t::COPIES_LEAST && power.sqrt() < t::COPIES_DIFFER_DB;
        reading
    }

    /// Whether the hit's peak lies at the ceiling.
    fn pins(&self, trace: &Trace) -> bool {
        trace[at::PEAK] >= self.ceiling_dbtp - t::AT_CEILING_DB
    }

    /// Whether the hit's peak is a run of equal samples; `None` where its largest sample is not at the
    /// top.
    fn flat_at_top(&self, trace: &Trace) -> Option<bool> {
        (largest_sample(trace) >= self.top_dbfs - t::AT_TOP_DB)
            .then(|| trace[at::FLAT] >= f64::from(t::FLAT_SAMPLES))
    }

    /// Reduction of one hit, dB, by its rank among those of `window`.
    fn reduction_db(&self, window: Window<'_>, trace: &Trace) -> f64 {
        self.estimate.at(self.rank(window, trace))
    }

    /// Share of the window's hits that lose less than this one: by height under the ceiling, and
    /// by level among those at it, since there the height says nothing.
    fn rank(&self, window: Window<'_>, trace: &Trace) -> f64 {
        let pinned = self.pins(trace);
        let under = window.iter().filter(|other| match (self.pins(other), pinned) {
            (true, true) => other[at::LEVEL] < trace[at::LEVEL],
            (false, true) => true,
            (true, false) => false,
            (false, false) => other[at::PEAK] < trace[at::PEAK],
        });
        (under.count() as f64 + 0.5) / (window.count as f64 + 1.0)
    }
}

/// Level of a hit's largest sample, dBFS.
fn largest_sample(trace: &Trace) -> f64 {
    trace[at::PEAK] - trace[at::OVER]
}
