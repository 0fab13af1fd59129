//! From reduction to state and cost.

use super::model::Estimate;
use super::reading::Reading;
use crate::thresholds as t;
use crate::{Ceiling, CeilingKind, Cost, Need, State, Thresholds};

/// Judges one reading after the other. What it said last makes it slow to change its mind: near a
/// limit the state would flicker.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Verdict {
    limited: bool,
    /// Whether it said that at least so much is gone.
    at_least: bool,
    /// Whether it said that there is no ceiling.
    free: bool,
    clipped: bool,
    state: State,
}

impl Verdict {
    pub(super) fn judge(&mut self, reading: &Reading, limits: &Thresholds) -> Ceiling {
        let estimate = &reading.estimate;
        let stays = |on: bool| if on { t::ODDS_STAY } else { 0.0 };
        // Of hits that the fit has seen nothing like, the odds say nothing.
        let strange = estimate.unlike > t::UNLIKE_MOST;
        // Hits that are copies end at one height with and without a limiter.
        self.limited =
            !reading.copies && !strange && estimate.odds >= t::LIMITED_ODDS - stays(self.limited);
        self.free = !self.limited && !strange && estimate.odds < t::UNTOLD_ODDS + stays(self.free);
        // Peaks that low over the loudness tell how deep a limiter is driven, and not whether there is
        // one: a saturated guitar alone has such peaks, too.
        self.at_least = self.limited && estimate.is_deep(self.at_least);
        let limited = self.limited;
        let share = if self.clipped { t::CLIPPED_STAY_SHARE } else { t::CLIPPED_SHARE };
        self.clipped = reading.flat as f64 > share * reading.at_top as f64;
        // Between the two the hits do not tell: much may be gone, and nothing as well.
        // So do odds that say free where the estimate would cost what makes a leak.
        let little = cost(estimate, (0.0, 0.0), CeilingKind::None).db < limits.watch_db;
        let told = limited || (self.free && little);
        let need = match (told, strange) {
            (true, _) => Need::Nothing,
            (false, true) => Need::Alike,
            (false, false) => Need::Evidence,
        };
        let kind = match (limited, told) {
            (false, false) => None,
            (false, true) => Some(CeilingKind::None),
            (true, _) if self.clipped => Some(CeilingKind::Clipper),
            (true, _) => Some(CeilingKind::Limiter),
        };
        let range = estimate.range(self.at_least);
        let cost = kind.map(|kind| cost(estimate, range, kind));
        self.state = match cost {
            None => State::Unknown,
            Some(_) if !limited => State::Clear,
            Some(cost) => self.state_of(&cost, estimate, limits),
        };
        Ceiling {
            state: self.state,
            need,
            cost,
            implied_reduction_db: Some(estimate.median[1]),
            implied_reduction_p90_db: Some(estimate.p90[1]),
            implied_reduction_max_db: Some(estimate.most),
            implied_reduction_range_db: Some(range),
            at_least: self.at_least,
            unlike: Some(estimate.unlike),
            ceiling_dbtp: limited.then_some(reading.ceiling_dbtp),
            hits_at_ceiling: Some(if limited { reading.at_ceiling } else { 0 }),
            kind,
            measured: false,
        }
    }

    fn state_of(&self, cost: &Cost, estimate: &Estimate, limits: &Thresholds) -> State {
        let hold = |on: bool| if on { t::STATE_HOLD_DB } else { 0.0 };
        let leaking = limits.leaking_db - hold(self.state == State::Leaking);
        let seen = self.state.loses();
        let watch = limits.watch_db - hold(seen);
        if cost.high_db < watch {
            State::Clear
        } else if t::reaches(cost.db, leaking) {
            State::Leaking
        } else if t::reaches(cost.db, watch)
            || estimate.p90[1] >= t::CATCHES_LOUDEST_DB - hold(seen)
        {
            State::Watch
        } else {
            State::Clear
        }
    }
}

/// What the reduction costs in hit contrast.
fn cost(estimate: &Estimate, range: (f64, f64), kind: CeilingKind) -> Cost {
    let share = match kind {
        CeilingKind::Clipper => t::CLIPPER_COST_SHARE,
        CeilingKind::Limiter | CeilingKind::None => t::LIMITER_COST_SHARE,
    };
    let mean = estimate.mean();
    // The range of the median goes over to the mean, and the share has its own.
    let low = (mean + range.0 - estimate.median[1]).max(0.0);
    let high = mean + range.1 - estimate.median[1];
    Cost {
        db: mean * share,
        low_db: low * share * t::COST_SHARE_RANGE.0,
        high_db: high * share * t::COST_SHARE_RANGE.1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ceiling::evidence::Window;
    use crate::ceiling::trace::TRACE;

    /// A reading of odds, and of a reduction that is the same at all hits, with a range of 1 dB either way.
    fn reading(odds: f64, db: f64) -> Reading {
        let median = [(db - 1.0).max(0.0), db, db + 1.0];
        let estimate =
            Estimate { median, p90: [db; 3], most: db, odds, crest: 20.0, ..Estimate::default() };
        let hits = [[0.0; TRACE]];
        let window = Window { ring: &hits, first: 0, count: 1 };
        Reading {
            at_ceiling: 9,
            at_top: 100,
            ceiling_dbtp: -1.0,
            ..Reading::new(estimate, window, 1)
        }
    }

    fn first(reading: &Reading) -> Ceiling {
        Verdict::default().judge(reading, &Thresholds::default())
    }

    /// Of reductions that are the same at all hits the mean is that one. A limiter costs 0.6 of it, a clipper 0.3,
    /// each from half to 1.4 times as much, and the range of the reduction goes over to it.
    #[test]
    fn the_cost_is_a_share_of_the_reduction() {
        for (flat, kind, share) in
            [(15, CeilingKind::Limiter, 0.6), (16, CeilingKind::Clipper, 0.3)]
        {
            let said = first(&Reading { flat, ..reading(3.0, 4.0) });
            assert_eq!((said.kind, said.need), (Some(kind), Need::Nothing));
            let cost = said.cost.expect("known");
            for (got, want) in [
                (cost.db, 4.0 * share),
                (cost.low_db, 3.0 * share * 0.5),
                (cost.high_db, 5.0 * share * 1.4),
            ] {
                assert!((got - want).abs() < 1e-9, "{kind:?}: {cost:?}");
            }
            assert_eq!(said.implied_reduction_range_db, Some((3.0, 5.0)));
            assert_eq!((said.ceiling_dbtp, said.hits_at_ceiling), (Some(-1.0), Some(9)));
            assert_eq!(
                (said.implied_reduction_db, said.implied_reduction_p90_db),
                (Some(4.0), Some(4.0))
            );
            assert_eq!((said.implied_reduction_max_db, said.unlike), (Some(4.0), Some(0.0)));
        }
        // A clipper stays one until a tenth of the tops is flat.
        let mut verdict = Verdict::default();
        let limits = Thresholds::default();
        for (flat, kind) in
            [(16, CeilingKind::Clipper), (11, CeilingKind::Clipper), (10, CeilingKind::Limiter)]
        {
            let said = verdict.judge(&Reading { flat, ..reading(3.0, 4.0) }, &limits);
            assert_eq!(said.kind, Some(kind), "{flat} of 100");
        }
    }

    /// Odds from 0.75 on say limited, under -1 free; between the two, and of copies or hits like none before,
    /// nothing is said.
    #[test]
    fn what_the_odds_leave_open_stays_unknown() {
        let state = |odds: f64| {
            let said = first(&reading(odds, 3.0));
            (said.state, said.need, said.kind.is_some())
        };
        assert_eq!(state(0.75), (State::Watch, Need::Nothing, true));
        assert_eq!(state(0.74), (State::Unknown, Need::Evidence, false));
        let free = |odds: f64, db: f64| {
            let said = first(&reading(odds, db));
            (said.state, said.kind, said.ceiling_dbtp, said.hits_at_ceiling)
        };
        let clear = (State::Clear, Some(CeilingKind::None), None, Some(0));
        assert_eq!(free(-1.01, 0.1), clear);
        assert_eq!(free(-0.99, 0.1).0, State::Unknown);
        // 1 dB of cost is 1.67 of reduction: odds that say free do not go with it.
        assert_eq!(free(-3.0, 1.6), clear);
        assert_eq!(free(-3.0, 1.7).0, State::Unknown);
        let mut strange = reading(3.0, 3.0);
        for (unlike, need) in [(3.0, Need::Nothing), (3.01, Need::Alike)] {
            strange.estimate.unlike = unlike;
            assert_eq!(first(&strange).need, need);
        }
        strange.estimate.odds = -3.0;
        assert_eq!(first(&strange).need, Need::Alike);
        let copies = first(&Reading { copies: true, ..reading(3.0, 3.0) });
        assert_eq!((copies.state, copies.need), (State::Unknown, Need::Evidence));
    }

    /// Once said, limited and free stay for 1 of the odds more, and a state for 0.2 dB.
    #[test]
    fn it_is_slow_to_change_its_mind() {
        let limits = Thresholds::default();
        let states = |readings: &[(f64, f64)]| -> Vec<State> {
            let mut verdict = Verdict::default();
            readings
                .iter()
                .map(|&(odds, db)| verdict.judge(&reading(odds, db), &limits).state)
                .collect()
        };
        use State::{Clear, Leaking, Unknown, Watch};
        assert_eq!(states(&[(0.8, 3.0), (-0.2, 3.0), (-0.3, 3.0)]), [Watch, Watch, Unknown]);
        assert_eq!(states(&[(-1.1, 0.0), (-0.1, 0.0), (0.1, 0.0)]), [Clear, Clear, Unknown]);
        // 0.6 of the reduction costs: 2 dB leak, 1.8 still do, less is on watch.
        assert_eq!(states(&[(3.0, 3.35), (3.0, 3.05), (3.0, 2.9)]), [Leaking, Leaking, Watch]);
        assert_eq!(states(&[(3.0, 3.05)]), [Watch]);
        // Under 1 dB of cost it is on watch while a tenth of the hits lose 2 dB, or 1.8.
        let mut verdict = Verdict::default();
        let mut loudest = |p90: f64| {
            let mut low = reading(3.0, 0.7);
            low.estimate.p90 = [p90; 3];
            low.estimate.most = p90;
            verdict.judge(&low, &limits).state
        };
        assert_eq!(
            (loudest(1.9), loudest(2.0), loudest(1.85), loudest(1.75)),
            (Clear, Watch, Watch, Clear)
        );
    }

    /// Half of the hits lose nothing, a tenth 2.5 dB: 0.75 dB in the mean. Where that costs less than the limit at
    /// the most, it is clear, however much the loudest lose; on watch it stays for 0.2 dB.
    #[test]
    fn what_costs_too_little_at_the_most_is_clear() {
        let mut verdict = Verdict::default();
        let mut state = |high_db: f64| {
            let mut few = reading(3.0, 0.0);
            (few.estimate.median, few.estimate.p90, few.estimate.most) =
                ([0.0, 0.0, high_db], [2.5; 3], 2.5);
            let said = verdict.judge(&few, &Thresholds::default());
            let want = (0.75 + high_db) * 0.6 * 1.4;
            assert!((said.cost.expect("known").high_db - want).abs() < 1e-9, "{said:?}");
            said.state
        };
        let states = [0.4, 0.45, 0.4, 0.2].map(&mut state);
        assert_eq!(states, [State::Clear, State::Watch, State::Watch, State::Clear]);
    }

    /// Peaks that lie 10 dB over the loudness, 2 dB of reduction or more: at least the low end is gone, and the range
    /// goes to the deepest that the fit saw.
    #[test]
    fn deep_ones_are_at_least() {
        let deep = |crest: f64, odds: f64, db: f64| {
            let mut reading = reading(odds, db);
            reading.estimate.crest = crest;
            let said = first(&reading);
            (said.at_least, said.implied_reduction_range_db.expect("known").1)
        };
        assert_eq!(deep(10.0, 3.0, 2.0), (true, t::DEEPEST_SEEN_DB));
        assert_eq!(deep(10.1, 3.0, 2.0), (false, 3.0));
        assert!(!deep(10.0, 3.0, 1.9).0);
        assert!(!deep(10.0, 0.0, 4.0).0);
    }
}
