//! The two halves of hit contrast: the level of a hit and of what surrounds it, the same for a
//! live meter's ring of cells and for a whole passage in memory.

use crate::cells::Cells;
use crate::decibels::{power_db, power_ratio};
use crate::thresholds as t;

/// K-weighted powers by cell number.
pub(crate) trait Weighted {
    /// The cells numbered `from..to` with their weighted power, cut to those that are there.
    fn weighted(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, f32)>;
}

impl Weighted for Cells {
    fn weighted(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, f32)> {
        self.range(from, to).map(|(number, cell)| (number, cell.weighted))
    }
}

/// The K-weighted powers that a small speaker leaves of the cells.
pub(crate) struct Small<'a>(pub(crate) &'a Cells);

impl Weighted for Small<'_> {
    fn weighted(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, f32)> {
        self.0.range(from, to).map(|(number, cell)| (number, cell.small))
    }
}

impl Weighted for [f32] {
    fn weighted(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, f32)> {
        let to = to.min(self.len() as u64);
        (from.min(to)..to).map(|number| (number, self[number as usize]))
    }
}

/// The loudest 10 ms within the first [`t::HIT_LEVEL_MS`] from cell `start`: their mean power, and
/// the cell from which they run.
pub(crate) fn level<W: Weighted + ?Sized>(powers: &W, start: u64) -> (f64, u64) {
    const CELLS: usize = t::HIT_LEVEL_MS as usize;
    let mut first = [0.0f32; CELLS];
    for (number, power) in powers.weighted(start, start + CELLS as u64) {
        first[(number - start) as usize] = power;
    }
    let mut loudest = (0.0f32, start);
    for (from, ten) in first.windows(10).enumerate() {
        let sum: f32 = ten.iter().sum();
        if sum > loudest.0 {
            loudest = (sum, start + from as u64);
        }
    }
    (f64::from(loudest.0) / 10.0, loudest.1)
}

/// Mean power of what surrounds the onset `number`: the 400 ms before it and its sustained part,
/// without the first milliseconds of other hits. `onset` gives the cell of each onset numbered
/// `known`; they are in order of time.
pub(crate) fn bed<W: Weighted + ?Sized>(
    powers: &W,
    number: u64,
    known: std::ops::Range<u64>,
    onset: impl Fn(u64) -> u64,
) -> f64 {
    let start = onset(number);
    let next = if number + 1 < known.end { onset(number + 1) } else { u64::MAX };
    let before = start.saturating_sub(t::SURROUND_BEFORE_MS as u64)..start.saturating_sub(2);
    let after = start + t::SUSTAIN_FROM_MS as u64..start + t::SURROUND_AFTER_MS as u64;
    let (mut all, mut between) = ((0.0f64, 0u64), (0.0f64, 0u64));
    // Onsets are in order of time: one walks along with the cells.
    let mut other = number;
    while other > known.start && onset(other) + t::OTHER_HIT_MS > before.start {
        other -= 1;
    }
    for piece in [before, after] {
        // A hit that follows within the sustained part ends it: its body is not this one's bed.
        let ended = if piece.start > start { next.saturating_sub(1) } else { u64::MAX };
        let mut at = piece.start;
        while at < piece.end {
            while other + 1 < known.end && onset(other + 1) <= at + 2 {
                other += 1;
            }
            // Up to where the next onset begins, there is one onset to ask about.
            let coming = if other + 1 < known.end { onset(other + 1) - 2 } else { u64::MAX };
            let mut end = piece.end.min(coming);
            let mut counts = at < ended;
            if other != number && onset(other) <= at + 2 {
                let free = onset(other) + t::OTHER_HIT_MS;
                if at < free {
                    counts = false;
                    end = end.min(free);
                }
            } else if other != number {
                end = end.min(onset(other) - 2);
            }
            if counts {
                end = end.min(ended);
            }
            for (_, power) in powers.weighted(at, end) {
                let power = f64::from(power);
                all = (all.0 + power, all.1 + 1);
                if counts {
                    between = (between.0 + power, between.1 + 1);
                }
            }
            at = end;
        }
    }
    let (sum, count) = if between.1 >= t::BED_LEAST_MS { between } else { all };
    if count == 0 { 0.0 } else { sum / count as f64 }
}

/// Hit contrast, dB, of a level over a bed, both powers, capped at
/// [`t::CONTRAST_MOST_DB`].
pub(crate) fn contrast_db(level: f64, bed: f64) -> f64 {
    power_db(level / capped(level, bed))
}

/// The power of a bed, or what lies [`t::CONTRAST_MOST_DB`] under the level over it.
pub(crate) fn capped(level: f64, bed: f64) -> f64 {
    bed.max(level * power_ratio(-t::CONTRAST_MOST_DB))
}
