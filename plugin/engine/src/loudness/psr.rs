//! PSR over the whole programme: its minimum and median over the moments that are loud enough.

use crate::thresholds::ABSOLUTE_GATE_LUFS;

/// Rows: one a LU of short-term loudness from the absolute gate up. Louder goes to the last.
const ROWS: usize = 90;
/// Width of a column, dB of PSR.
const COLUMN_DB: f64 = 0.05;
/// PSR of the first column's lower edge, dB. PSR is negative where K-weighting lifts a clipped
/// signal in two channels above its peak.
const FIRST_DB: f64 = -10.0;
/// Columns, up to 60 dB: a click of one frame every 3 s reads 52 dB at 48 kHz.
const COLUMNS: usize = 1_400;

/// Columns that are passed at once on the way to the median.
const GROUP: usize = 20;

/// Counts moments by their short-term loudness and their PSR.
///
/// The gate is known only at the end of a programme, and moves until then. So the rows stay apart
/// and those above the gate are added up: a quiet introduction drops out once the music has
/// started. Counts are whole numbers, which can be taken out again without error.
#[derive(Clone, Debug)]
pub(super) struct PsrGrid {
    cells: Box<[u32]>,
    row_counts: Box<[u32]>,
    row_minima: Box<[f64]>,
    /// Sum of the rows from `first_row` up.
    columns: Box<[u32]>,
    count: u64,
    first_row: usize,
}

impl PsrGrid {
    pub(super) fn new() -> Self {
        Self {
            cells: vec![0; ROWS * COLUMNS].into(),
            row_counts: vec![0; ROWS].into(),
            row_minima: vec![f64::INFINITY; ROWS].into(),
            columns: vec![0; COLUMNS].into(),
            count: 0,
            first_row: 0,
        }
    }

    /// Counts a moment of this short-term loudness, LUFS, and PSR, dB.
    pub(super) fn push(&mut self, short_term_lufs: f64, psr_db: f64) {
        // Both casts take negative numbers to 0.
        let row = ((short_term_lufs - ABSOLUTE_GATE_LUFS) as usize).min(ROWS - 1);
        let column = (((psr_db - FIRST_DB) / COLUMN_DB) as usize).min(COLUMNS - 1);
        self.cells[row * COLUMNS + column] += 1;
        self.row_counts[row] += 1;
        self.row_minima[row] = self.row_minima[row].min(psr_db);
        if row >= self.first_row {
            self.columns[column] += 1;
            self.count += 1;
        }
    }

    /// Moves the gate, LUFS; it acts to the nearest whole LU.
    pub(super) fn set_gate(&mut self, gate_lufs: f64) {
        let target = ((gate_lufs - ABSOLUTE_GATE_LUFS).round() as usize).min(ROWS - 1);
        while self.first_row < target {
            let row = self.first_row;
            self.first_row += 1;
            self.count -= u64::from(self.row_counts[row]);
            self.each_cell(row, |column, cell| *column -= cell);
        }
        while self.first_row > target {
            self.first_row -= 1;
            let row = self.first_row;
            self.count += u64::from(self.row_counts[row]);
            self.each_cell(row, |column, cell| *column += cell);
        }
    }

    /// Smallest PSR above the gate, dB.
    pub(super) fn min(&self) -> Option<f64> {
        (self.count > 0).then(|| {
            self.row_minima[self.first_row..].iter().copied().fold(f64::INFINITY, f64::min)
        })
    }

    /// Median PSR above the gate, dB, interpolated within its column.
    pub(super) fn median(&self) -> Option<f64> {
        let mut below = 0u64;
        for (group, columns) in self.columns.chunks(GROUP).enumerate() {
            let sum = u64::from(columns.iter().sum::<u32>());
            if sum == 0 || 2 * (below + sum) < self.count {
                below += sum;
                continue;
            }
            for (place, &count) in columns.iter().enumerate() {
                let count = u64::from(count);
                if count > 0 && 2 * (below + count) >= self.count {
                    let part = (self.count as f64 / 2.0 - below as f64) / count as f64;
                    let place = (group * GROUP + place) as f64;
                    return Some(FIRST_DB + COLUMN_DB * (place + part));
                }
                below += count;
            }
        }
        None
    }

    pub(super) fn reset(&mut self) {
        self.cells.fill(0);
        self.row_counts.fill(0);
        self.row_minima.fill(f64::INFINITY);
        self.columns.fill(0);
        (self.count, self.first_row) = (0, 0);
    }

    fn each_cell(&mut self, row: usize, change: impl Fn(&mut u32, u32)) {
        if self.row_counts[row] == 0 {
            return;
        }
        let cells = &self.cells[row * COLUMNS..(row + 1) * COLUMNS];
        for (column, &cell) in self.columns.iter_mut().zip(cells) {
            change(column, cell);
        }
    }
}
