//! What a window of hits says: the model's estimate, and which hits lie at the ceiling.

use super::evidence::{WINDOW, Window};
use super::model::Estimate;
use super::trace::{Trace, at};
use crate::quantile::quantile;
use crate::thresholds as t;

/// What a window of hits says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading {
    pub(super) estimate: Estimate,
    /// Level at which peaks would be pinned, dBTP: their 97th percentile.
    pub(super) ceiling_dbtp: f64,
    /// Hits of the window at the ceiling.
    pub(super) at_ceiling: u64,
    /// Where their largest samples would be pinned, dBFS: 97th percentile. Between samples a clipped
    /// wave goes on, so that its true peaks are not.
    pub(super) top_dbfs: f64,
    /// Hits whose largest sample is there, and those of them with a flat top.
    pub(super) at_top: u64,
    pub(super) flat: u64,
    /// Whether the hits at the ceiling are copies of one another: their height then says nothing.
    pub(super) copies: bool,
    /// Hits that there were when the work on it began.
    pub(super) upto: u64,
}

impl Reading {
    pub(super) fn new(estimate: Estimate, window: Window<'_>, upto: u64) -> Self {
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
    pub(super) fn pins(&self, trace: &Trace) -> bool {
        trace[at::PEAK] >= self.ceiling_dbtp - t::AT_CEILING_DB
    }

    /// Whether the hit's peak is a run of equal samples; `None` where its largest sample is not at the
    /// top.
    pub(super) fn flat_at_top(&self, trace: &Trace) -> Option<bool> {
        (largest_sample(trace) >= self.top_dbfs - t::AT_TOP_DB)
            .then(|| trace[at::FLAT] >= f64::from(t::FLAT_SAMPLES))
    }

    /// Reduction of one hit, dB, by its rank among those of `window`.
    pub(super) fn reduction_db(&self, window: Window<'_>, trace: &Trace) -> f64 {
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
