//! The odds that a note starts at a moment: a small network, fitted by `tests/fit/onsets.py`.

use super::evidence::OnsetEvidence;
use super::weights::{FIRST, FIRST_OFFSET, HIDDEN, SECOND, SECOND_OFFSET};

/// Natural logarithm of the odds of an onset.
pub(super) fn log_odds(evidence: &OnsetEvidence) -> f32 {
    // Column by column, so that the sums of all units run side by side.
    let mut units = FIRST_OFFSET;
    for (value, column) in evidence.iter().zip(&FIRST) {
        for unit in 0..HIDDEN {
            units[unit] += value * column[unit];
        }
    }
    let mut sum = SECOND_OFFSET;
    for (unit, weight) in units.iter().zip(SECOND) {
        sum += unit.max(0.0) * weight;
    }
    sum
}
