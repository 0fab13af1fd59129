//! The spectrum of many hits over their surroundings: median and tenths in each band.

use super::{HIT_BANDS, HitBands, Spread};
use crate::histogram::Histogram;
use crate::thresholds::shape::BANDS_RANGE_DB;

/// Width of a bin, dB.
const STEP_DB: f64 = 0.1;

/// Gathers the spectra of hits. Not for the audio thread: it allocates when it is made. Its memory is
/// flat.
#[derive(Clone, Debug)]
pub struct BandStats {
    bands: Vec<Histogram>,
    hits: u64,
}

impl Default for BandStats {
    fn default() -> Self {
        let (least, most) = BANDS_RANGE_DB;
        Self { bands: vec![Histogram::new(least, most + STEP_DB, STEP_DB); HIT_BANDS], hits: 0 }
    }
}

impl BandStats {
    /// Takes the spectrum of one hit.
    pub fn add(&mut self, bands: &HitBands) {
        self.hits += 1;
        for (band, histogram) in self.bands.iter_mut().enumerate() {
            if let Some(db) = bands.over_db(band) {
                histogram.add(db);
            }
        }
    }

    /// Hits taken.
    #[must_use]
    pub fn hits(&self) -> u64 {
        self.hits
    }

    /// Level over the surroundings in each band, over all hits taken; `None` where there is none.
    #[must_use]
    pub fn read(&self) -> [Option<Spread>; HIT_BANDS] {
        std::array::from_fn(|band| {
            let [low_db, db, high_db] = self.bands[band].quantiles([0.1, 0.5, 0.9])?;
            Some(Spread { db, low_db, high_db })
        })
    }

    /// Forgets all of them.
    pub fn clear(&mut self) {
        self.bands.iter_mut().for_each(Histogram::reset);
        self.hits = 0;
    }
}
