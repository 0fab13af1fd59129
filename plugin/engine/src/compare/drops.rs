//! What compared hits lost, over the whole pass and of the latest of them, by the gain that held when each was
//! played.

use crate::Compare;
use crate::histogram::Histogram;
use crate::quantile::quantile;
use crate::thresholds::SECTION_HITS;

/// Latest hits kept. Ours: at ten a second those of the time in which a change of gain becomes certain.
const LATEST: usize = 64;
/// Changes of gain kept. Ours: a user moves a limiter less often in one pass, or does not care about the first.
const STRETCHES: usize = 64;

/// A compared hit.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Drop {
    /// The main's cell in which it starts.
    pub(super) cell: u64,
    /// Peak of the side-chain less that of the main, dB, gain not counted.
    pub(super) plain_db: f64,
    /// The same by the bands' levels, the bands' own gains counted.
    pub(super) band_db: Option<f64>,
    /// Contrast of the main less that of the side-chain, dB.
    pub(super) contrast_db: Option<f64>,
}

/// A stretch of cells with a gain that no longer holds.
#[derive(Clone, Copy, Debug, Default)]
struct Stretch {
    /// The first cell behind it.
    until: u64,
    gain_db: f64,
}

/// The compared hits.
#[derive(Debug)]
pub(super) struct Drops {
    /// Without any gain.
    plain_db: Histogram,
    /// So that the present gain makes reductions of them, whatever the gain was when they were played.
    present_db: Histogram,
    band_db: Histogram,
    contrast_db: Histogram,
    /// Largest of the present and of the bands' ones.
    most: [f64; 2],
    count: u64,
    latest: [Drop; LATEST],
    stretches: [Stretch; STRETCHES],
    /// Stretches in use.
    past: usize,
}

impl Drops {
    /// Allocates.
    pub(super) fn new() -> Self {
        let drops = || Histogram::new(-60.0, 60.0, 0.02);
        Self {
            plain_db: drops(),
            present_db: drops(),
            band_db: drops(),
            contrast_db: Histogram::new(-40.0, 40.0, 0.02),
            most: [f64::NEG_INFINITY; 2],
            count: 0,
            latest: [Drop::default(); LATEST],
            stretches: [Stretch::default(); STRETCHES],
            past: 0,
        }
    }

    pub(super) fn add(&mut self, drop: Drop) {
        self.plain_db.add(drop.plain_db);
        self.present_db.add(drop.plain_db);
        self.most[0] = self.most[0].max(drop.plain_db);
        if let Some(db) = drop.band_db {
            self.band_db.add(db);
            self.most[1] = self.most[1].max(db);
        }
        if let Some(db) = drop.contrast_db {
            self.contrast_db.add(db);
        }
        self.latest[(self.count % LATEST as u64) as usize] = drop;
        self.count += 1;
    }

    /// From the main's cell `from` on the gain is `now_db`, dB; before it was `before_db`.
    pub(super) fn change_gain(&mut self, from: u64, before_db: f64, now_db: f64) {
        if self.past == STRETCHES {
            self.stretches.rotate_left(1);
            self.past -= 1;
        }
        self.stretches[self.past] = Stretch { until: from, gain_db: before_db };
        self.past += 1;
        let kept = self.count.min(LATEST as u64) as usize;
        let since = self.latest[..kept].iter().filter(|drop| drop.cell >= from);
        // Those that came since are under the new gain already, and the others keep what they lost by the old one.
        for drop in since.clone() {
            self.present_db.remove(drop.plain_db);
        }
        self.present_db.shift(before_db - now_db);
        for drop in since {
            self.present_db.add(drop.plain_db);
        }
        let most = self.present_db.quantiles([1.0]);
        self.most[0] = most.map_or(f64::NEG_INFINITY, |[most]| most);
    }

    /// The gain at a cell of the main, dB, where the present one is `now_db`.
    pub(super) fn gain_at(&self, cell: u64, now_db: f64) -> f64 {
        let then = self.stretches[..self.past].iter().find(|stretch| cell < stretch.until);
        then.map_or(now_db, |stretch| stretch.gain_db)
    }

    /// Reductions, and what the contrast lost, into `compare`, which has the gain. `lost_db`: what a median drop is
    /// brought to as a lost peak.
    pub(super) fn read(&self, compare: &mut Compare, lost_db: impl Fn(f64) -> Option<f64>) {
        let by_bands = compare.equalised == Some(true);
        let drops = if by_bands { &self.band_db } else { &self.present_db };
        compare.hits = self.count;
        if let Some([median, p90]) = drops.quantiles([0.5, 0.9]) {
            let offset = if by_bands { Some(0.0) } else { compare.gain_db };
            compare.reduction_db_median = offset.map(|gain| median + gain);
            compare.reduction_db_p90 = offset.map(|gain| p90 + gain);
            compare.reduction_db_max = offset.map(|gain| self.most[usize::from(by_bands)] + gain);
            let plain = if by_bands { Some([median]) } else { self.plain_db.quantiles([0.5]) };
            compare.lost_db_median = plain.and_then(|[median]| lost_db(median));
        }
        let quartiles = self.contrast_db.quantiles([0.25, 0.5, 0.75]);
        put_contrast(compare, quartiles, self.count);
    }

    /// The same of the last [`SECTION_HITS`] alone; `None` before there are so many.
    pub(super) fn section(&self, compare: &Compare) -> Option<Compare> {
        let offset = if compare.equalised == Some(true) { Some(0.0) } else { compare.gain_db };
        let (now_db, hits) = (offset?, SECTION_HITS as u64);
        let first = self.count.checked_sub(hits)?;
        let (mut reductions, mut contrasts) = ([0.0; SECTION_HITS], [0.0; SECTION_HITS]);
        for (k, (reduction, contrast)) in reductions.iter_mut().zip(&mut contrasts).enumerate() {
            let drop = self.latest[((first + k as u64) % LATEST as u64) as usize];
            *reduction = match compare.equalised {
                Some(true) => drop.band_db?,
                _ => drop.plain_db + self.gain_at(drop.cell, now_db),
            };
            *contrast = drop.contrast_db?;
        }
        reductions.sort_unstable_by(f64::total_cmp);
        contrasts.sort_unstable_by(f64::total_cmp);
        let [median, p90] = [0.5, 0.9].map(|share| quantile(&reductions, share));
        let mut section = Compare {
            hits,
            reduction_db_median: Some(median),
            reduction_db_p90: Some(p90),
            reduction_db_max: reductions.last().copied(),
            ..*compare
        };
        let quartiles = [0.25, 0.5, 0.75].map(|share| quantile(&contrasts, share));
        put_contrast(&mut section, Some(quartiles), hits);
        Some(section)
    }

    pub(super) fn reset(&mut self) {
        self.plain_db.reset();
        self.present_db.reset();
        self.band_db.reset();
        self.contrast_db.reset();
        self.most = [f64::NEG_INFINITY; 2];
        (self.count, self.past) = (0, 0);
    }
}

/// What the contrast lost, from its quartiles over so many hits.
fn put_contrast(compare: &mut Compare, quartiles: Option<[f64; 3]>, hits: u64) {
    if let Some([low, median, high]) = quartiles {
        // A median's standard error is 0.93 of the quartiles' distance over the root of the
        // count (normal case, closed form); 1.645 of them make 90 %.
        let half = 1.645 * 0.93 * (high - low) / (hits as f64).sqrt() + 0.05;
        compare.contrast_difference_db = Some(median);
        compare.contrast_difference_range_db = Some((median - half, median + half));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hit(cell: u64, plain_db: f64) -> Drop {
        Drop { cell, plain_db, band_db: None, contrast_db: Some(-1.0) }
    }

    /// By hand: 40 hits lose 3 dB under a gain of 10 dB, and 40 lose 1 dB under one of 6 dB, of which ten come before
    /// the change is certain.
    #[test]
    fn each_hit_keeps_what_it_lost_under_its_gain() {
        let mut drops = Drops::new();
        (0..40).for_each(|k| drops.add(hit(100 * k, -7.0)));
        (40..50).for_each(|k| drops.add(hit(100 * k, -5.0)));
        drops.change_gain(4_000, 10.0, 6.0);
        (50..80).for_each(|k| drops.add(hit(100 * k, -5.0)));
        assert_eq!((drops.gain_at(3_999, 6.0), drops.gain_at(4_000, 6.0)), (10.0, 6.0));
        let mut compare = Compare { gain_db: Some(6.0), ..Compare::default() };
        drops.read(&mut compare, |db| Some(db + 8.0));
        let near = |got: Option<f64>, want: f64| {
            let got = got.expect("known");
            assert!((got - want).abs() < 0.03, "{got} for {want}");
        };
        near(compare.reduction_db_p90, 3.0);
        near(compare.reduction_db_max, 3.0);
        // Half of them lose 1 dB: the median lies at the edge between both.
        near(compare.reduction_db_median, 1.0);
        near(compare.lost_db_median, 1.0);
        assert_eq!(compare.hits, 80);
        let section = drops.section(&compare).expect("24 hits");
        near(section.reduction_db_median, 1.0);
        near(section.reduction_db_max, 1.0);
        near(section.contrast_difference_db, -1.0);
        assert_eq!(section.hits, 24);
        drops.reset();
        assert!(drops.section(&compare).is_none());
        assert_eq!(drops.gain_at(0, 6.0), 6.0);
    }
}
