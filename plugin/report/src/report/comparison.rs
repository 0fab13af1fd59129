//! How a comparison is made of the engine's readings, with what it says.

use brunt_engine::{Compare, Readings, Relation, SideRole};

use super::compare::{BandDifference, CompareReport, ThirdDifference};
use crate::words;

impl CompareReport {
    /// The engine's comparison with a side-chain.
    #[must_use]
    pub fn new(compare: &Compare, file: Option<String>) -> Self {
        let [low, mid, high] = compare.band_difference_db.unwrap_or_default();
        let mut report = Self {
            role: words::role_word(compare.role).to_owned(),
            file,
            relation: words::relation_word(compare.alignment.relation).to_owned(),
            delay_ms: compare.alignment.delay_ms,
            inverted: compare.alignment.inverted,
            likeness: compare.alignment.likeness,
            ..Self::default()
        };
        // Without a relation nothing that was set side by side means anything.
        if compare.role != SideRole::Before || compare.alignment.relation == Relation::Found {
            report.gain_db = compare.gain_db;
            report.gain_range_db = compare.gain_range_db;
            report.limiter_rests = compare.limiter_rests;
            report.loudness_difference_lu = compare.loudness_difference_lu;
            report.equalised = compare.equalised;
            report.contrast_difference_db = compare.contrast_difference_db;
            report.band_difference_db = BandDifference { low, mid, high };
            report.lost_db_median = compare.lost_db_median;
            report.reduction_db_median = compare.reduction_db_median;
            report.reduction_db_p90 = compare.reduction_db_p90;
            report.reduction_db_max = compare.reduction_db_max;
            report.hits = compare.hits;
        }
        report.says = words::compare_says(&report);
        report
    }

    /// Says so where the other covers few of the mix's hits: `all`, how many the mix has.
    #[must_use]
    pub fn of_hits(mut self, all: u64) -> Self {
        if let Some(part) = words::part_of_hits(&self, all) {
            self.says = format!("{} {part}", self.says);
        }
        self
    }

    /// A mix beside a reference that was measured by itself.
    #[must_use]
    pub fn reference(mix: &Readings, other: &Readings, file: Option<String>) -> Self {
        let less = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a - b);
        let loudness = less(mix.loudness.integrated_lufs, other.loudness.integrated_lufs);
        let mut report = Self {
            role: words::role_word(SideRole::Reference).to_owned(),
            file,
            relation: words::relation_word(Relation::Unknown).to_owned(),
            gain_db: loudness,
            loudness_difference_lu: loudness,
            contrast_difference_db: less(mix.punch.contrast_db, other.punch.contrast_db),
            band_difference_db: BandDifference {
                low: less(mix.balance.low_db, other.balance.low_db),
                mid: less(mix.balance.mid_db, other.balance.mid_db),
                high: less(mix.balance.high_db, other.balance.high_db),
            },
            hits: other.punch.hits,
            thirds: ThirdDifference::of(&mix.balance.thirds_dbfs, &other.balance.thirds_dbfs),
            ..Self::default()
        };
        report.says = words::compare_says(&report);
        report
    }
}
