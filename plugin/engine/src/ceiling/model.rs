//! From evidence to reduction: boosted trees, fitted by `tests/lab/fit/further.py`, the odds by `ceiling.py` beside
//! it; half of the say is the [networks'](super::set).
//!
//! Trees are worked through some at a time, so that no cell of a millisecond carries all of them.

use super::EVIDENCE;
use super::evidence::{CREST, WINDOW};
use super::set::ANSWERS;
use super::tree::{TREE, leaf};
use super::weights::{CENTRE, HEADS, SCALE, TREES};
use crate::thresholds::{self as t, SECTION_HITS};

/// Share of the network in the estimate of a section or a whole window; in that of fewer hits than it was fitted
/// on it has as much less. Ours: of sources left out of the fit in turn 0.5 and 0.7 err alike, and less than none
/// or all; of a section's hits half errs as little as none, and reads a section as the song is read.
const SET_SHARE: f64 = 0.5;

/// For the distance from what the fit saw, evidence further from its centre than so many scales counts as that
/// far: one number that is far off by itself is no song of another kind. Ours.
const FURTHEST: f32 = 6.0;

/// How much less the odds of a section count than those of a whole window. Ours: with it a section
/// is called limited wrongly as seldom, 2 % on songs left out of the fit in turn.
const FEW_HITS_ODDS: f64 = 1.0;

/// Trees worked through at a time.
const AT_ONCE: usize = 512;

/// Reduction at the hits of the window, dB, none negative, and whether there is any.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Estimate {
    /// Median over hits: low end, best estimate, high end of the 90 % range.
    pub(super) median: [f64; 3],
    /// 90th percentile over hits, likewise.
    pub(super) p90: [f64; 3],
    /// Largest.
    pub(super) most: f64,
    /// Natural logarithm of the odds that something limits the hits.
    pub(super) odds: f64,
    /// How unlike the evidence is to what the fit saw, see [`Ceiling::unlike`](crate::Ceiling::unlike).
    pub(super) unlike: f64,
    /// How far the trees and the network differ on the median, dB.
    pub(super) doubt: f64,
    /// Highest peak over the loudness of the window, dB: of a window what the PLR is of a programme.
    pub(super) crest: f64,
}

impl Estimate {
    /// The 90 % range of the median, dB, as wide as the error on sources that no fit saw; or from its
    /// low end to the deepest that the fit saw.
    pub(super) fn range(&self, at_least: bool) -> (f64, f64) {
        let [low, best, high] = self.median;
        let far = (self.unlike - t::UNLIKE_FAR).max(0.0);
        let wider = t::RANGE_DOUBT * self.doubt + t::RANGE_UNLIKE_DB * far;
        let (low, high) = ((low.min(best) - wider).max(0.0), high.max(best) + wider);
        (low, if at_least { high.max(t::DEEPEST_SEEN_DB) } else { high })
    }

    /// Whether the peaks lie so low over the loudness, and the estimate so high, that a limiter that
    /// is there takes at least the low end of the range; easier where it was so before.
    pub(super) fn is_deep(&self, before: bool) -> bool {
        let hold = if before { t::STATE_HOLD_DB } else { 0.0 };
        self.crest <= t::PLAINLY_CREST_DB + hold && self.median[1] >= t::PLAINLY_GONE_DB - hold
    }

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

/// The trees, in work.
#[derive(Clone, Debug, Default)]
pub(super) struct Forest {
    /// Sums of leaves by head, in its steps.
    sums: [i32; HEADS.len()],
    /// Head in work, and trees of it and of all heads done.
    head: usize,
    of_head: usize,
    done: usize,
}

impl Forest {
    /// Works through some of the trees with the same `evidence`, of a window of `hits`, at every call
    /// since it was made or has given an estimate. Gives the estimate once all are through, with what the
    /// network `answers`.
    pub(super) fn step(
        &mut self,
        evidence: &[f32; EVIDENCE],
        hits: usize,
        answers: &[f64; ANSWERS],
    ) -> Option<Estimate> {
        let rest = &TREES[self.done * TREE..];
        for tree in rest.chunks_exact(TREE).take(AT_ONCE) {
            while self.of_head == HEADS[self.head].trees {
                (self.head, self.of_head) = (self.head + 1, 0);
            }
            self.sums[self.head] += i32::from(leaf(tree, evidence));
            self.of_head += 1;
            self.done += 1;
        }
        if self.done * TREE < TREES.len() {
            return None;
        }
        let estimate = Estimate::of(&self.sums, evidence, hits, answers);
        *self = Self::default();
        Some(estimate)
    }
}

impl Estimate {
    fn of(
        sums: &[i32; HEADS.len()],
        evidence: &[f32; EVIDENCE],
        hits: usize,
        answers: &[f64; ANSWERS],
    ) -> Self {
        let mut far = 0.0;
        for ((value, centre), scale) in evidence.iter().zip(CENTRE).zip(SCALE) {
            far += ((value - centre) / scale).clamp(-FURTHEST, FURTHEST).powi(2);
        }
        let unlike = f64::from(far / EVIDENCE as f32).sqrt();
        let more = hits.saturating_sub(SECTION_HITS) as f64 / (WINDOW - SECTION_HITS) as f64;
        let more = more.min(1.0);
        let say = SET_SHARE * (hits as f64 / SECTION_HITS as f64).min(1.0);
        let trees = |head: usize| f64::from(sums[head]) * HEADS[head].step + HEADS[head].offset;
        let out: [f64; ANSWERS] =
            std::array::from_fn(|head| (1.0 - say) * trees(head).max(0.0) + say * answers[head]);
        let doubt = (trees(1).max(0.0) - answers[1]).abs();
        let [mut median, mut p90] = [[out[0], out[1], out[2]], [out[3], out[4], out[5]]];
        for range in [&mut median, &mut p90] {
            range.sort_unstable_by(f64::total_cmp);
        }
        // A 90th percentile lies over the median, and the largest value over both.
        for (high, low) in p90.iter_mut().zip(median) {
            *high = high.max(low);
        }
        Self {
            median,
            p90,
            most: out[6].max(p90[1]),
            odds: trees(ANSWERS) - FEW_HITS_ODDS * (1.0 - more),
            unlike,
            doubt,
            crest: f64::from(evidence[CREST]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ceiling::weights::{EXAMPLE, EXAMPLE_OUT};

    /// The script writes a row of evidence and its own answer beside the weights. A network that answers with
    /// nothing leaves the rest its share, and all of the odds.
    #[test]
    fn gives_what_the_fit_gives() {
        let mut forest = Forest::default();
        for again in 0..2 {
            let mut steps = 1;
            let got = loop {
                if let Some(estimate) = forest.step(&EXAMPLE, WINDOW, &[0.0; ANSWERS]) {
                    break estimate;
                }
                steps += 1;
            };
            let trees: usize = HEADS.iter().map(|head| head.trees).sum();
            assert_eq!((TREES.len(), steps), (trees * TREE, trees.div_ceil(AT_ONCE)), "{again}");
            let got = [&got.median[..], &got.p90[..], &[got.most, got.odds]].concat();
            for (head, (got, want)) in got.iter().zip(EXAMPLE_OUT).enumerate() {
                let got = if head < ANSWERS { got / (1.0 - SET_SHARE) } else { *got };
                // Leaves are rounded to a 32,000th of the largest.
                assert!((got - want).abs() < 0.02, "{got} for {want}");
            }
        }
    }
}
