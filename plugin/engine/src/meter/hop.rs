//! The hop of ten milliseconds that the meter is filling.

/// The hop being filled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hop {
    pub(super) frames: usize,
    pub(super) filled: usize,
    /// Weighted sum of squares, over channels.
    pub(super) energy: f64,
    /// Sum of squares of the mids, over channels, of the cells that began in the hop.
    pub(super) mids: f64,
    pub(super) true_peak: f32,
    pub(super) sample_peak: f32,
}

impl Hop {
    pub(super) fn new(frames: usize) -> Self {
        Self { frames, filled: 0, energy: 0.0, mids: 0.0, true_peak: 0.0, sample_peak: 0.0 }
    }
}
