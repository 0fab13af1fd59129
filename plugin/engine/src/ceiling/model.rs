//! From evidence to reduction: a small network and straight lines, fitted by
//! `tests/fit/ceiling.py`. The lines go on where the network has seen nothing.

use super::EVIDENCE;
use super::evidence::WINDOW;
use super::weights::{
    CENTRE, FIRST, FIRST_OFFSET, HEADS, HIDDEN, LINES, LINES_OFFSET, SCALE, SECOND, SECOND_OFFSET,
};
use crate::lanes::dot;
use crate::thresholds::SECTION_HITS;

/// Share of the straight lines in the estimate of a whole window; in that of a section they have
/// none, since they mistake a few equal hits for limited ones.
const LINES_SHARE: f64 = 0.5;

/// Evidence further from its centre than so many scales counts as that far: the fit has seen
/// nothing beyond.
const CLIP: f32 = 3.0;

/// Reduction at the hits of the window, dB, none negative.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Estimate {
    /// Median over hits: low end, best estimate, high end of the 90 % range.
    pub(super) median: [f64; 3],
    /// 90th percentile over hits, likewise.
    pub(super) p90: [f64; 3],
    /// Largest.
    pub(super) most: f64,
}

impl Estimate {
    /// The reduction that a share `rank` (0 to 1) of the hits stays under, dB: straight lines
    /// through the median, the 90th percentile and the largest.
    pub(super) fn at(&self, rank: f64) -> f64 {
        let (median, p90) = (self.median[1], self.p90[1]);
        let db = if rank < 0.9 {
            median + (p90 - median) * (rank - 0.5) / 0.4
        } else {
            p90 + (self.most - p90) * (rank - 0.9) / 0.1
        };
        db.max(0.0)
    }

    /// Mean over hits, dB.
    pub(super) fn mean(&self) -> f64 {
        const STEPS: u32 = 20;
        let rank = |step: u32| (f64::from(step) + 0.5) / f64::from(STEPS);
        (0..STEPS).map(|step| self.at(rank(step))).sum::<f64>() / f64::from(STEPS)
    }
}

/// Estimates from the evidence of a window of `hits`.
pub(super) fn estimate(evidence: &[f32; EVIDENCE], hits: usize) -> Estimate {
    let mut input = *evidence;
    for ((value, centre), scale) in input.iter_mut().zip(CENTRE).zip(SCALE) {
        *value = ((*value - centre) / scale).clamp(-CLIP, CLIP);
    }
    let mut hidden = [0.0f32; HIDDEN];
    for ((unit, row), offset) in hidden.iter_mut().zip(&FIRST).zip(FIRST_OFFSET) {
        *unit = (dot(row, &input) + offset).tanh();
    }
    let more = hits.saturating_sub(SECTION_HITS) as f64 / (WINDOW - SECTION_HITS) as f64;
    let share = LINES_SHARE * more.min(1.0);
    let out: [f64; HEADS] = std::array::from_fn(|head| {
        let net = f64::from(dot(&SECOND[head], &hidden) + SECOND_OFFSET[head]).max(0.0);
        let line = f64::from(dot(&LINES[head], &input) + LINES_OFFSET[head]).max(0.0);
        (1.0 - share) * net + share * line
    });
    let [mut median, mut p90] = [[out[0], out[1], out[2]], [out[3], out[4], out[5]]];
    median.sort_unstable_by(f64::total_cmp);
    p90.sort_unstable_by(f64::total_cmp);
    // A 90th percentile lies over the median, and the largest value over both.
    for (high, low) in p90.iter_mut().zip(median) {
        *high = high.max(low);
    }
    Estimate { median, p90, most: out[6].max(p90[1]) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ceiling::weights::{EXAMPLE, EXAMPLE_OUT};

    /// The script writes a row of evidence and its own answer beside the weights.
    #[test]
    fn gives_what_the_fit_gives() {
        let got = estimate(&EXAMPLE, WINDOW);
        let got = [got.median, got.p90].concat();
        for (got, want) in got.iter().zip(EXAMPLE_OUT) {
            assert!((got - want).abs() < 2e-3, "{got} for {want}");
        }
    }
}
