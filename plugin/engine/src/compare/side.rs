//! The side-chain on the cells of the main, at a delay that is known.

use crate::MAX_CHANNELS;
use crate::align::Ring;
use crate::bands::BandSplit;
use crate::cells::{Cell, Cells, MICRO};
use crate::lanes::sum;
use crate::thresholds::{align, compare};
use crate::tops::tops;
use crate::true_peak::TruePeak;

/// The side-chain brought onto the main's cells.
#[derive(Debug)]
pub(crate) struct SidePath {
    pub(super) cell_frames: usize,
    ring: [Ring; MAX_CHANNELS],
    samples: [Box<[f32]>; MAX_CHANNELS],
    /// Squares of the weighted samples, channels added: each is weighted once, where it comes in.
    squares: Ring,
    weighted: Box<[f32]>,
    peak: [TruePeak; MAX_CHANNELS],
    split: BandSplit,
    pub(super) cells: Cells,
    /// Main behind side, whole frames. `None` while there is no aligned stream.
    pub(super) lag: Option<i64>,
}

impl SidePath {
    /// Allocates.
    pub(crate) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        let room = (align::ALIGN_REACH_S * rate_hz) as usize + 64 * cell_frames;
        Self {
            cell_frames,
            ring: std::array::from_fn(|_| Ring::new(room)),
            samples: std::array::from_fn(|_| vec![0.0; cell_frames].into()),
            squares: Ring::new(room),
            weighted: vec![0.0; cell_frames].into(),
            peak: std::array::from_fn(|_| TruePeak::new()),
            split: BandSplit::new(rate_hz),
            cells: Cells::new(),
            lag: None,
        }
    }

    /// Keeps a cell of the side-chain, and the squares of its weighted samples. `number`: of the main's cell that
    /// came with it; where the one before is not there, the stream starts with this one.
    pub(crate) fn push(&mut self, number: u64, side: [&[f32]; MAX_CHANNELS], squares: &[f32]) {
        let frame = number * self.cell_frames as u64;
        if self.squares.count() != frame {
            self.ring.iter_mut().for_each(|ring| ring.begin_at(frame));
            self.squares.begin_at(frame);
            self.lag = None;
        }
        self.squares.push(squares);
        for (ring, samples) in self.ring.iter_mut().zip(side) {
            ring.push(samples);
        }
    }

    /// Sets the lag, whole frames; a small change goes on, a large one starts the cells anew.
    pub(super) fn set_lag(&mut self, lag: Option<i64>) {
        if let (Some(old), Some(new)) = (self.lag, lag)
            && (new - old).abs() <= compare::SAME_LAG
        {
            self.lag = lag;
            return;
        }
        if self.lag == lag {
            return;
        }
        self.lag = lag;
        self.peak.iter_mut().for_each(TruePeak::reset);
        self.split.reset();
        let Some(lag) = lag else { return };
        // Side frame of a main frame m is m - lag. The earliest whole cell that is still kept.
        let frames = self.cell_frames as i64;
        let oldest = (self.ring[0].oldest() as i64 + lag).max(0);
        let first = (oldest + frames - 1) / frames;
        let latest = (self.ring[0].count() as i64 + lag).max(0) / frames;
        let first = if latest - first > 2 { latest - 2 } else { first };
        self.cells.begin_at(first.max(0) as u64);
    }

    /// Makes the next aligned cell, if the side-chain is there and the main is.
    pub(super) fn next(&mut self, main: &Cells) -> Option<u64> {
        let number = self.cells.count();
        let from = number as i64 * self.cell_frames as i64 - self.lag?;
        if number >= main.count() {
            return None;
        }
        for (ring, out) in self.ring.iter().zip(&mut self.samples) {
            if !ring.read(from, out) {
                return None;
            }
        }
        if !self.squares.read(from, &mut self.weighted) {
            return None;
        }
        let mut cell = Cell::default();
        let quarter = self.cell_frames / MICRO;
        let [left, right] = &self.samples;
        self.split.process([left, right], quarter, &mut cell.micro);
        cell.micro.iter_mut().flatten().for_each(|power| *power /= quarter as f32);
        cell.weighted = sum(&self.weighted) / self.cell_frames as f32;
        cell.sides = tops([left, right]).sides;
        cell.peak = cell.sides[0].max(cell.sides[1]);
        for (peak, samples) in self.peak.iter_mut().zip(&self.samples) {
            cell.peak = peak.raise(samples, cell.peak);
        }
        self.cells.push(cell);
        Some(number)
    }

    pub(super) fn flush_denormals(&mut self) {
        self.split.flush_denormals();
    }

    pub(super) fn reset(&mut self) {
        self.ring.iter_mut().for_each(Ring::reset);
        self.squares.reset();
        self.peak.iter_mut().for_each(TruePeak::reset);
        self.split.reset();
        self.cells.reset();
        self.lag = None;
    }
}
