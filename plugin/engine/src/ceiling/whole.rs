//! The reduction over the whole programme: the mean of what its windows say.
//!
//! A window's 90th percentile is a rough number. Were the windows' hits gathered and the top tenth
//! taken of them all, it would be that of the windows which err upwards; a mean errs less than each.

use super::evidence::Window;
use super::model::Estimate;
use super::reading::Reading;

/// Weighted sums over the readings of the windows.
#[derive(Clone, Debug, Default)]
pub(super) struct Whole {
    median: [f64; 3],
    p90: [f64; 3],
    most: f64,
    odds: f64,
    unlike: f64,
    doubt: f64,
    crest: f64,
    /// Of the weight, what goes to windows whose hits at the ceiling are copies.
    copies: f64,
    weight: f64,
    at_ceiling: u64,
    at_top: u64,
    flat: u64,
}

impl Whole {
    /// Takes what `reading` says of `window`, whose last `new` hits are new. It weighs as much as
    /// there are new hits. While the window holds every hit so far, it takes the place of what was
    /// said before: a reading of few hits is a rough one.
    pub(super) fn take(&mut self, reading: &Reading, window: Window<'_>, new: u64) {
        if reading.upto == window.count as u64 {
            *self = Self::default();
        }
        let new_ones = if self.weight == 0.0 { window.count } else { new as usize };
        for trace in window.iter().skip(window.count.saturating_sub(new_ones)) {
            self.at_ceiling += u64::from(reading.pins(trace));
            if let Some(flat) = reading.flat_at_top(trace) {
                self.at_top += 1;
                self.flat += u64::from(flat);
            }
        }
        let weight = new as f64;
        let Estimate { median, p90, most, odds, unlike, doubt, crest } = reading.estimate;
        for (sums, said) in [(&mut self.median, median), (&mut self.p90, p90)] {
            for (sum, db) in sums.iter_mut().zip(said) {
                *sum += weight * db;
            }
        }
        self.most += weight * most;
        self.odds += weight * odds;
        self.unlike += weight * unlike;
        self.doubt += weight * doubt;
        self.crest += weight * crest;
        self.copies += weight * f64::from(u8::from(reading.copies));
        self.weight += weight;
    }

    /// The reading of the whole programme; `last` is that of the last window.
    pub(super) fn reading(&self, last: &Reading) -> Reading {
        let mean = |sum: f64| sum / self.weight;
        Reading {
            estimate: Estimate {
                median: self.median.map(mean),
                p90: self.p90.map(mean),
                most: mean(self.most),
                odds: mean(self.odds),
                unlike: mean(self.unlike),
                doubt: mean(self.doubt),
                crest: mean(self.crest),
            },
            at_ceiling: self.at_ceiling,
            at_top: self.at_top,
            flat: self.flat,
            copies: mean(self.copies) > 0.5,
            ..*last
        }
    }
}
