//! The reduction over the whole programme, gathered hit by hit.

use super::evidence::Window;
use super::model::Estimate;
use super::{Reading, has_flat_top};
use crate::histogram::Histogram;

/// Largest reduction that is told apart, dB, and the width of a step.
const MOST_DB: f64 = 40.0;
const STEP_DB: f64 = 0.05;

/// Gathers what each window says of the hits that are new in it.
#[derive(Clone, Debug)]
pub(super) struct Whole {
    reductions: Histogram,
    /// Sums over hits of the ranges' ends less their best estimates, and of the largest.
    median_ends: [f64; 2],
    p90_ends: [f64; 2],
    most: f64,
    hits: f64,
    at_ceiling: u64,
    flat: u64,
}

impl Whole {
    /// Allocates.
    pub(super) fn new() -> Self {
        Self {
            reductions: Histogram::new(0.0, MOST_DB, STEP_DB),
            median_ends: [0.0; 2],
            p90_ends: [0.0; 2],
            most: 0.0,
            hits: 0.0,
            at_ceiling: 0,
            flat: 0,
        }
    }

    /// Takes the last `new` hits of `window` at what `reading` says of it. While the window holds
    /// every hit so far, all of them are taken anew: a reading of few hits is a rough one, and those
    /// it was rough about would stay in the top tenth.
    pub(super) fn take(&mut self, reading: &Reading, window: Window<'_>, new: u64) {
        let all = window.count as u64;
        let new = if reading.upto == all {
            self.reset();
            all
        } else {
            new
        };
        let known = window.count.saturating_sub(new as usize);
        for trace in window.iter().skip(known) {
            self.reductions.add(reading.reduction_db(window, trace));
            if reading.pins(trace) {
                self.at_ceiling += 1;
                self.flat += u64::from(has_flat_top(trace));
            }
        }
        let weight = new as f64;
        let Estimate { median, p90, most } = reading.estimate;
        for (sums, [low, best, high]) in
            [(&mut self.median_ends, median), (&mut self.p90_ends, p90)]
        {
            sums[0] += weight * (low - best);
            sums[1] += weight * (high - best);
        }
        self.most += weight * most;
        self.hits += weight;
    }

    /// The reading of the whole programme; `last` is that of the last window.
    pub(super) fn reading(&self, last: &Reading) -> Reading {
        let [median, p90] = self.reductions.quantiles([0.5, 0.9]).unwrap_or_default();
        // The first bin is half a step wide at most: nothing is nothing.
        let least = |db: f64| if db < STEP_DB { 0.0 } else { db };
        let range = |best: f64, ends: [f64; 2]| {
            [(best + ends[0] / self.hits).max(0.0), best, best + ends[1] / self.hits]
        };
        let (median, p90) = (least(median), least(p90));
        Reading {
            estimate: Estimate {
                median: range(median, self.median_ends),
                p90: range(p90, self.p90_ends),
                most: (self.most / self.hits).max(p90),
            },
            at_ceiling: self.at_ceiling,
            flat: self.flat,
            ..*last
        }
    }

    pub(super) fn reset(&mut self) {
        self.reductions.reset();
        self.median_ends = [0.0; 2];
        self.p90_ends = [0.0; 2];
        (self.most, self.hits) = (0.0, 0.0);
        (self.at_ceiling, self.flat) = (0, 0);
    }
}
