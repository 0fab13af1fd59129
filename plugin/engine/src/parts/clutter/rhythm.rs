//! How far a part's rhythm is that of the drums.

use crate::contrast::quantile;
use crate::thresholds::arrangement as l;

/// How two rows of onsets fall together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shared {
    /// |A and B| over |A or B|, 0 to 1: onsets matched one to one within [`l::SHARED_MS`].
    pub ratio: f64,
    /// Share of B's onsets with no onset of A within [`l::SHARED_MS`], 0 to 1.
    pub own: f64,
    /// Constant offset of B that was taken out, ms; positive: late. 0 where B has none.
    pub offset_ms: f64,
}

/// How the onsets `part` fall together with the `hits`, both in cells of `cell_ms` and in order.
#[must_use]
pub fn shared(hits: &[f64], part: &[f64], cell_ms: f64) -> Shared {
    let offset = offset(hits, part, cell_ms);
    let reach = l::SHARED_MS / cell_ms;
    let (mut i, mut j, mut both) = (0, 0, 0usize);
    // The earliest pair that fits is always part of a largest matching.
    while i < hits.len() && j < part.len() {
        let apart = part[j] - offset - hits[i];
        if apart.abs() <= reach {
            both += 1;
            i += 1;
            j += 1;
        } else if apart > 0.0 {
            i += 1;
        } else {
            j += 1;
        }
    }
    let either = hits.len() + part.len() - both;
    let own = part.iter().filter(|&&at| nearest(hits, at - offset).abs() > reach).count();
    Shared {
        ratio: both as f64 / either.max(1) as f64,
        own: own as f64 / part.len().max(1) as f64,
        offset_ms: offset * cell_ms,
    }
}

/// Constant offset of a part's onsets against the hits, cells; 0 where they have none.
pub(super) fn offset(hits: &[f64], part: &[f64], cell_ms: f64) -> f64 {
    let reach = (l::OFFSET_MOST_MS + l::SHARED_MS) / cell_ms;
    let mut apart: Vec<f64> =
        part.iter().map(|&at| nearest(hits, at)).filter(|apart| apart.abs() <= reach).collect();
    if apart.len() < l::LEAST_ONSETS {
        return 0.0;
    }
    apart.sort_by(f64::total_cmp);
    let middle = quantile(&apart, 0.5);
    let mut around: Vec<f64> = apart.iter().map(|apart| (apart - middle).abs()).collect();
    around.sort_by(f64::total_cmp);
    let constant = middle.abs() * cell_ms <= l::OFFSET_MOST_MS
        && quantile(&around, 0.5) * cell_ms <= l::OFFSET_SPREAD_MS;
    if constant { middle } else { 0.0 }
}

/// How much later `at` is than the nearest of `hits`; infinite where there is none.
pub(super) fn nearest(hits: &[f64], at: f64) -> f64 {
    let after = hits.partition_point(|&hit| hit <= at);
    let late = after.checked_sub(1).map_or(f64::INFINITY, |n| at - hits[n]);
    let early = hits.get(after).map_or(f64::NEG_INFINITY, |hit| at - hit);
    if late <= -early { late } else { early }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ratio_is_that_of_the_sets() {
        let hits: Vec<f64> = (0..20).map(|n| f64::from(n) * 250.0).collect();
        // Half of the hits, 12 ms late, and ten notes of its own.
        let mut part: Vec<f64> = hits.iter().step_by(2).map(|hit| hit + 12.0).collect();
        part.extend(hits.iter().step_by(2).map(|hit| hit + 125.0));
        part.sort_by(f64::total_cmp);
        let read = shared(&hits, &part, 1.0);
        assert_eq!((read.ratio, read.own), (10.0 / 30.0, 0.5));
    }

    #[test]
    fn a_late_part_is_late_and_not_apart() {
        let hits: Vec<f64> = (0..20).map(|n| f64::from(n) * 250.0).collect();
        let part: Vec<f64> = hits.iter().map(|hit| hit + 36.0).collect();
        let read = shared(&hits, &part, 1.0);
        assert_eq!((read.ratio, read.own, read.offset_ms), (1.0, 0.0, 36.0));
    }

    #[test]
    fn one_hit_is_shared_once() {
        let read = shared(&[1_000.0], &[990.0, 1_010.0], 1.0);
        assert_eq!((read.ratio, read.own), (0.5, 0.0));
    }
}
