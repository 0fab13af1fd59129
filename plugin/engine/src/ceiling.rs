//! The ceiling leak: what a limiter or clipper takes from the hits, told from the mix alone.
//!
//! Every hit leaves a trace. The traces of the last hits give the evidence; trees turn it, and
//! a network the traces themselves, into a reduction with its range. The last [`evidence::WINDOW`] hits
//! tell how much each new hit lost, and the readings of the whole programme gather that; the last
//! [`t::SECTION_HITS`] are the reading of the present section.

mod evidence;
mod model;
mod reading;
mod set;
pub(crate) mod trace;
mod tree;
mod verdict;
#[rustfmt::skip]
#[allow(clippy::approx_constant, reason = "fitted numbers, near a constant by chance")]
mod weights;
mod whole;

pub use evidence::{EVIDENCE, ceiling_evidence, evidence_names};
pub use trace::{TRACE, TRACE_NAMES, Trace};

use evidence::{KEPT, WINDOW, Window, Work};
use model::Forest;
use reading::Reading;
use set::Set;
use trace::at;
use verdict::Verdict;
use whole::Whole;

use crate::cells::Cells;
use crate::hits::MeasuredHit;
use crate::loudness::power_of_lufs;
use crate::thresholds as t;
use crate::{Ceiling, MAX_CHANNELS, Need, Thresholds};

/// Estimates what a limiter or clipper takes from the hits.
#[derive(Clone, Debug)]
pub(crate) struct CeilingMeter {
    ring: Vec<Trace>,
    /// Times that a power counts: a single channel as two alike, which a limiter treats as it does one.
    times: f64,
    /// Hits since reset.
    count: u64,
    /// K-weighted power summed over all cells, pauses left out, and their number.
    energy: f64,
    loud: u64,
    cells: u64,
    /// Cells since the last one over the absolute gate.
    quiet: u64,
    cell_s: f64,
    /// The absolute gate as a power.
    gate: f64,
    /// Cells when the last work began.
    read_at: u64,
    work: Work,
    set: Set,
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

impl CeilingMeter {
    /// For a stream of `channels` channels in cells of `cell_s` seconds. Allocates.
    pub(crate) fn new(channels: usize, cell_s: f64) -> Self {
        Self {
            ring: vec![[0.0; TRACE]; KEPT],
            times: MAX_CHANNELS as f64 / channels.max(1) as f64,
            count: 0,
            energy: 0.0,
            loud: 0,
            cells: 0,
            quiet: 0,
            cell_s,
            gate: power_of_lufs(t::ABSOLUTE_GATE_LUFS),
            read_at: 0,
            work: Work::new(),
            set: Set::new(),
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
        let power = f64::from(weighted);
        self.cells += 1;
        self.quiet = if power > self.gate { 0 } else { self.quiet + 1 };
        // A pause says nothing of how loud the music is, nor of how close its hits are.
        if self.quiet <= t::PAUSE_CELLS {
            self.energy += power;
            self.loud += 1;
        }
    }

    /// Whether hits come faster than they are read, so that its work must not wait for any other.
    pub(crate) fn is_behind(&self) -> bool {
        let read = self.window.map_or(0, |window| window.upto);
        let most = if self.window.is_some() { t::CEILING_BEHIND_HITS } else { WINDOW as u64 / 2 };
        self.count - self.job.map_or(read, |job| job.upto) >= most
    }

    /// Does a little of the work that waits; gives whether there was any.
    #[inline(never)]
    pub(crate) fn work(&mut self) -> bool {
        self.step(false)
    }

    /// Takes note of a hit; gives its lost peak, dB, as the hits before it tell.
    pub(crate) fn hit(&mut self, cells: &Cells, measured: &MeasuredHit) -> Option<f64> {
        let mut trace = trace::trace(cells, &measured.hit, measured.cell, measured.next);
        trace::count(&mut trace, self.times);
        trace[at::ENERGY] = self.times * self.energy;
        trace[at::CELLS] = self.loud as f64;
        trace[at::TIME] -= (self.cells - self.loud) as f64 * self.cell_s;
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
            self.begin(Job { upto: self.count, most: t::SECTION_HITS });
            return true;
        };
        if self.count - job.upto > (KEPT - WINDOW) as u64 {
            // Its hits are no longer all kept.
            self.job = None;
            return true;
        }
        let window = window(&self.ring, job.most, job.upto);
        let Some(evidence) = self.work.step(window) else { return true };
        let Some(answers) = self.set.answers() else {
            self.set.step(window, evidence);
            return true;
        };
        let Some(estimate) = self.forest.step(evidence, window.count, answers) else {
            return true;
        };
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
            self.begin(Job { most: WINDOW, ..job });
        }
        true
    }

    fn begin(&mut self, job: Job) {
        self.job = Some(job);
        self.work.begin();
        self.set.begin();
    }

    pub(crate) fn reset(&mut self) {
        self.ring.fill([0.0; TRACE]);
        self.count = 0;
        self.energy = 0.0;
        (self.loud, self.cells, self.quiet) = (0, 0, 0);
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
