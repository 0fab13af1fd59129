//! The constant gain between two aligned streams, found from moments without reduction.
//!
//! Over time the level ratio of the two is the constant gain less whatever a limiter takes at that
//! moment. Where the limiter rests, the ratio stands still at its largest value: the topmost place
//! where it stands still, or, behind a codec, where ratios crowd, is the constant gain. A limiter that
//! never rests leaves a tail without an end: the gain lies at its tip or over it, and the range says
//! how far.

use crate::thresholds::compare as t;

/// Width of a bin, dB.
const STEP_DB: f64 = 0.05;
/// Range of ratios, dB, either way.
const MOST_DB: f64 = 60.0;
/// Bins of a crowd: 0.2 dB.
const CROWD: usize = 4;
const BINS: usize = (2.0 * MOST_DB / STEP_DB) as usize;

/// A constant gain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gain {
    /// The gain, dB.
    pub(crate) db: f64,
    /// Half of its 90 % range, dB, but for what a limiter that never rests hides.
    pub(crate) half_db: f64,
    /// Whether moments without reduction were found; `None` where the ratio wobbles too much to tell.
    pub(crate) rests: Option<bool>,
}

/// Counts level ratios.
#[derive(Clone, Debug)]
pub(crate) struct GainFinder {
    counts: Box<[u32]>,
    /// Those among them that differ from the one before by next to nothing, and their sum, dB.
    still: Box<[(u32, f64)]>,
    /// The two before, dB.
    last_db: [f64; 2],
    /// Moments whose ratio lies on a line with the two before.
    smooth: u64,
    total: u64,
    highest: usize,
    found: Option<Gain>,
}

impl GainFinder {
    /// Allocates.
    pub(crate) fn new() -> Self {
        Self {
            counts: vec![0; BINS].into(),
            still: vec![(0, 0.0); BINS].into(),
            last_db: [f64::INFINITY; 2],
            smooth: 0,
            total: 0,
            highest: 0,
            found: None,
        }
    }

    /// Takes the ratio of one moment, dB.
    pub(crate) fn add(&mut self, ratio_db: f64) {
        if ratio_db.is_nan() || ratio_db.abs() >= MOST_DB {
            return;
        }
        let bin = (((ratio_db + MOST_DB) / STEP_DB) as usize).min(BINS - 1);
        self.counts[bin] = self.counts[bin].saturating_add(1);
        let [last, before] = self.last_db;
        if (ratio_db - last).abs() < t::GAIN_STILL_DB {
            let (count, sum) = &mut self.still[bin];
            *count = count.saturating_add(1);
            *sum += ratio_db;
        }
        self.smooth += u64::from((ratio_db - 2.0 * last + before).abs() < t::GAIN_SMOOTH_DB);
        self.last_db = [ratio_db, last];
        self.total += 1;
        self.highest = self.highest.max(bin);
    }

    /// The gain as last brought up to date.
    pub(crate) fn gain(&self) -> Option<Gain> {
        self.found
    }

    /// Brings the gain up to date: a walk down the counts from the top.
    pub(crate) fn update(&mut self) {
        if self.total < t::GAIN_LEAST_MOMENTS {
            return;
        }
        self.found = self.at_rest(t::GAIN_OVER_REST, t::GAIN_REST_MOMENTS).or_else(|| {
            let (crowd, stands_out) = self.crowded();
            if !self.clean() {
                return Some(crowd);
            }
            // No moment lies over the gain.
            let tip = self.tip_db();
            let rests = stands_out && tip - crowd.db <= t::GAIN_RANGE_DB;
            Some(Gain { db: tip, half_db: t::GAIN_RANGE_DB, rests: Some(rests) })
        });
    }

    /// Whether both streams differ by a changing gain and nothing else.
    fn clean(&self) -> bool {
        self.total >= t::GAIN_LEAST_MOMENTS
            && self.smooth as f64 >= t::GAIN_SMOOTH_SHARE * self.total as f64
    }

    /// Where the ratio stands still, dB, for so many `moments` or more, with `over`, a share of all, over it at most;
    /// `None` where it does not.
    pub(super) fn rests_at(&self, over: f64, moments: u32) -> Option<f64> {
        self.at_rest(over, moments).map(|gain| gain.db)
    }

    /// Where the ratio stands still, and is hardly ever over it.
    fn at_rest(&self, over_share: f64, least: u32) -> Option<Gain> {
        let mut over = 0;
        let mut top = self.highest;
        while top > 1 && f64::from(over) <= self.total as f64 * over_share {
            // A rest may lie at the border of two bins.
            let [(here, sum), (under, sum_under)] = [self.still[top], self.still[top - 1]];
            let (still, moments) = (here + under, self.counts[top] + self.counts[top - 1]);
            if still >= least && f64::from(still) >= t::GAIN_REST_SHARE * f64::from(moments) {
                let db = (sum + sum_under) / f64::from(still);
                return Some(Gain { db, half_db: t::GAIN_RANGE_DB, rests: Some(true) });
            }
            over += self.counts[top];
            top -= 1;
        }
        None
    }

    /// The topmost crowd, and whether it stands out from what lies under it.
    fn crowded(&self) -> (Gain, bool) {
        let least = (self.total as f64 * t::GAIN_CROWD_SHARE).max(3.0) as u64;
        let mut top = self.highest;
        while top > CROWD && self.crowd(top) < least {
            top -= 1;
        }
        // From the edge of the crowd down to its middle, and no further than a spread could be.
        let spread = (t::GAIN_SPREAD_DB / STEP_DB) as usize;
        let lowest = top.saturating_sub(spread).max(CROWD);
        let best = (lowest..=top).rev().max_by_key(|&at| self.crowd(at)).unwrap_or(top);
        let under = self.crowd(best.saturating_sub(2 * spread));
        let stands_out = self.crowd(best) as f64 >= t::GAIN_STANDS_OUT * under as f64;
        let (mut sum, mut count) = (0.0, 0.0);
        for bin in (best + 1).saturating_sub(CROWD)..=best {
            let here = f64::from(self.counts[bin]);
            sum += here * (bin as f64 + 0.5);
            count += here;
        }
        let db = sum / f64::max(count, 1.0) * STEP_DB - MOST_DB;
        let edge = self.highest.min(top) as f64 * STEP_DB - MOST_DB;
        let half_db = (edge - db).max(0.0) + t::GAIN_RANGE_DB;
        (Gain { db, half_db, rests: None }, stands_out)
    }

    /// The largest ratio that a few moments reach, dB. A limiter that never rests takes something there,
    /// too, which is not seen.
    fn tip_db(&self) -> f64 {
        self.reached_by(t::GAIN_REST_MOMENTS)
    }

    /// The largest ratio that a share of all moments reaches, dB.
    pub(super) fn reached_db(&self, share: f64) -> f64 {
        self.reached_by((share * self.total as f64).ceil() as u32)
    }

    fn reached_by(&self, moments: u32) -> f64 {
        let mut bin = self.highest;
        let mut reached = self.counts[bin];
        while bin > 0 && reached < moments {
            bin -= 1;
            reached += self.counts[bin];
        }
        (bin as f64 + 0.5) * STEP_DB - MOST_DB
    }

    /// Ratios in the bins up to `top`.
    fn crowd(&self, top: usize) -> u64 {
        let from = (top + 1).saturating_sub(CROWD);
        self.counts[from..=top].iter().map(|&count| u64::from(count)).sum()
    }

    pub(crate) fn reset(&mut self) {
        self.counts.fill(0);
        self.still.fill((0, 0.0));
        self.last_db = [f64::INFINITY; 2];
        self.smooth = 0;
        self.total = 0;
        self.highest = 0;
        self.found = None;
    }
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    use super::*;

    /// A limiter that rests for a tenth of the time: the gain is that of the rest.
    #[test]
    fn the_gain_is_that_of_the_moments_without_reduction() {
        for (resting, spread) in [(0.1, 0.0), (0.5, 0.0), (0.9, 0.0), (0.3, 0.1)] {
            let mut finder = GainFinder::new();
            for k in 0..2_000 {
                let part = f64::from(k) / 2_000.0;
                let wobble = spread * (f64::from(k * 37 % 100) / 50.0 - 1.0);
                let reduction = if part < resting {
                    0.0
                } else {
                    0.5 + 6.0 * f64::from(k * 7919 % 997) / 997.0
                };
                finder.add(4.3 - reduction + wobble);
            }
            finder.update();
            let gain = finder.gain().expect("enough moments");
            assert!((gain.db - 4.3).abs() < 0.05 + spread / 2.0, "{resting}: {gain:?}");
            assert!(gain.half_db >= (gain.db - 4.3).abs(), "{resting}: {gain:?}");
            assert_ne!(gain.rests, Some(false));
            if spread == 0.0 {
                assert_eq!((gain.db * 1e6).round(), 4.3e6, "exact where it stands still");
            }
        }
    }

    /// A limiter with a one-pole release that is hit again before it rests: what is found lies under
    /// the gain, and is said to. Where it rests now and then, the gain is found.
    #[test]
    fn a_limiter_that_never_rests_is_told() {
        for (release_ms, rests) in [(80.0, true), (250.0, false), (500.0, false)] {
            let mut finder = GainFinder::new();
            let mut reduction = 6.0f64;
            let (mut next, mut random) = (0, Pcg64::seed_from_u64(1));
            for k in 0..3_000 {
                if k == next {
                    let part: f64 = random.random();
                    reduction = reduction.max(4.0 + 4.0 * part);
                    next += if rests && part < 0.2 { 80 } else { 15 + (45.0 * part) as i32 };
                }
                reduction *= f64::exp(-10.0 / release_ms);
                finder.add(4.3 - reduction);
            }
            finder.update();
            let gain = finder.gain().expect("enough moments");
            assert_eq!(gain.rests, Some(rests), "{release_ms} ms: {gain:?}");
            if rests {
                assert!((gain.db - 4.3).abs() < 0.01, "{gain:?}");
            } else {
                assert!(gain.db < 4.3, "{gain:?}");
            }
        }
    }

    /// Reduction of a limiter that never rests, dB: 2.3 that shrink by 0.04 every 10 ms for half a second.
    fn sawtooth(k: u32) -> f64 {
        2.3 - 0.04 * f64::from(k % 50)
    }

    fn found(ratios: impl IntoIterator<Item = f64>) -> Option<Gain> {
        let mut finder = GainFinder::new();
        ratios.into_iter().for_each(|ratio| finder.add(ratio));
        finder.update();
        finder.gain()
    }

    /// By hand: a ratio that stands still is the gain, whatever it is; what is no ratio does not count, and half
    /// a second has to.
    #[test]
    fn a_still_ratio_is_the_gain() {
        for db in [-31.27, -0.05, 0.0, 4.3, 4.325, 12.349_999, 31.4] {
            let gain = found([db; 50]).expect("half a second");
            assert!((gain.db - db).abs() < 1e-9, "{gain:?} for {db}");
            assert_eq!((gain.half_db, gain.rests), (t::GAIN_RANGE_DB, Some(true)));
            assert_eq!(found([db; 49]), None);
            let nothing = [f64::NAN, f64::INFINITY, 60.0, -60.0, -75.0];
            assert_eq!(found([db; 49].into_iter().chain(nothing)), None);
        }
        let mut finder = GainFinder::new();
        (0..100).for_each(|_| finder.add(7.0));
        finder.update();
        finder.reset();
        assert_eq!(finder.gain(), None);
        (0..60).for_each(|k| finder.add(-3.0 - 1e-4 * f64::from(k % 2)));
        finder.update();
        let gain = finder.gain().expect("enough moments");
        assert!((gain.db + 3.000_05).abs() < 1e-5 && gain.rests == Some(true), "{gain:?}");
    }

    /// By hand: a rest on the border of two bins of 0.05 dB is the mean of both halves; one of four moments in
    /// 2,000 counts, and one of three does not; two moments over it do not move it.
    #[test]
    fn a_short_rest_counts() {
        let border = (0..200).map(|k| 4.25 + if k % 2 == 0 { 0.000_4 } else { -0.000_4 });
        let gain = found(border).expect("enough moments");
        assert!((gain.db - 4.25).abs() < 1e-5 && gain.rests == Some(true), "{gain:?}");

        let resting = |moments: usize, over: usize| {
            let attacks = (0..over).map(|k| 6.0 + 0.5 * k as f64);
            found(attacks.chain((0..2_000).map(|k| 4.3 - sawtooth(k))).chain(vec![4.3; moments]))
                .expect("enough moments")
        };
        // The first of a rest comes from elsewhere: it does not stand still yet.
        for (moments, rests) in [(9, true), (5, true), (4, false)] {
            let gain = resting(moments, 0);
            assert_eq!((gain.db - 4.3).abs() < 1e-6, rests, "{moments}: {gain:?}");
            assert_eq!(gain.rests, Some(rests), "{moments}: {gain:?}");
        }
        for (over, rests) in [(2, true), (3, false)] {
            assert_eq!((resting(9, over).db - 4.3).abs() < 1e-6, rests, "{over} over");
        }
    }

    /// A limiter that never rests: the gain is no further off than what is hidden, and the tip of what is seen, to
    /// half a bin, is where four moments get to.
    #[test]
    fn the_tip_is_what_a_few_moments_reach() {
        let gain = found((0..2_000).map(|k| 4.3 - sawtooth(k))).expect("enough moments");
        let tip = 4.3 - sawtooth(49);
        assert_eq!((gain.half_db, gain.rests), (t::GAIN_RANGE_DB, Some(false)));
        assert!((gain.db - tip).abs() <= STEP_DB / 2.0 + 1e-9, "{gain:?} for {tip}");
    }

    /// Behind a codec ratios wobble: three in ten moments lie about the gain, evenly over 0.2 dB, and the others
    /// 1 to 7 dB under it. The middle of the crowd is the gain, and the range reaches from there to its edge.
    #[test]
    fn a_crowd_has_its_middle() {
        let mut random = Pcg64::seed_from_u64(3);
        for db in [-20.0, 4.3, 25.0] {
            let ratios: Vec<f64> = (0..20_000)
                .map(|k| {
                    let wobble: f64 = random.random_range(-0.1..0.1);
                    let under = if k % 10 < 3 { 0.0 } else { random.random_range(1.0..7.0) };
                    db + wobble - under
                })
                .collect();
            let gain = found(ratios).expect("enough moments");
            assert!((gain.db - db).abs() < 0.03, "{gain:?} for {db}");
            assert!((0.1..0.25).contains(&gain.half_db), "{gain:?}");
            assert_eq!(gain.rests, None);
        }
    }

    /// The same with one moment in a thousand 5 to 15 dB over it, as where the streams differ for a moment: too few
    /// for a crowd of their own.
    #[test]
    fn strays_over_a_crowd_are_none() {
        let mut random = Pcg64::seed_from_u64(4);
        let ratios: Vec<f64> = (0..20_000)
            .map(|k| {
                let off = match k % 1_000 {
                    0 => random.random_range(5.0..15.0),
                    n if n % 10 < 3 => 0.0,
                    _ => -random.random_range(1.0..7.0),
                };
                4.3 + random.random_range(-0.1..0.1) + off
            })
            .collect();
        let gain = found(ratios).expect("enough moments");
        assert!((gain.db - 4.3).abs() < 0.03, "{gain:?}");
        // No moment tells where the crowd ends: its edge is good to its width.
        assert!((0.1..0.4).contains(&gain.half_db), "{gain:?}");
    }

    /// Four still moments of those that lie within two bins are a rest where they are a quarter of them: what
    /// passes through the lower of the bins counts as much as what passes through the upper.
    #[test]
    fn what_passes_through_a_rest_counts_against_it() {
        for (passes, rests) in [(0, true), (11, true), (12, false), (100, false)] {
            let mut finder = GainFinder::new();
            (0..5).for_each(|_| finder.add(4.325));
            for _ in 0..passes {
                finder.add(4.275);
                finder.add(0.0);
            }
            assert_eq!(
                finder.at_rest(t::GAIN_OVER_REST, t::GAIN_REST_MOMENTS).is_some(),
                rests,
                "{passes}"
            );
        }
    }

    /// The ratio in the middle of a bin, dB.
    fn middle(bin: usize) -> f64 {
        (bin as f64 + 0.5) * STEP_DB - MOST_DB
    }

    /// By hand, in bins: a crowd is four of them, its gain is their mean, and it stands out where it has half as many
    /// moments again as the crowd 0.8 dB under it.
    #[test]
    fn a_crowd_is_four_bins() {
        for (under, stands_out) in [(60, true), (70, false)] {
            let mut finder = GainFinder::new();
            for (bins, count) in [(1297..=1300, 100), (1295..=1296, 50), (1281..=1284, under)] {
                for bin in bins {
                    (0..count).for_each(|_| finder.add(middle(bin)));
                }
            }
            let (gain, out) = finder.crowded();
            assert_eq!((finder.crowd(1300), out), (400, stands_out), "{under}");
            assert!((gain.db - (1299.0 * STEP_DB - MOST_DB)).abs() < 1e-9, "{gain:?}");
        }
    }

    /// By hand: four moments reach the fourth of the highest.
    #[test]
    fn the_tip_is_the_fourth_of_the_highest() {
        let mut finder = GainFinder::new();
        [1300, 1296, 1290, 1280, 1270].into_iter().for_each(|bin| finder.add(middle(bin)));
        assert!((finder.tip_db() - middle(1280)).abs() < 1e-9, "{}", finder.tip_db());
    }
}
