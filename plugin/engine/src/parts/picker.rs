//! Where the notes and strokes of one part start.

use super::PartOnset;
use super::meter::level_lufs;
use crate::MAX_CHANNELS;
use crate::bands::BandSplit;
use crate::cells::{Cell, Cells, MICRO};
use crate::onset::OnsetDetector;
use crate::thresholds as t;

/// Finds the onsets of a part in its cells.
#[derive(Debug)]
pub(super) struct Picker {
    split: BandSplit,
    cells: Cells,
    detector: OnsetDetector,
    cell_frames: usize,
    rate_hz: f64,
}

impl Picker {
    /// `cell_frames`: frames in a cell. Allocates.
    pub(super) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        Self {
            split: BandSplit::new(rate_hz),
            cells: Cells::new(),
            detector: OnsetDetector::new(rate_hz, cell_frames as f64 / rate_hz),
            cell_frames,
            rate_hz,
        }
    }

    /// Takes the next cell's samples, one slice a channel, and its weighted power; gives the onset
    /// that it makes certain.
    pub(super) fn cell(&mut self, main: &[&[f32]], weighted: f32, give: &mut dyn FnMut(PartOnset)) {
        let mut cell = Cell { weighted, ..Cell::default() };
        let quarter = self.cell_frames / MICRO;
        for (index, powers) in cell.micro.iter_mut().enumerate() {
            for (channel, samples) in main.iter().enumerate().take(MAX_CHANNELS) {
                let from = (index * quarter).min(samples.len());
                let to = (from + quarter).min(samples.len());
                self.split.process(channel, &samples[from..to], powers);
            }
            powers.iter_mut().for_each(|power| *power /= quarter as f32);
        }
        self.cells.push(cell);
        if let Some(found) = self.detector.cell(&self.cells) {
            give(self.onset(found.micro));
        }
    }

    /// Gives out what waits at the end of a passage.
    pub(super) fn finish(&mut self, give: &mut dyn FnMut(PartOnset)) {
        for _ in 0..crate::onset::DELAY_CELLS {
            self.cells.push(Cell::default());
            if let Some(found) = self.detector.cell(&self.cells) {
                give(self.onset(found.micro));
            }
        }
    }

    fn onset(&self, micro: u64) -> PartOnset {
        let frame = (2 * micro + 1) * self.cell_frames as u64 / (2 * MICRO as u64);
        let start = micro / MICRO as u64;
        let first = self.cells.range(start, start + t::HIT_LEVEL_MS as u64);
        let powers: [f32; t::HIT_LEVEL_MS as usize] = {
            let mut powers = [0.0; t::HIT_LEVEL_MS as usize];
            for (slot, (_, cell)) in powers.iter_mut().zip(first) {
                *slot = cell.weighted;
            }
            powers
        };
        PartOnset {
            frame,
            time_s: frame as f64 / self.rate_hz,
            strength_db: 0.0,
            level_lufs: level_lufs(powers.into_iter()),
        }
    }

    pub(super) fn flush_denormals(&mut self) {
        self.split.flush_denormals();
    }

    pub(super) fn reset(&mut self) {
        self.split.reset();
        self.cells.reset();
        self.detector.reset();
    }
}
