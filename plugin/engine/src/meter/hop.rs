//! The hop of ten milliseconds that the meter is filling.

use super::front::Stretch;
use crate::bands::BANDS;

/// The hop being filled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hop {
    pub(super) frames: usize,
    pub(super) filled: usize,
    /// Weighted sum of squares, over channels.
    pub(super) energy: f64,
    /// Sums of squares of the bands, over channels, of the cells that began in the hop.
    pub(super) bands: [f64; BANDS],
    pub(super) true_peak: f32,
    pub(super) sample_peak: f32,
}

impl Hop {
    pub(super) fn new(frames: usize) -> Self {
        Self {
            frames,
            filled: 0,
            energy: 0.0,
            bands: [0.0; BANDS],
            true_peak: 0.0,
            sample_peak: 0.0,
        }
    }

    /// Adds a stretch of so many frames.
    pub(super) fn add(&mut self, stretch: &Stretch, frames: usize) {
        self.true_peak = self.true_peak.max(stretch.true_peak);
        self.sample_peak = self.sample_peak.max(stretch.sample_peak);
        self.energy += stretch.energy;
        self.filled += frames;
    }
}
