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

#[cfg(test)]
mod tests {
    use super::super::trace::TRACE;
    use super::*;

    fn hit(peak: f64, level: f64, over: f64, flat: f64) -> Trace {
        let mut trace = [0.0; TRACE];
        (trace[at::PEAK], trace[at::LEVEL]) = (peak, level);
        (trace[at::OVER], trace[at::FLAT]) = (over, flat);
        trace
    }

    /// Ten hits at -1 dBTP, of which the highest two samples lie 0.5 dB lower and four have flat tops, and ten of
    /// -3 to -12 dBTP.
    fn hits() -> Vec<Trace> {
        let pinned = (0..10).map(|n| {
            let flat = if n < 4 { 5.0 } else { 4.0 };
            hit(-1.0, -12.0 - f64::from(n), if n < 2 { 1.0 } else { 0.5 }, flat)
        });
        pinned.chain((0..10).map(|n| hit(-3.0 - f64::from(n), -20.0, 0.5, 9.0))).collect()
    }

    fn read(hits: &[Trace]) -> Reading {
        let estimate = Estimate {
            median: [1.0, 2.0, 3.0],
            p90: [3.0, 4.0, 5.0],
            most: 5.0,
            ..Estimate::default()
        };
        Reading::new(estimate, Window { ring: hits, first: 0, count: hits.len() }, 77)
    }

    #[test]
    fn hits_at_the_ceiling_are_counted() {
        let reading = read(&hits());
        assert_eq!((reading.ceiling_dbtp, reading.top_dbfs), (-1.0, -1.5));
        assert_eq!((reading.at_ceiling, reading.upto, reading.copies), (10, 77, false));
        // The two whose largest sample lies half a decibel under the others' are not at the top.
        assert_eq!((reading.at_top, reading.flat), (8, 2));
        let near = |db: f64| reading.pins(&hit(-1.0 - db, 0.0, 0.0, 0.0));
        assert!(near(0.29) && !near(0.31));
        let flat = |under: f64, run: f64| reading.flat_at_top(&hit(-1.5 - under, 0.0, 0.0, run));
        assert_eq!(
            (flat(0.09, 5.0), flat(0.09, 4.0), flat(0.11, 9.0)),
            (Some(true), Some(false), None)
        );
    }

    /// Hits of one sample differ in level over peak by next to nothing, and there are eight of them or more.
    #[test]
    fn copies_of_one_hit_are_told() {
        for (count, apart_db, copies) in
            [(8, 0.0, true), (7, 0.0, false), (20, 0.38, true), (20, 0.42, false)]
        {
            // Every other one lies so far from the rest: the deviation is half of it.
            let level = |n: usize| -10.0 + if n.is_multiple_of(2) { apart_db } else { 0.0 };
            let hits: Vec<Trace> = (0..count).map(|n| hit(-1.0, level(n), 0.0, 0.0)).collect();
            assert_eq!(read(&hits).copies, copies, "{count} hits, {apart_db} dB apart");
        }
        // What hits under the ceiling have in common says nothing.
        let mut hits = hits();
        hits.iter_mut().take(5).for_each(|hit| hit[at::PEAK] = -20.0);
        assert!(!read(&hits).copies);
    }

    /// By definition: under the ceiling a hit's height says how much it loses against the others, at the
    /// ceiling its level; straight lines through the median at 0.5, and the 90th percentile at 0.9.
    #[test]
    fn a_hit_loses_by_its_rank() {
        let hits = hits();
        let (reading, window) = (read(&hits), Window { ring: &hits, first: 0, count: hits.len() });
        let want = |under: f64| {
            let rank = (under + 0.5) / 21.0;
            let db =
                if rank < 0.9 { 2.0 + 2.0 * (rank - 0.5) / 0.4 } else { 4.0 + (rank - 0.9) / 0.1 };
            db.max(0.0)
        };
        for (peak, level, under) in [
            (-30.0, 0.0, 0.0),
            (-6.5, 0.0, 6.0),
            (-2.0, 0.0, 10.0),
            (-1.0, -30.0, 10.0),
            (-1.0, -16.5, 15.0),
            (-0.9, 0.0, 20.0),
        ] {
            let got = reading.reduction_db(window, &hit(peak, level, 0.0, 0.0));
            assert!((got - want(under)).abs() < 1e-9, "{peak} dBTP: {got} for {}", want(under));
        }
    }
}
