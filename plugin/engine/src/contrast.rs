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
