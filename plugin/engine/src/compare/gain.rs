//! The constant gain between two aligned streams, found from moments without reduction.
//!
//! Over time the level ratio of the two is the constant gain less whatever a limiter takes at that
//! moment. Where the limiter rests, the ratio stands still at its largest value: the topmost place
//! where ratios crowd is the constant gain.

use crate::thresholds::compare as t;

/// Width of a bin, dB.
const STEP_DB: f64 = 0.05;
/// Range of ratios, dB, either way.
const MOST_DB: f64 = 60.0;
/// Bins of a crowd: 0.2 dB.
const CROWD: usize = 4;
const BINS: usize = (2.0 * MOST_DB / STEP_DB) as usize;

/// Counts level ratios.
#[derive(Clone, Debug)]
pub(crate) struct GainFinder {
    counts: Box<[u32]>,
    total: u64,
    highest: usize,
    /// Gain, dB, and half of its 90 % range.
    found: Option<(f64, f64)>,
}

impl GainFinder {
    /// Allocates.
    pub(crate) fn new() -> Self {
        Self { counts: vec![0; BINS].into(), total: 0, highest: 0, found: None }
    }

    /// Takes the ratio of one moment, dB.
    pub(crate) fn add(&mut self, ratio_db: f64) {
        if ratio_db.is_nan() || ratio_db.abs() >= MOST_DB {
            return;
        }
        let bin = (((ratio_db + MOST_DB) / STEP_DB) as usize).min(BINS - 1);
        self.counts[bin] = self.counts[bin].saturating_add(1);
        self.total += 1;
        self.highest = self.highest.max(bin);
    }

    /// The gain, dB, and half of its 90 % range, as last brought up to date.
    pub(crate) fn gain_db(&self) -> Option<(f64, f64)> {
        self.found
    }

    /// Brings the gain up to date: a walk down the counts from the top.
    pub(crate) fn update(&mut self) {
        if self.total < t::GAIN_LEAST_MOMENTS {
            return;
        }
        let least = (self.total as f64 * t::GAIN_CROWD_SHARE).max(3.0) as u64;
        let crowd = |top: usize| -> u64 {
            let from = (top + 1).saturating_sub(CROWD);
            self.counts[from..=top].iter().map(|&count| u64::from(count)).sum()
        };
        let mut top = self.highest;
        while top > CROWD && crowd(top) < least {
            top -= 1;
        }
        // From the edge of the crowd down to its middle, and no further than a spread could be.
        let lowest = top.saturating_sub((t::GAIN_SPREAD_DB / STEP_DB) as usize).max(CROWD);
        let best = (lowest..=top).rev().max_by_key(|&at| crowd(at)).unwrap_or(top);
        let from = (best + 1).saturating_sub(CROWD);
        let (mut sum, mut count) = (0.0, 0.0);
        for bin in from..=best {
            let here = f64::from(self.counts[bin]);
            sum += here * (bin as f64 + 0.5);
            count += here;
        }
        if count > 0.0 {
            let gain = sum / count * STEP_DB - MOST_DB;
            let edge = self.highest.min(top) as f64 * STEP_DB - MOST_DB;
            self.found = Some((gain, (edge - gain).max(0.0) + t::GAIN_RANGE_DB));
        }
    }

    pub(crate) fn reset(&mut self) {
        self.counts.fill(0);
        self.total = 0;
        self.highest = 0;
        self.found = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A limiter that rests for a tenth of the time: the gain is that of the rest.
    #[test]
    fn the_gain_is_that_of_the_moments_without_reduction() {
        for (resting, spread) in [(0.1, 0.0), (0.5, 0.0), (0.9, 0.0), (0.3, 0.1)] {
            let mut finder = GainFinder::new();
            for k in 0..2_000 {
                let part = f64::from(k) / 2_000.0;
                let wobble = spread * (f64::from(k * 37 % 100) / 50.0 - 1.0);
                let reduction = if part < resting {
                    0.0
                } else {
                    0.5 + 6.0 * f64::from(k * 7919 % 997) / 997.0
                };
                finder.add(4.3 - reduction + wobble);
            }
            finder.update();
            let (gain, range) = finder.gain_db().expect("enough moments");
            assert!((gain - 4.3).abs() < 0.05 + spread / 2.0, "{resting}: {gain}");
            assert!(range >= (gain - 4.3).abs(), "{resting}: {range}");
        }
    }
}
