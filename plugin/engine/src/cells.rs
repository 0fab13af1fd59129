//! The short memory of a bus: one cell a millisecond, four micro-cells in it.

use crate::bands::BANDS;

/// Micro-cells in a cell.
pub(crate) const MICRO: usize = 4;
/// Cells kept: a power of two that holds a hit's whole surroundings and the detector's look-back.
const CELLS: usize = 1024;

/// What is kept of one millisecond. Powers are mean squares, summed over channels.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Cell {
    /// K-weighted power.
    pub(crate) weighted: f32,
    /// K-weighted power that a small speaker leaves.
    pub(crate) small: f32,
    /// Largest true peak, linear.
    pub(crate) peak: f32,
    /// Largest sample magnitude, linear.
    pub(crate) sample_peak: f32,
    /// Band powers, a quarter millisecond each.
    pub(crate) micro: [[f32; BANDS]; MICRO],
    /// Longest run of equal samples at a magnitude within the cell's peak, samples.
    pub(crate) flat_run: u16,
    /// Largest sample of either sign, magnitude, linear: up, down.
    pub(crate) sides: [f32; 2],
    /// Means of `micro`, known once the cell is in the ring: each is looked up dozens of times.
    pub(crate) bands: [f32; BANDS],
}

/// Ring of the last cells, addressed by their number since reset.
#[derive(Clone, Debug)]
pub(crate) struct Cells {
    ring: Vec<Cell>,
    /// Cells written since reset; the newest has number `count - 1`.
    count: u64,
    /// Number of the first cell.
    first: u64,
}

impl Cells {
    /// Allocates the ring.
    pub(crate) fn new() -> Self {
        Self { ring: vec![Cell::default(); CELLS], count: 0, first: 0 }
    }

    pub(crate) fn push(&mut self, mut cell: Cell) {
        for micro in &cell.micro {
            for (sum, power) in cell.bands.iter_mut().zip(micro) {
                *sum += power;
            }
        }
        cell.bands = cell.bands.map(|sum| sum / MICRO as f32);
        let at = self.slot(self.count);
        self.ring[at] = cell;
        self.count += 1;
    }

    /// Number of the next cell: cells written since reset, where numbers start at 0.
    pub(crate) fn count(&self) -> u64 {
        self.count
    }

    /// Number of the oldest cell still kept.
    pub(crate) fn oldest(&self) -> u64 {
        self.count.saturating_sub(CELLS as u64).max(self.first)
    }

    /// The cell of that number; it must be kept still.
    pub(crate) fn get(&self, number: u64) -> &Cell {
        debug_assert!(number < self.count && number >= self.oldest());
        &self.ring[self.slot(number)]
    }

    /// The cells numbered `from..to`, cut to those that are kept.
    pub(crate) fn range(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, &Cell)> {
        let from = from.max(self.oldest());
        let to = to.min(self.count).max(from);
        // Two plain slices, since a hit looks at a thousand cells.
        let at = self.slot(from);
        let first = ((to - from) as usize).min(CELLS - at);
        let rest = (to - from) as usize - first;
        (from..to).zip(self.ring[at..at + first].iter().chain(&self.ring[..rest]))
    }

    /// The micro-cell of that number (cell number times [`MICRO`] plus its place).
    pub(crate) fn micro(&self, number: u64) -> [f32; BANDS] {
        self.get(number / MICRO as u64).micro[(number % MICRO as u64) as usize]
    }

    fn slot(&self, number: u64) -> usize {
        (number % CELLS as u64) as usize
    }

    pub(crate) fn reset(&mut self) {
        self.ring.fill(Cell::default());
        self.count = 0;
        self.first = 0;
    }

    /// Forgets all cells; the next one has this number.
    pub(crate) fn begin_at(&mut self, number: u64) {
        self.reset();
        self.count = number;
        self.first = number;
    }
}
