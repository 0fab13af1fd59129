//! Hits at the drums' strokes, whether they come through or not.
//!
//! A stroke that the mix drowns is found by nobody who listens to the mix alone, and a mix that
//! drowns its drums would look better for it. Where the drums are there, every main stroke of theirs
//! is a hit: where the mix was found to have one, that one; elsewhere at the stroke, with what it
//! has left there.

pub use super::cost::Strokes;

use super::sum;
use crate::loudness::lufs;
use crate::surround;
use crate::thresholds as t;

/// A stroke of the drums that was not found in the mix.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Missed {
    /// Its frame.
    pub frame: u64,
    /// K-weighted level of its loudest 10 ms in the mix, LUFS.
    pub level_lufs: f64,
    /// K-weighted level of what surrounds it, LUFS.
    pub bed_lufs: f64,
    /// What it has left, dB of hit contrast: not negative.
    pub contrast_db: f64,
}

impl Missed {
    /// Whether it is buried: it stands out by less than a hit must.
    #[must_use]
    pub fn is_buried(&self) -> bool {
        self.contrast_db < t::HIT_CONTRAST_DB
    }
}

impl Strokes {
    /// The strokes that were not found, in a mix of these K-weighted powers a cell of `cell_frames`.
    #[must_use]
    pub fn missed(&self, weighted: &[f32], cell_frames: usize) -> Vec<Missed> {
        let cells: Vec<u64> =
            self.frames.iter().map(|frame| frame / cell_frames.max(1) as u64).collect();
        let known = 0..cells.len() as u64;
        let missing = (0..cells.len()).filter(|&n| self.found[n].is_none());
        missing
            .map(|n| {
                let floor = f64::from(t::POWER_FLOOR);
                let (level, _) = surround::level(weighted, cells[n]);
                let bed = surround::bed(weighted, n as u64, known.clone(), |n| cells[n as usize]);
                let (level, bed) = (level.max(floor), bed.max(floor));
                Missed {
                    frame: self.frames[n],
                    level_lufs: lufs(level),
                    bed_lufs: lufs(bed),
                    contrast_db: surround::contrast_db(level, bed).max(0.0),
                }
            })
            .collect()
    }
}

/// Percentiles of some contrasts, dB: 10th, median, 90th; `None` of none.
#[must_use]
pub fn percentiles(contrasts_db: &[f64]) -> Option<[f64; 3]> {
    let at = |q| sum::percentile(contrasts_db, q);
    Some([at(0.1)?, at(0.5)?, at(0.9)?])
}
