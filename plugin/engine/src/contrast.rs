//! Hit contrast over the programme and over the recent hits.

use crate::Punch;
use crate::histogram::Histogram;
use crate::thresholds::{CONTRAST_MOST_DB, HIT_CONTRAST_DB};

pub(crate) use crate::quantile::quantile;

/// Number of hits in the recent set: about four bars of a rock beat (kick and snare).
pub const RECENT_HITS: usize = 32;

/// Bin width of the contrast histogram, dB.
const STEP_DB: f64 = 0.02;

/// Percentiles of hit contrast.
#[derive(Clone, Debug)]
pub(crate) struct ContrastStats {
    all: Histogram,
    recent: [f64; RECENT_HITS],
    count: u64,
    /// What was last read from the histogram, and at how many hits.
    read: Punch,
}

impl ContrastStats {
    pub(crate) fn new() -> Self {
        Self::with_least(HIT_CONTRAST_DB)
    }

    /// For contrasts from `least_db` up; what lies under it counts as that.
    pub(crate) fn with_least(least_db: f64) -> Self {
        Self {
            all: Histogram::new(least_db, CONTRAST_MOST_DB + STEP_DB, STEP_DB),
            recent: [0.0; RECENT_HITS],
            count: 0,
            read: Punch::default(),
        }
    }

    pub(crate) fn add(&mut self, contrast_db: f64) {
        self.all.add(contrast_db);
        self.recent[(self.count % RECENT_HITS as u64) as usize] = contrast_db;
        self.count += 1;
    }

    /// Over all hits since reset.
    pub(crate) fn all(&mut self) -> Punch {
        if self.read.hits != self.count
            && let Some([p10, median, p90]) = self.all.quantiles([0.1, 0.5, 0.9])
        {
            self.read = Punch {
                contrast_db: Some(median),
                contrast_p10_db: Some(p10),
                contrast_p90_db: Some(p90),
                hits: self.count,
            };
        }
        self.read
    }

    /// Over the last [`RECENT_HITS`].
    pub(crate) fn recent(&self) -> Punch {
        let count = self.count.min(RECENT_HITS as u64) as usize;
        if count == 0 {
            return Punch::default();
        }
        let mut sorted = self.recent;
        let sorted = &mut sorted[..count];
        sorted.sort_unstable_by(f64::total_cmp);
        let at = |q: f64| Some(quantile(sorted, q));
        Punch {
            contrast_db: at(0.5),
            contrast_p10_db: at(0.1),
            contrast_p90_db: at(0.9),
            hits: count as u64,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.all.reset();
        self.count = 0;
        self.read = Punch::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: Option<f64>, want: f64, slack: f64) {
        assert!(got.is_some_and(|got| (got - want).abs() <= slack), "{got:?} for {want}");
    }

    /// By hand: of forty hits of 1 to 40 dB the last 32 are those from 9 dB on, whose quantiles (Hyndman &
    /// Fan 1996, definition 7) lie at 9 dB and 31 dB times the share.
    #[test]
    fn the_last_hits_are_thirty_two() {
        let mut stats = ContrastStats::new();
        assert_eq!(stats.recent(), Punch::default());
        stats.add(7.0);
        assert_eq!((stats.recent().contrast_db, stats.recent().hits), (Some(7.0), 1));
        stats.reset();
        (1..=40).for_each(|db| stats.add(f64::from(db)));
        let recent = stats.recent();
        assert_eq!(recent.hits, 32);
        near(recent.contrast_db, 24.5, 1e-9);
        near(recent.contrast_p10_db, 12.1, 1e-9);
        near(recent.contrast_p90_db, 36.9, 1e-9);
    }

    /// Closed form: quantiles of an even spread, to half a bin of 0.02 dB; none of nothing.
    #[test]
    fn all_hits_count_until_a_reset() {
        let mut stats = ContrastStats::with_least(-40.0);
        assert_eq!(stats.all(), Punch::default());
        (0..=3_000).for_each(|n| stats.add(f64::from(n) * 0.02 - 30.0));
        let all = stats.all();
        assert_eq!(all.hits, 3_001);
        near(all.contrast_db, 0.0, 0.021);
        near(all.contrast_p10_db, -24.0, 0.021);
        near(all.contrast_p90_db, 24.0, 0.021);
        (0..3_001).for_each(|_| stats.add(40.0));
        near(stats.all().contrast_p90_db, 40.0, 0.021);
        stats.reset();
        assert_eq!((stats.all(), stats.recent()), (Punch::default(), Punch::default()));
    }
}
