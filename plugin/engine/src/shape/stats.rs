//! The shape of many hits: median and tenths at each point.

use super::{HitShape, SHAPE_POINTS, TIMES_MS};
use crate::histogram::Histogram;
use crate::thresholds::shape as t;
use crate::thresholds::{HIT_LEVEL_MS, SURROUND_AFTER_MS, SUSTAIN_FROM_MS};

/// Width of a level's bin, dB.
const LEVEL_STEP_DB: f64 = 0.1;
/// Width of a peak's bin, dB.
const PEAK_STEP_DB: f64 = 0.25;

/// Gathers the shapes of hits. Not for the audio thread: it allocates when it is made, and reading it
/// takes a tenth of a millisecond. Its memory is flat.
#[derive(Clone, Debug)]
pub struct ShapeStats {
    level: Vec<Histogram>,
    peak: Vec<Histogram>,
    hits: u64,
}

impl Default for ShapeStats {
    fn default() -> Self {
        let columns = |(least, most): (f64, f64), step| {
            vec![Histogram::new(least, most + step, step); SHAPE_POINTS]
        };
        Self {
            level: columns(t::SHAPE_LEVEL_DB, LEVEL_STEP_DB),
            peak: columns(t::SHAPE_PEAK_DB, PEAK_STEP_DB),
            hits: 0,
        }
    }
}

impl ShapeStats {
    /// Takes the shape of one hit.
    pub fn add(&mut self, shape: &HitShape) {
        self.hits += 1;
        for point in 0..SHAPE_POINTS {
            if let Some(db) = shape.level_db(point) {
                self.level[point].add(db);
            }
            if let Some(db) = shape.peak_db(point) {
                self.peak[point].add(db);
            }
        }
    }

    /// Hits taken.
    #[must_use]
    pub fn hits(&self) -> u64 {
        self.hits
    }

    /// The shape of all hits taken; `None` without any.
    #[must_use]
    pub fn read(&self) -> Option<HitsShape> {
        if self.hits == 0 {
            return None;
        }
        let least = (self.hits as f64 * t::SHAPE_LEAST_SHARE).ceil().max(1.0) as u64;
        let spread = |column: &Histogram| {
            let known = column.total() >= least;
            let [low_db, db, high_db] = column.quantiles([0.1, 0.5, 0.9]).filter(|_| known)?;
            Some(Spread { db, low_db, high_db })
        };
        let mut shape = HitsShape {
            hits: self.hits,
            level: std::array::from_fn(|point| spread(&self.level[point])),
            peak: std::array::from_fn(|point| spread(&self.peak[point])),
            ..HitsShape::default()
        };
        shape.measure();
        Some(shape)
    }

    /// Forgets all of them.
    pub fn clear(&mut self) {
        self.level.iter_mut().chain(&mut self.peak).for_each(Histogram::reset);
        self.hits = 0;
    }
}

/// One point over all hits, dB over their surroundings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Median.
    pub db: f64,
    /// 10th percentile.
    pub low_db: f64,
    /// 90th percentile.
    pub high_db: f64,
}

/// The shape of the hits: at each of [`SHAPE_POINTS`] moments ([`shape_ms`](super::shape_ms)) the
/// hits' levels and peaks over their surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitsShape {
    /// Hits it is of.
    pub hits: u64,
    /// K-weighted level. `None` where too few hits reach.
    pub level: [Option<Spread>; SHAPE_POINTS],
    /// True peak, dBTP less the LUFS of the surroundings.
    pub peak: [Option<Spread>; SHAPE_POINTS],
    /// Time from the onset until the median level comes within 3 dB of the height, ms, on straight
    /// lines between points. 1 ms is the shortest.
    pub attack_ms: Option<f64>,
    /// Largest median level of the 10 ms windows within the first 30 ms, dB: the hit contrast of
    /// the median shape.
    pub height_db: Option<f64>,
    /// Height less the mean power of the median level from 80 to 250 ms, dB: how far it falls behind
    /// the hit, whatever fills the space there. Other hits do, too.
    pub space_db: Option<f64>,
}

impl Default for HitsShape {
    fn default() -> Self {
        Self {
            hits: 0,
            level: [None; SHAPE_POINTS],
            peak: [None; SHAPE_POINTS],
            attack_ms: None,
            height_db: None,
            space_db: None,
        }
    }
}

impl HitsShape {
    /// Works out the numbers from the median levels.
    pub fn measure(&mut self) {
        let level = |point: usize| Some((f64::from(TIMES_MS[point]), self.level[point]?.db));
        let within = |from: f64, to: f64| {
            (0..SHAPE_POINTS).filter_map(level).filter(move |(ms, _)| (from..=to).contains(ms))
        };
        // A whole window behind the onset, up to the end of the last that counts for the contrast.
        let whole = within(f64::from(t::SHAPE_WINDOW_MS), HIT_LEVEL_MS);
        self.height_db = whole.map(|(_, db)| db).reduce(f64::max);
        self.attack_ms = self.height_db.and_then(|height| {
            let wanted = height - t::ATTACK_WITHIN_DB;
            let mut before: Option<(f64, f64)> = None;
            for (ms, db) in within(1.0, HIT_LEVEL_MS) {
                if db >= wanted {
                    return Some(before.map_or(ms, |(early_ms, early_db)| {
                        early_ms + (ms - early_ms) * (wanted - early_db) / (db - early_db)
                    }));
                }
                before = Some((ms, db));
            }
            None
        });
        // Windows that follow on one another, from 80 to 250 ms.
        let window = f64::from(t::SHAPE_WINDOW_MS);
        let (mut sum, mut count) = (0.0, 0.0);
        for (ms, db) in within(SUSTAIN_FROM_MS + window, SURROUND_AFTER_MS) {
            if ms % window == 0.0 {
                sum += 10f64.powf(db / 10.0);
                count += 1.0;
            }
        }
        let behind = (count > 0.0).then(|| 10.0 * (sum / count).log10());
        self.space_db = self.height_db.zip(behind).map(|(height, behind)| height - behind);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A level that rises as a straight line of power over `rise_ms`, from the onset on, and then
    /// stays: its mean over the last 10 ms, not looking across the onset, is in closed form.
    fn ramp(rise_ms: f64) -> HitShape {
        let energy = |ms: f64| {
            let rising = ms.clamp(0.0, rise_ms);
            rising * rising / (2.0 * rise_ms) + (ms - rise_ms).max(0.0)
        };
        let mut shape = HitShape::default();
        for (point, &ms) in TIMES_MS.iter().enumerate() {
            let (from, to) = super::super::window(ms);
            let mean = (energy(to.into()) - energy(from.into())) / f64::from(to - from);
            let db = (20.0 + 10.0 * mean.max(1e-9).log10()).max(t::SHAPE_LEVEL_DB.0);
            shape.level[point] = (100.0 * db).round() as i16;
            shape.peak[point] = 0;
        }
        shape
    }

    #[test]
    fn numbers_of_a_ramp_are_those_of_its_closed_form() {
        let mut stats = ShapeStats::default();
        (0..9).for_each(|_| stats.add(&ramp(20.0)));
        let shape = stats.read().expect("nine hits");
        // From 20 ms on the power is 1, and the last window of the first 30 ms sees nothing else.
        assert!((shape.height_db.expect("known") - 20.0).abs() < 0.06, "{:?}", shape.height_db);
        // Half of it is reached where (t - 5) / 20 is 10^-0.3: at 15.02 ms.
        assert!((shape.attack_ms.expect("known") - 15.02).abs() < 0.2, "{:?}", shape.attack_ms);
        assert!(shape.space_db.expect("known").abs() < 0.06, "{:?}", shape.space_db);
    }

    #[test]
    fn a_point_that_few_hits_reach_is_unknown() {
        let mut stats = ShapeStats::default();
        assert_eq!(stats.read(), None);
        (0..5).for_each(|_| stats.add(&HitShape::default()));
        stats.add(&ramp(20.0));
        let shape = stats.read().expect("six hits");
        assert_eq!((shape.hits, shape.level[40], shape.height_db), (6, None, None));
    }
}
