//! What the onsets of a part have in common.

use crate::bands::BANDS;
use crate::contrast::quantile;
use crate::parts::sum::median;
use crate::parts::{PartCell, PartTrack};
use crate::thresholds::role as l;

/// Medians and ranges over the onsets that are loud enough. Levels in decibels.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Strokes {
    /// How many there are.
    pub(super) count: usize,
    /// Fall from the attack to the windows [`l::FALL_AT`] behind the onset; `None` where onsets
    /// follow each other too fast.
    pub(super) fall_db: [Option<f64>; 2],
    /// Range over onsets of low against mid and of high against mid band in the attack.
    pub(super) change_db: [f64; 2],
    /// High against mid band in the attack.
    pub(super) bright_db: f64,
    /// Rise from the 30 ms before.
    pub(super) rise_db: f64,
    /// Range of the attacks' levels.
    pub(super) level_spread_db: f64,
    /// Mean natural logarithm of the onsets' odds.
    pub(super) strength: f64,
}

impl Strokes {
    /// `loud` and `floor`: powers of the loudest frames and of the least that counts.
    pub(super) fn of(track: &PartTrack, loud: f64, floor: f64) -> Self {
        let cells = &track.cells;
        let cell = |n: usize| track.onsets[n].frame as usize / track.cell_frames.max(1);
        let mut falls = [Vec::new(), Vec::new()];
        let mut changes = [Vec::new(), Vec::new()];
        let (mut rises, mut levels, mut strengths) = (Vec::new(), Vec::new(), Vec::new());
        for (n, onset) in track.onsets.iter().enumerate() {
            let start = cell(n).min(cells.len());
            let attack = &cells[start..(start + l::ATTACK_CELLS).min(cells.len())];
            let power = weighted(attack);
            if power < loud * from_db(-l::STROKE_DB) {
                continue;
            }
            let level = decibels(power, floor);
            levels.push(level);
            strengths.push(f64::from(onset.strength));
            let before = &cells[start.saturating_sub(l::ATTACK_CELLS)..start];
            rises.push(level - decibels(weighted(before), floor));
            let bands: [f64; BANDS] = std::array::from_fn(|band| {
                let sum: f64 = attack.iter().map(|cell| f64::from(cell.bands[band])).sum();
                decibels(sum / attack.len().max(1) as f64, floor)
            });
            changes[0].push(bands[0] - bands[1]);
            changes[1].push(bands[2] - bands[1]);
            let next = if n + 1 < track.onsets.len() { cell(n + 1) } else { cells.len() };
            for (falls, at) in falls.iter_mut().zip(l::FALL_AT) {
                let (from, to) = (start + at - l::FALL_HALF, start + at + l::FALL_HALF);
                if to <= next.min(cells.len()) {
                    falls.push(level - decibels(weighted(&cells[from..to]), floor));
                }
            }
        }
        if levels.is_empty() {
            return Self::default();
        }
        let count = levels.len();
        let range = |values: &[f64]| {
            let values = sorted(values.iter().copied());
            quantile(&values, 0.9) - quantile(&values, 0.1)
        };
        Self {
            count,
            fall_db: falls.map(|falls| median(&falls).filter(|_| falls.len() >= l::LEAST_FALLS)),
            change_db: [range(&changes[0]), range(&changes[1])],
            bright_db: median(&changes[1]).unwrap_or(0.0),
            rise_db: median(&rises).unwrap_or(0.0),
            level_spread_db: range(&levels),
            strength: strengths.iter().sum::<f64>() / count as f64,
        }
    }
}

/// Mean weighted power.
fn weighted(cells: &[PartCell]) -> f64 {
    cells.iter().map(|cell| f64::from(cell.weighted)).sum::<f64>() / cells.len().max(1) as f64
}

pub(super) fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

/// A power in decibels, no lower than `floor`.
pub(super) fn decibels(power: f64, floor: f64) -> f64 {
    10.0 * power.max(floor).max(f64::MIN_POSITIVE).log10()
}

pub(super) fn from_db(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}
