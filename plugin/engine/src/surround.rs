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

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    use super::*;
    use crate::cells::Cell;

    /// The definition of hit contrast in `docs/readings.md` written out: of the 400 ms before and of 80 to
    /// 250 ms after, what is neither in the first 50 ms of another hit, with 2 ms ahead of it for its
    /// place, nor behind the next one; all of it where less than 40 ms are left.
    fn plain(powers: &[f32], number: usize, onsets: &[i64]) -> f64 {
        let start = onsets[number];
        let others = || onsets.iter().enumerate().filter(|(other, _)| *other != number);
        let free = |cell: i64| others().all(|(_, at)| !(at - 2..at + 50).contains(&cell));
        let next = onsets.get(number + 1).copied().unwrap_or(i64::MAX);
        let cells: Vec<(f64, bool)> = (start - 400..start - 2)
            .chain(start + 80..start + 250)
            .filter_map(|cell| {
                let power = powers.get(usize::try_from(cell).ok()?)?;
                Some((f64::from(*power), free(cell) && (cell < start || cell < next)))
            })
            .collect();
        let mean = |of: Vec<f64>| of.iter().sum::<f64>() / of.len() as f64;
        let between: Vec<f64> = cells.iter().filter(|cell| cell.1).map(|cell| cell.0).collect();
        if between.len() >= 40 { mean(between) } else { mean(cells.iter().map(|c| c.0).collect()) }
    }

    #[test]
    fn beds_are_those_of_the_definition() {
        let mut rng = Pcg64::seed_from_u64(26);
        for dense in [60i64, 120, 700] {
            let powers: Vec<f32> = (0..6_000).map(|_| rng.random_range(0.0..1.0)).collect();
            let mut onsets = vec![rng.random_range(5..100)];
            while let Some(last) = onsets.last().filter(|last| **last < 5_800) {
                onsets.push(last + rng.random_range(25..dense));
            }
            for number in 0..onsets.len() {
                let known = 0..onsets.len() as u64;
                let got = bed(&powers[..], number as u64, known, |n| onsets[n as usize] as u64);
                let want = plain(&powers, number, &onsets);
                assert!((got - want).abs() < 1e-12, "{number} of {dense}: {got} for {want}");
            }
        }
    }

    /// Onsets that are forgotten count no more, and without any power there is no bed.
    #[test]
    fn what_is_not_known_has_no_part_in_a_bed() {
        let powers = [0.5f32; 1_000];
        let onsets = [200u64, 500];
        let of = |known| bed(&powers[..], 1, known, |n| onsets[n as usize]);
        assert!((of(0..2) - 0.5).abs() < 1e-12 && (of(1..2) - 0.5).abs() < 1e-12);
        assert_eq!(bed(&powers[..0], 0, 0..1, |_| 500), 0.0);
    }

    /// By hand: ten cells of 1 among 0.1 are the loudest ten, wherever they lie in the thirty; what lies
    /// behind the end of the powers is silence.
    #[test]
    fn the_level_is_that_of_the_loudest_ten_milliseconds() {
        let mut powers = [0.1f32; 200];
        powers[100..110].fill(1.0);
        for start in [80, 90, 95, 100] {
            let (power, from) = level(&powers[..], start);
            assert!((power - 1.0).abs() < 1e-6 && from == 100, "{start}: {power} from {from}");
        }
        // Five of them within reach, and five of 0.1.
        assert!((level(&powers[..], 75).0 - 0.55).abs() < 1e-6);
        assert!((level(&powers[..], 105).0 - 0.55).abs() < 1e-6);
        assert!((level(&powers[..], 195).0 - 0.05).abs() < 1e-6);
        assert_eq!(level(&[0.0f32; 50][..], 7), (0.0, 7));
    }

    /// Closed form; 40 dB at most, as `docs/readings.md` says.
    #[test]
    fn contrast_is_a_ratio_of_powers_with_an_end() {
        assert!((contrast_db(2.0, 0.02) - 20.0).abs() < 1e-9);
        assert!((contrast_db(0.5, 1.0) + 3.0103).abs() < 1e-4);
        assert!((contrast_db(3.0, 0.0) - 40.0).abs() < 1e-9);
        assert_eq!(capped(1.0, 0.5), 0.5);
    }

    /// A ring of cells gives the powers that were put in, with and without a small speaker.
    #[test]
    fn cells_give_the_powers_that_were_put_in() {
        let mut cells = Cells::new();
        for number in 0..100u8 {
            let power = f32::from(number);
            cells.push(Cell { weighted: power, small: 0.5 * power, ..Cell::default() });
        }
        let whole: Vec<_> = cells.weighted(10, 12).collect();
        assert_eq!(whole, [(10, 10.0), (11, 11.0)]);
        let small: Vec<_> = Small(&cells).weighted(98, 120).collect();
        assert_eq!(small, [(98, 49.0), (99, 49.5)]);
    }
}
