//! The side-chain bus: its level.

use crate::input::Intake;
use crate::kweighting::KWeighting;
use crate::loudness::BusLoudness;
use crate::thresholds::ABSOLUTE_GATE_LUFS;
use crate::{MAX_CHANNELS, Side};

/// Measures the side-chain.
#[derive(Debug)]
pub(crate) struct SideMeter {
    weighting: [KWeighting; MAX_CHANNELS],
    loudness: BusLoudness,
    energy: f64,
    /// Squares of the weighted samples of the present cell, channels added.
    squares: Box<[f32]>,
}

impl SideMeter {
    /// Allocates.
    pub(crate) fn new(rate_hz: f64, hop_frames: usize, cell_frames: usize) -> Self {
        Self {
            weighting: std::array::from_fn(|_| KWeighting::new(rate_hz)),
            loudness: BusLoudness::new(rate_hz, hop_frames),
            energy: 0.0,
            squares: vec![0.0; cell_frames].into(),
        }
    }

    /// Measures the side-chain's frames `from..to` of the cell.
    #[inline(never)]
    pub(crate) fn stretch(&mut self, intake: &Intake, from: usize, to: usize) {
        let [left, right] = &mut self.weighting;
        if intake.side_channels() > 0 {
            // A side-chain of one channel has silence in the other.
            let samples = intake.side().map(|channel| &channel[from..to]);
            KWeighting::process_pair_squares(left, right, samples, &mut self.squares[from..to]);
        }
        self.energy += left.take_energy() + right.take_energy();
    }

    /// Squares of the K-weighted samples of the present cell, channels added, a number a frame.
    pub(crate) fn squares(&self) -> &[f32] {
        &self.squares
    }

    /// Ends the hop and gives its weighted sum of squares, over channels.
    pub(crate) fn end_hop(&mut self) -> f64 {
        let energy = std::mem::take(&mut self.energy);
        self.loudness.hop(energy);
        for weighting in &mut self.weighting {
            weighting.flush_denormals();
        }
        energy
    }

    pub(crate) fn readings(&self) -> Side {
        let momentary_lufs = self.loudness.momentary_lufs();
        Side {
            signal: momentary_lufs.is_some_and(|lufs| lufs > ABSOLUTE_GATE_LUFS),
            momentary_lufs,
            integrated_lufs: self.loudness.integrated_lufs(),
        }
    }

    pub(crate) fn reset(&mut self) {
        for weighting in &mut self.weighting {
            weighting.reset();
        }
        self.loudness.reset();
        self.energy = 0.0;
    }
}
